"""Decide over stored forecasts again, with the configuration as it is now."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from frostalert.alarms.policy import decide
from frostalert.model.assessment import Assessment
from frostalert.model.forecast import ForecastRun
from frostalert.model.notice import NightDecision, NightHistory
from frostalert.model.site import Holding
from frostalert.risk.assess import assess
from frostalert.risk.blind import cannot_judge_anything
from frostalert.risk.remarks import is_for_site
from frostalert.risk.sources import choose_runs

_PAST = timedelta(hours=36)
_STEP = timedelta(hours=1)
_NEXT_LOOK_AT_LEAST = timedelta(minutes=5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Replayed:
    """One thing that would have been said, and when."""

    moment_utc: datetime
    item: NightDecision


def replay(
    holding: Holding,
    runs: Sequence[ForecastRun],
    start_utc: datetime,
    end_utc: datetime,
    *,
    on_progress: Callable[[float], None] = lambda _: None,
) -> list[Replayed]:
    """Return what would have been said, as if the service had run all the time.

    Nobody answers, so that a warning is passed on to everybody.

    Parameters
    ----------
    holding : Holding
        Site, blocks, people and rules as they are now. Stages count by their age at
        the moment that is replayed.
    runs : sequence of ForecastRun
        Stored runs, in any order.
    start_utc, end_utc : datetime
        From when to when.
    on_progress : callable
        Told how far it has come, 0 to 1.

    Returns
    -------
    list of Replayed
        In the order of time.
    """
    by_time = sorted(runs, key=lambda run: run.fetched_utc)
    histories: dict[object, NightHistory] = {}
    said: list[Replayed] = []
    # Before the first stored run it is not known what there was.
    now = max([start_utc, *(run.fetched_utc for run in by_time[:1])])
    while now < end_utc:
        on_progress((now - start_utc) / (end_utc - start_utc))
        known = [
            run
            for run in by_time
            if now - _PAST <= run.fetched_utc <= now and is_for_site(holding.site, run)
        ]
        upcoming = [run.fetched_utc for run in by_time if run.fetched_utc > now]
        following = min([*upcoming[:1], now + _STEP])
        decision = decide(
            {h.night: h for h in histories.values()},
            now,
            _assessment(holding, known, now),
            holding.rules,
            last_turn=max(person.turn for person in holding.people),
        )
        for item in decision.nights:
            histories[item.night] = item.remember
            if item.say is not None:
                said.append(Replayed(moment_utc=now, item=item))
        look = max(decision.next_look_utc, now + _NEXT_LOOK_AT_LEAST)
        now = min(following, look)
    on_progress(1.0)
    return said


def _assessment(
    holding: Holding, known: list[ForecastRun], now: datetime
) -> Assessment:
    """Return what would have been found; without a forecast nothing can be judged."""
    if not known:
        return cannot_judge_anything(holding, now, "no forecast was stored")
    known.sort(key=lambda run: run.updated_utc, reverse=True)
    run, *others = choose_runs(known, holding.sources, now)
    return assess(holding, run, now, others=tuple(others))
