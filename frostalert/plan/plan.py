"""The plan of one night: from the assessment, and what is there, to what to do."""

import math
from collections.abc import Callable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from typing import assert_never

from frostalert.agronomy.methods import MEASURES
from frostalert.model.assessment import NightAssessment, NightKind
from frostalert.model.forecast import HOUR
from frostalert.model.method import PUT_OUT, Agent, RefusalReason
from frostalert.model.nights import Nights
from frostalert.model.plan import (
    REFUSED,
    Option,
    Plan,
    TankShare,
    Task,
    TaskKind,
    Verdict,
    WaterFacts,
)
from frostalert.model.progress import UNKNOWN_PROGRESS, Progress
from frostalert.model.site import Farm
from frostalert.model.start import StartKey
from frostalert.plan.allocation import Bundle, Limits, allocate, time_share_s
from frostalert.plan.block_case import BlockAtRisk, block_cases, cases_by_reading
from frostalert.plan.budgets import budgets_of
from frostalert.plan.bundles import bundles_of
from frostalert.plan.daylight import daylight_of
from frostalert.plan.endings import ended_after_frost
from frostalert.plan.hastened import hastened, running_by_reading
from frostalert.plan.household import household_of
from frostalert.plan.kept_ready import kept_ready
from frostalert.plan.left_out import left_out, passed_over
from frostalert.plan.listed import listed_starts
from frostalert.plan.offer import limits_of, options_on
from frostalert.plan.timeline import Timeline, make_timeline, with_kept_ready
from frostalert.plan.two_nights import TankPlan, next_at_risk, share_tank
from frostalert.plan.where import where_heat_goes

_SEASON = timedelta(days=300)
_STILL_NIGHTS = (NightKind.RADIATION, NightKind.MIXED)


def make_plan(
    nights: Nights,
    night: NightAssessment,
    *,
    farm: Farm | None = None,
    progress: Progress = UNKNOWN_PROGRESS,
) -> Plan:
    """Return what to do on a night with what is there.

    Parameters
    ----------
    nights : Nights
        What was judged.
    night : NightAssessment
        The night, one of them; the one after it counts for the reserve of water.
    farm : Farm, optional
        Blocks, equipment, supplies and people, with what equipment gained here; as
        they were judged by default.
    progress : Progress
        What people were called to before; where that is not known, work by day is taken
        as done after sunset.

    Returns
    -------
    Plan
        What can hold is chosen by expected crop saved; what cannot is refused with its
        numbers; every block at risk has its reason.
    """
    farm, now_utc = farm or nights.farm, nights.assessment.issued_utc
    cases = block_cases(nights, farm, night, progress)
    by_reading = options_on(farm, cases_by_reading(nights, farm, night, progress))
    options = running_by_reading(options_on(farm, cases), by_reading)
    options = [replace(i, may_run=_may_run(i, progress, now_utc)) for i in options]
    choice = _choose(options, by_reading, cases, farm, nights, night, progress)
    chosen, timeline = choice.chosen, choice.timeline
    options = _marked_ready(choice.options, timeline.tasks)
    taken = {item.pair for item in chosen}
    listed = [item for item in options if item.verdict is Verdict.NOT_ESTIMATED]
    listed = hastened(listed, by_reading, choice.limits, now_utc)
    starts = listed_starts(listed, farm.rules, progress, now_utc)
    done = [*chosen, *listed]
    heated = {item.block for item in chosen if item.method.burns}
    warmed = [case for case in cases if case.block.name in heated]
    return Plan(
        night=night.night,
        made_utc=now_utc,
        kind=night.kind,
        chosen=tuple(chosen),
        listed=tuple(listed),
        refused=_refused_of(options, taken),
        passed_over=passed_over(options, chosen, choice.bundles, choice.limits),
        beyond=_beyond(cases, progress),
        begun=tuple(choice.begun),
        left_out=left_out(
            night,
            farm,
            options,
            chosen,
            choice.limits,
            is_kept_back=choice.tank is not None and choice.tank.is_kept_back,
        ),
        budgets=budgets_of(
            chosen,
            farm,
            next_is_at_risk=next_at_risk(nights, night) is not None,
            begun_before=progress.begun_before,
        ),
        tank=choice.tank,
        first_harm_utc=min((case.start_utc for case in cases), default=None),
        household=household_of(night, cases, done, now_utc, progress),
        tasks=_marked_before_starts(
            _marked_if_called(
                ended_after_frost(
                    [*timeline.tasks, *starts], [*chosen, *choice.begun], night
                ),
                night,
                progress,
            )
        ),
        dropped=timeline.dropped,
        taken_as_done=timeline.taken_as_done,
        where=where_heat_goes(farm.site, warmed) if warmed else None,
        is_by_value=bool(cases)
        and all(case.block.crop_value is not None for case in cases),
        hands=_hands(farm),
        are_hands_assumed=farm.supplies.hands is None,
        unready=_unready(farm, options, now_utc),
        measures_ahead=_measures(night, now_utc),
        stop_not_before_utc=night.stop_not_before_utc,
        snowed_blossom=night.snowed_blossom,
        sunset_utc=night.sunset_utc,
        sunrise_utc=night.sunrise_utc,
    )


def _refused_of(
    options: Sequence[Option], taken: AbstractSet[StartKey]
) -> tuple[Option, ...]:
    """Return what is not to be used in its block, with any count of its pieces.

    Water that holds over a cover alone is refused by itself, and done all the same.
    """
    possible = taken | {item.pair for item in options if item.can_be_chosen}
    return tuple(
        item
        for item in options
        if item.verdict in REFUSED and item.pair not in possible
    )


def _marked_ready(options: Sequence[Option], tasks: Sequence[Task]) -> list[Option]:
    """Return the options, those marked that the tasks set up to be judged again."""
    kept = {
        (task.equipment, block)
        for task in tasks
        if task.is_kept_ready
        for block in task.blocks
    }
    return [replace(item, is_kept_ready=item.pair in kept) for item in options]


def _marked_if_called(
    tasks: Sequence[Task], night: NightAssessment, progress: Progress
) -> tuple[Task, ...]:
    """Return the tasks, those starts marked that nobody is called to so far.

    By the night that people are warned of: a reading calls them too.
    """
    worth = {record.block for record in night.blocks if record.calls_hands}
    called = {key for key, start in progress.starts.items() if start.called_utc}
    return tuple(
        replace(
            task,
            is_if_called=task.kind is TaskKind.START
            and task.pair not in called
            and worth.isdisjoint(task.blocks),
        )
        for task in tasks
    )


def _marked_before_starts(tasks: Sequence[Task]) -> tuple[Task, ...]:
    """Return the tasks, those marked after which something is still to be started."""
    starts = (task.start_utc for task in tasks if task.kind is TaskKind.START)
    last = max(starts, default=None)
    return tuple(
        replace(task, is_before_starts=last is not None and task.start_utc < last)
        for task in tasks
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Choice:
    """What is done with what is there, and by when."""

    options: list[Option]
    bundles: tuple[Bundle, ...]
    chosen: list[Option]
    begun: list[Option]
    limits: Limits
    timeline: Timeline
    tank: TankShare | None


def _choose(
    options: list[Option],
    by_reading: Sequence[Option],
    cases: Sequence[BlockAtRisk],
    farm: Farm,
    nights: Nights,
    night: NightAssessment,
    progress: Progress,
) -> _Choice:
    """Return the choice; what could not stand in time is refused, and others chosen."""
    before = 0
    hands, now_utc = _hands(farm), nights.assessment.issued_utc
    share: TankPlan | None = None
    while True:
        bundles = bundles_of(options, cases)
        offered = list(dict.fromkeys(i for item in bundles for i in item.options))
        daylight = daylight_of(night, offered, farm, now_utc, progress)
        limits = limits_of(farm, offered, hands, daylight)
        if share is None:
            share = share_tank(nights, night, farm, bundles, limits, progress)
        limits = share.limiting(limits)
        taken = sorted(
            allocate(bundles, limits, time_share_s(before)),
            key=lambda item: -item.worth,
        )
        chosen = [option for item in taken for option in item.done]
        begun = _may_go_on(options, chosen)
        lay = partial(
            make_timeline,
            begun=begun,
            night=night,
            farm=farm,
            daylight=daylight,
            hands=hands,
            air_at=_coldest_air(cases),
        )
        timeline = lay(chosen)
        late = _late(cases, chosen, timeline.tasks)
        if not late:
            chosen = hastened(chosen, by_reading, limits, now_utc)
            timeline = lay(chosen) if by_reading else timeline
            ready = kept_ready(options, chosen, cases, daylight)
            return _Choice(
                options=options,
                bundles=bundles,
                chosen=chosen,
                begun=begun,
                limits=limits,
                timeline=with_kept_ready(timeline, ready, farm, daylight, hands),
                tank=share.after(chosen),
            )
        # What cannot stand in time is out; the hands may do for something else.
        options = _without(options, late)
        before += 1


def _late(
    cases: Sequence[BlockAtRisk], chosen: Sequence[Option], tasks: Sequence[Task]
) -> dict[Option, RefusalReason]:
    """Return what of a choice could not stand in time, each with its ground."""
    over, late = _over_before(chosen, tasks), _set_up_too_late(cases, chosen, tasks)
    return {
        **dict.fromkeys(over, RefusalReason.OVER_BEFORE),
        **dict.fromkeys(late, RefusalReason.TOO_LATE),
    }


def _without(
    options: list[Option], late: Mapping[Option, RefusalReason]
) -> list[Option]:
    """Return the options, those that are late refused.

    Of several counts of pieces that one alone: beside another it has changed.
    """
    out = {(item.pair, item.units): ground for item, ground in late.items()}
    return [
        _refused(i, out[i.pair, i.units]) if (i.pair, i.units) in out else i
        for i in options
    ]


def _hands(farm: Farm) -> int:
    """Return how many people work; one where nobody has said. [1]"""
    return farm.supplies.hands or 1


def _may_run(item: Option, progress: Progress, now_utc: datetime) -> bool:
    """Return whether water or heat may run that the plan tells nobody to start.

    Whoever was called to it may have begun without an answer; and water that is not
    offered is begun by people who decide for themselves. Heat that must be put out is
    not gone on with.
    """
    is_told = item.pair in progress.told_starts
    agent = item.method.agent
    match agent:
        case Agent.FLAME:
            return is_told and PUT_OUT.isdisjoint(item.grounds)
        case Agent.WATER:
            return _water_may_run(item, progress, now_utc, is_told=is_told)
        case Agent.NEITHER:
            return False
        case _:
            assert_never(agent)


def _water_may_run(
    item: Option, progress: Progress, now_utc: datetime, *, is_told: bool
) -> bool:
    """Return whether water may run."""
    if item.start_utc is None:
        return False
    may_be_begun = not progress.is_known or not item.can_be_chosen
    # The hour may have moved since the call: it ran by the hour that was told then.
    return is_told or (may_be_begun and item.start_utc <= now_utc)


def _may_go_on(options: Sequence[Option], chosen: Sequence[Option]) -> list[Option]:
    """Return what may run beside the choice: one for each equipment and block."""
    taken = {item.pair for item in chosen}
    found = {
        item.pair: item for item in options if item.may_run and item.pair not in taken
    }
    return list(found.values())


def _beyond(
    cases: Sequence[BlockAtRisk], progress: Progress
) -> tuple[tuple[str, str], ...]:
    """Return what was called for in blocks that are no longer at risk; it may run."""
    at_risk = {case.block.name for case in cases}
    return tuple(
        sorted(pair for pair in progress.told_starts if pair[1] not in at_risk)
    )


def _set_up_too_late(
    cases: Sequence[BlockAtRisk], chosen: Sequence[Option], tasks: Sequence[Task]
) -> list[Option]:
    """Return the water that would stand ready only when dry buds freeze under it."""
    ready = {t.equipment: t.deadline_utc for t in tasks if t.kind is TaskKind.SET_UP}
    of_block = {case.block.name: case for case in cases}
    late = []
    for item in chosen:
        if not isinstance(item.facts, WaterFacts) or item.is_running:
            continue
        stands, case = ready.get(item.equipment), of_block[item.block]
        latest = item.facts.latest_start_utc
        if stands is not None and case.is_too_late(stands, latest):
            late.append(item)
    return late


def _over_before(chosen: Sequence[Option], tasks: Sequence[Task]) -> list[Option]:
    """Return what could not be running before the cold that it is for is over."""
    running = {t.pair: t.deadline_utc for t in tasks if t.kind is TaskKind.START}
    return [
        item
        for item in chosen
        if item.end_utc is not None
        and item.pair in running
        and running[item.pair] >= item.end_utc
    ]


def _refused(item: Option, ground: RefusalReason) -> Option:
    """Return an option refused, since it cannot stand in time."""
    return replace(item, verdict=Verdict.NOT_TONIGHT, grounds=(ground,))


def _coldest_air(cases: Sequence[BlockAtRisk]) -> Callable[[datetime], float | None]:
    """Return what tells the forecast air of the coldest block at a moment. [degC]"""

    def air_at(moment: datetime) -> float | None:
        if not cases:
            return None
        hours = cases[0].hours
        place = round((moment - hours.first_utc) / HOUR)
        if not 0 <= place < hours.air_c.size:
            return None
        coldest = min(float(case.hours.air_c[place]) for case in cases)
        return coldest if math.isfinite(coldest) else None

    return air_at


def _unready(farm: Farm, options: list[Option], now_utc: datetime) -> tuple[str, ...]:
    """Return what was not tried this season."""
    readiness = farm.readiness
    has_water = any(item.method.is_water for item in options)
    asked = [
        ("thermometers", readiness.thermometers_checked),
        ("wake-up", readiness.wake_up_tried),
    ]
    if has_water:
        asked.insert(0, ("pump", readiness.pump_tried))
    today = now_utc.date()
    return tuple(name for name, day in asked if day is None or today - day > _SEASON)


def _measures(night: NightAssessment, now_utc: datetime) -> tuple[str, ...]:
    """Return what can still be done days ahead."""
    if night.kind not in _STILL_NIGHTS or night.sunset_utc is None:
        return ()
    ahead = night.sunset_utc - now_utc
    return tuple(
        f"{measure.text} ({measure.source})"
        for measure in MEASURES
        if ahead >= timedelta(days=measure.days_ahead)
    )
