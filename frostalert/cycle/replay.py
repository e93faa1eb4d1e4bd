"""Decide over stored forecasts again, with the configuration as it is now."""

from collections.abc import Callable, Iterator
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from frostalert.cycle.deciding import Decided, decide_nights
from frostalert.cycle.judging import facts_known_at, judge
from frostalert.model.nights import Facts
from frostalert.model.notice import NightDecision, NightHistory
from frostalert.model.site import Farm
from frostalert.physics.nights import night_of

_STEP = timedelta(hours=1)
_NEXT_LOOK_AT_LEAST = timedelta(minutes=5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Replayed:
    """One thing that would have been said, and when."""

    moment_utc: datetime
    item: NightDecision


def replay(
    farm: Farm,
    facts: Facts,
    start_utc: datetime,
    end_utc: datetime,
    *,
    on_progress: Callable[[float], None] = lambda _: None,
) -> list[Replayed]:
    """Return what would have been said, as if the service had run all the time.

    Nobody answers, so that a warning is passed on to everybody.
    """
    said: list[Replayed] = []
    for now, decided in _decisions(farm, facts, start_utc, end_utc):
        on_progress((now - start_utc) / (end_utc - start_utc))
        said += [
            Replayed(moment_utc=now, item=item) for item in decided.decision.announced
        ]
    on_progress(1.0)
    return said


def everybody_of(
    farm: Farm,
) -> Callable[[AbstractSet[date]], frozenset[tuple[date, str]]]:
    """Return who was addressed: whoever is on the list now counts as listed always."""
    addresses = [
        person.address(channel) for person in farm.people for channel in person.channels
    ]
    return lambda nights: frozenset(
        (night, address) for night in nights for address in addresses
    )


def _decisions(
    farm: Farm, facts: Facts, start_utc: datetime, end_utc: datetime
) -> Iterator[tuple[datetime, Decided]]:
    """Give each decision that the service would have made, in the order of time."""
    histories: dict[date, NightHistory] = {}
    zone = ZoneInfo(farm.site.time_zone)
    fetched = sorted(run.fetched_utc for run in facts.runs)

    everybody = everybody_of(farm)
    # Before the first stored run it is not known what there was.
    now = max([start_utc, *fetched[:1]])
    while now < end_utc:
        known = facts_known_at(facts, now, night_of(now, zone))
        decided = decide_nights(
            judge(farm, known, now), farm, dict(histories), everybody
        )
        histories |= {item.night: item.remember for item in decided.decision.nights}
        yield now, decided
        upcoming = [moment for moment in fetched if moment > now]
        look = max(decided.decision.next_look_utc, now + _NEXT_LOOK_AT_LEAST)
        now = min([look, now + _STEP, *upcoming[:1]])
