"""When a block's night becomes an outlook, a call to prepare, or a call to act."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from frostalert.model.assessment import Tier
from frostalert.model.site import Rules
from frostalert.risk.hands import Hands
from frostalert.risk.timing import act_at_utc, send_by_utc

NEAR = timedelta(days=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Risk:
    """What a block's tier is told by.

    Attributes
    ----------
    probability : float
        Chance that the deciding bud low to come reaches the alarm temperature, 0 to 1.
    night_probability : float
        The same with the hours gone by since it began to cool, 0 to 1: whoever runs
        water is told of the night until its cold is over.
    hands : Hands
        Whether that is enough to call people out, and why.
    low_utc, running_by_utc, danger_end_utc : datetime
        Hour of the low; when protection must be running; when the cold is over.
    sunset_utc : datetime or None
        Sunset of the night.
    """

    probability: float
    night_probability: float
    hands: Hands
    low_utc: datetime
    running_by_utc: datetime
    danger_end_utc: datetime
    sunset_utc: datetime | None


def block_tier(risk: Risk, now_utc: datetime, rules: Rules) -> tuple[Tier, str]:
    """Return a block's tier and the reason.

    References
    ----------
    .. [1] The limits are common practice, no source.
    """
    chance = f"{100 * risk.probability:.0f} % chance"
    if now_utc >= risk.danger_end_utc:
        return Tier.NONE, "the cold hours of this night are over"
    is_near = risk.low_utc - now_utc <= NEAR
    limit = rules.near_probability if is_near else rules.far_probability
    if risk.night_probability < limit and not risk.hands.are_called:
        return Tier.NONE, f"{chance} of reaching the alarm temperature, under the limit"
    if risk.probability < limit <= risk.night_probability:
        chance = f"{chance} in the hours to come; the cold of this night is not over"
    return _raised(risk, now_utc, rules, chance)


def _raised(
    risk: Risk, now_utc: datetime, rules: Rules, chance: str
) -> tuple[Tier, str]:
    """Return how far the time of a night at risk has come."""
    if risk.hands.is_due:
        return Tier.ACT, risk.hands.reason
    if now_utc >= act_at_utc(risk.running_by_utc, rules):
        if risk.hands.are_called:
            # What can be started, and what must not, only the plan knows.
            return Tier.ACT, f"{chance}, and the cold is at hand"
        return Tier.PREPARE, risk.hands.reason
    if now_utc >= send_by_utc(risk.running_by_utc, risk.sunset_utc, rules):
        return Tier.PREPARE, f"{chance}, and it is time to get ready"
    return Tier.OUTLOOK, f"{chance} of reaching the alarm temperature"
