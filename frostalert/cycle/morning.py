"""Whether a night that called for hands is over, and what came of it."""

from datetime import date, datetime, time, timedelta
from typing import Protocol
from zoneinfo import ZoneInfo

from frostalert.cycle.ledger import LedgerBook, season_ledger
from frostalert.cycle.pulse import PulseBook, recent_alarms
from frostalert.model.assessment import Tier
from frostalert.model.ledger import LedgerNight, Outcome
from frostalert.model.site import Farm

FROM, UNTIL = time(9), time(15)
"""Local hours of the message: after the cold, in time to count buds that afternoon.
Common practice, no source."""


class MorningBook(LedgerBook, PulseBook, Protocol):
    """What is kept of past nights, and of what people were told."""


def morning_of(farm: Farm, now_utc: datetime) -> date | None:
    """Return the night whose morning it is; None at other hours."""
    local = now_utc.astimezone(ZoneInfo(farm.site.time_zone))
    if not FROM <= local.time() < UNTIL:
        return None
    return local.date() - timedelta(days=1)


def came_of(
    farm: Farm, book: MorningBook, night: date, now_utc: datetime
) -> LedgerNight | None:
    """Return what came of a night that called for hands.

    None while its warning stands, and for a night that called for none. A call that
    was withdrawn counts only if the cold came all the same.
    """
    told = [item for item in recent_alarms(book, now_utc) if item.night == night]
    if not told or not told[0].state.is_over:
        return None
    lines = season_ledger(farm, book, night, night)
    if not lines or lines[0].calls.highest.rank < Tier.PREPARE.rank:
        return None
    is_moot = lines[0].calls.is_withdrawn and lines[0].outcome is not Outcome.HIT
    return None if is_moot else lines[0]
