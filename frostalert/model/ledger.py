"""What became of one night: what was forecast, said, measured and lost."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from frostalert.model.assessment import NightKind, Tier


@dataclass(frozen=True, slots=True, kw_only=True)
class BudCount:
    """Buds that were cut in a block the morning after a night."""

    block: str
    night: date
    dead: int
    counted: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NightCalls:
    """What was sent about one night.

    Attributes
    ----------
    highest : Tier
        Highest tier that was said.
    first_call_utc : datetime or None
        When the first call for hands was taken by a server or a phone.
    is_withdrawn : bool
        Whether the last word was that the forecast no longer showed it.
    messages : int
        Messages that went out about it, of all kinds.
    answers : tuple of str
        Who answered, and what.
    """

    highest: Tier = Tier.NONE
    first_call_utc: datetime | None = None
    is_withdrawn: bool = False
    messages: int = 0
    answers: tuple[str, ...] = ()


class Outcome(StrEnum):
    """Whether a night's call and its cold went together."""

    HIT = "hit"
    MISS = "miss"
    FALSE_ALARM = "false alarm"
    QUIET = "quiet"
    NOT_MEASURED = "not measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerNight:
    """One line of a season's ledger.

    Attributes
    ----------
    worst : str
        Block that was nearest to harm by the evening's forecast.
    forecast_low_c, measured_low_c : float or None
        Low of the site's air by that forecast, and by the reference sensor. [degC]
    harm_from_c : float or None
        Low of the site's air at which the worst block's harm begins. [degC]
    probability, predicted_kill_pct : float or None
        For the worst block. [0..1, %]
    lead : timedelta or None
        From the first call for hands to the hour at which protection had to run.
    """

    night: date
    kind: NightKind | None
    worst: str
    forecast_low_c: float | None
    measured_low_c: float | None
    harm_from_c: float | None
    probability: float | None
    predicted_kill_pct: float | None
    lead: timedelta | None
    calls: NightCalls
    counts: tuple[BudCount, ...]
    outcome: Outcome
