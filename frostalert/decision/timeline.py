"""Tasks counted back from the danger: who does what by when, what no longer fits."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from frostalert.decision.methods import METHODS, WATER_KINDS, MethodKind
from frostalert.model.assessment import NightAssessment
from frostalert.model.equipment import Equipment
from frostalert.model.plan import Option, Task, TaskKind, WaterFacts
from frostalert.model.site import Holding, Rules

_TRY_WATER = timedelta(minutes=20)
_PLACE_THERMOMETERS = timedelta(minutes=15)
_READ = timedelta(minutes=10)
_READ_AFTER_SUNSET = timedelta(hours=2)
"""FAO, Frost Protection, vol. 1, ch. 5: two hours after sunset (from memory)."""
_LOOK_EVERY = timedelta(minutes=30)
_COVERS_OFF_AFTER_SUNRISE = timedelta(hours=2)
_COUNT_AFTER_SUNRISE = timedelta(hours=7)
# Durations without a source of their own are common practice, no source.


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """Tasks in the order of the clock, those that no longer fit, and those before dark.

    After sunset work by day is taken as done: what was called for in the afternoon
    stands ready, or it is too late to say so.
    """

    tasks: tuple[Task, ...]
    dropped: tuple[Task, ...] = ()
    taken_as_done: tuple[Task, ...] = ()


def ready_by_utc(
    night: NightAssessment,
    chosen: Sequence[Option],
    rules: Rules,
    now_utc: datetime,
) -> datetime:
    """Return when everything must stand ready: sunset, or before the first start.

    Parameters
    ----------
    night : NightAssessment
        The night.
    chosen : sequence of Option
        What is to be done.
    rules : Rules
        Holds the time that starting takes.
    now_utc : datetime
        The present moment.

    Returns
    -------
    datetime
        The first start where there is no sunset to come before it.

    References
    ----------
    .. [1] Common practice, no source.
    """
    starts = [
        item.start_utc - rules.set_up
        for item in chosen
        if item.start_utc is not None and not METHODS[item.method].is_before_dark
    ]
    first = min(starts, default=night.sunset_utc or night.end_utc)
    sunset = night.sunset_utc
    return first if sunset is None or sunset <= now_utc else min(sunset, first)


def make_timeline(
    chosen: Sequence[Option],
    night: NightAssessment,
    holding: Holding,
    now_utc: datetime,
    *,
    hands: int,
) -> Timeline:
    """Return the tasks that a choice brings with it.

    Parameters
    ----------
    chosen : sequence of Option
        What is to be done.
    night : NightAssessment
        The night.
    holding : Holding
        Equipment, crew and rules.
    now_utc : datetime
        The present moment.
    hands : int
        People who work. [1]

    Returns
    -------
    Timeline
        Work by day is laid from its deadline backwards, the most valuable first in
        time; where that would begin before now, the least valuable is dropped.

    References
    ----------
    .. [1] Backward list scheduling on identical workers; a textbook method.
    """
    if not chosen:
        return Timeline(tasks=())
    deadline = ready_by_utc(night, chosen, holding.rules, now_utc)
    by_day = _day_tasks(chosen, holding, deadline)
    crew = _crew(holding, hands)
    done: list[Task] = []
    if is_dark(night, now_utc):
        by_day, done = [], by_day
    placed, dropped = _lay_backwards(by_day, crew, now_utc)
    tasks = [*placed, *_night_tasks(chosen, night, holding, deadline)]
    tasks += _morning_tasks(chosen, night)
    ahead = [
        replace(task, start_utc=max(task.start_utc, now_utc))
        for task in tasks
        if task.deadline_utc > now_utc
    ]
    ahead.sort(key=lambda task: (task.start_utc, task.deadline_utc))
    return Timeline(
        tasks=tuple(ahead), dropped=tuple(dropped), taken_as_done=tuple(done)
    )


def is_dark(night: NightAssessment, now_utc: datetime) -> bool:
    """Return whether the time for work by daylight is over.

    Parameters
    ----------
    night : NightAssessment
        The night.
    now_utc : datetime
        The present moment.

    Returns
    -------
    bool
        True after sunset; never where the sun does not set.

    References
    ----------
    .. [1] Definition.
    """
    return night.sunset_utc is not None and now_utc >= night.sunset_utc


def _crew(holding: Holding, hands: int) -> tuple[str, ...]:
    """Return the workers' names, numbered where none are given."""
    names = holding.supplies.crew[:hands]
    more = (f"person {n + 1}" for n in range(len(names), hands))
    return (*names, *more)


def _by_equipment(
    chosen: Sequence[Option], holding: Holding
) -> list[tuple[Equipment, list[Option]]]:
    """Return each equipment in use with what it does."""
    return [
        (item, [option for option in chosen if option.equipment == item.name])
        for item in holding.equipment
        if any(option.equipment == item.name for option in chosen)
    ]


def _day_tasks(
    chosen: Sequence[Option], holding: Holding, deadline: datetime
) -> list[Task]:
    """Return the work that is done by daylight, not yet laid out in time."""
    tasks = []
    for item, options in _by_equipment(chosen, holding):
        worth = sum(option.worth for option in options)
        work = item.set_up
        if METHODS[item.method].is_before_dark and item.time_each is not None:
            work += item.time_each * sum(max(1, option.units) for option in options)
        if METHODS[item.method].kind in WATER_KINDS:
            work += _TRY_WATER
        tasks.append(
            Task(
                kind=TaskKind.SET_UP,
                start_utc=deadline,
                duration=work,
                deadline_utc=deadline,
                equipment=item.name,
                blocks=tuple(option.block for option in options),
                worth=worth,
                is_by_day=True,
                is_about_water=METHODS[item.method].kind in WATER_KINDS,
            )
        )
    least = min(task.worth for task in tasks)
    tasks.append(
        Task(
            kind=TaskKind.THERMOMETERS,
            start_utc=deadline,
            duration=_PLACE_THERMOMETERS,
            deadline_utc=deadline,
            worth=least / 2.0,
            is_by_day=True,
        )
    )
    return tasks


def _lay_backwards(
    tasks: list[Task], crew: tuple[str, ...], now_utc: datetime
) -> tuple[list[Task], list[Task]]:
    """Return the tasks laid before their deadline, and those that no longer fit."""
    left = sorted(tasks, key=lambda task: task.worth)
    dropped: list[Task] = []
    while left:
        placed = _placed(left, crew)
        if min(task.start_utc for task in placed) >= now_utc:
            return placed, dropped
        dropped.append(left.pop(0))
    return [], dropped


def _placed(tasks: list[Task], crew: tuple[str, ...]) -> list[Task]:
    """Return tasks with their hours and workers; the first given is done last."""
    free = dict.fromkeys(crew, max(task.deadline_utc for task in tasks))
    placed = []
    for task in tasks:
        who = max(crew, key=lambda name: free[name])
        end = min(free[who], task.deadline_utc)
        free[who] = end - task.duration
        placed.append(replace(task, start_utc=free[who], deadline_utc=end, who=(who,)))
    return placed


def _night_tasks(
    chosen: Sequence[Option],
    night: NightAssessment,
    holding: Holding,
    ready: datetime,
) -> list[Task]:
    """Return what is done after dark."""
    tasks = []
    if night.sunset_utc is not None:
        read_at = night.sunset_utc + _READ_AFTER_SUNSET
        if read_at > ready:
            tasks.append(_moment(TaskKind.READ, read_at, _READ))
    for item, options in _by_equipment(chosen, holding):
        if METHODS[item.method].is_before_dark:
            continue
        tasks += _starts(item, options, holding)
        tasks += _rounds(item, options)
    return tasks


def _starts(item: Equipment, options: list[Option], holding: Holding) -> list[Task]:
    """Return the starting of one equipment, block by block."""
    tasks = []
    for option in options:
        if option.start_utc is None:
            continue
        work = holding.rules.set_up
        if METHODS[item.method].kind is MethodKind.FIRE and item.time_each is not None:
            work = max(work, item.time_each * option.units / max(1, item.hands))
        tasks.append(
            Task(
                kind=TaskKind.START,
                start_utc=option.start_utc - work,
                duration=work,
                deadline_utc=option.start_utc,
                hands=max(1, item.hands),
                equipment=item.name,
                blocks=(option.block,),
                worth=option.worth,
            )
        )
    return tasks


def _rounds(item: Equipment, options: list[Option]) -> list[Task]:
    """Return what is done again and again while one equipment runs."""
    starts = [option.start_utc for option in options if option.start_utc is not None]
    ends = [option.end_utc for option in options if option.end_utc is not None]
    if not starts or not ends or not item.hands:
        return []
    rounds = [
        option.facts.longest_round
        for option in options
        if isinstance(option.facts, WaterFacts) and option.facts.longest_round
    ]
    is_by_hand = METHODS[item.method].kind is MethodKind.HAND_WATER
    every = min(rounds) if is_by_hand and rounds else _LOOK_EVERY
    return [
        Task(
            kind=TaskKind.ROUND if is_by_hand else TaskKind.LOOK,
            start_utc=min(starts),
            duration=max(ends) - min(starts),
            deadline_utc=max(ends),
            hands=item.hands,
            equipment=item.name,
            blocks=tuple(option.block for option in options),
            every=every,
            is_about_water=METHODS[item.method].kind in WATER_KINDS,
        )
    ]


def _morning_tasks(chosen: Sequence[Option], night: NightAssessment) -> list[Task]:
    """Return what ends the night."""
    kinds = {METHODS[option.method].kind for option in chosen}
    tasks = []
    stops = [option.end_utc for option in chosen if option.end_utc is not None]
    wet = kinds & WATER_KINDS
    if wet and stops:
        stop = night.stop_not_before_utc or max(stops)
        tasks.append(_moment(TaskKind.STOP, stop, timedelta(0)))
        tasks.append(_moment(TaskKind.DRAIN, stop, timedelta(minutes=20)))
    if night.sunrise_utc is None:
        return tasks
    if any(METHODS[option.method].is_before_dark for option in chosen):
        off = night.sunrise_utc + _COVERS_OFF_AFTER_SUNRISE
        tasks.append(_moment(TaskKind.COVERS_OFF, off, timedelta(minutes=30)))
    count = night.sunrise_utc + _COUNT_AFTER_SUNRISE
    tasks.append(_moment(TaskKind.COUNT, count, timedelta(minutes=30)))
    return tasks


def _moment(kind: TaskKind, start: datetime, duration: timedelta) -> Task:
    """Return a task of everybody's at a moment."""
    return Task(
        kind=kind, start_utc=start, duration=duration, deadline_utc=start + duration
    )
