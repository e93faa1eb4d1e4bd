"""Tasks counted back from the danger: who does what by when, what no longer fits."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from frostalert.model.assessment import NightAssessment
from frostalert.model.equipment import Equipment
from frostalert.model.plan import Option, Task, TaskKind, WaterFacts
from frostalert.model.site import Farm
from frostalert.plan.day_work import (
    THERMOMETERS,
    by_equipment,
    day_tasks,
    kept_tasks,
    late_tasks,
    lay_backwards,
)
from frostalert.plan.daylight import Daylight

_READ = timedelta(minutes=10)
_READ_AFTER_SUNSET = timedelta(hours=2)
"""FAO, Frost Protection, vol. 1, ch. 5: two hours after sunset (from memory)."""
_LOOK_EVERY = timedelta(minutes=30)
_PUTTING_OUT = timedelta(minutes=15)
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


def make_timeline(
    chosen: Sequence[Option],
    begun: Sequence[Option],
    night: NightAssessment,
    farm: Farm,
    daylight: Daylight,
    *,
    hands: int,
    air_at: Callable[[datetime], float | None],
) -> Timeline:
    """Return the tasks that a choice brings with it.

    Parameters
    ----------
    chosen : sequence of Option
        What is to be done.
    begun : sequence of Option
        Water and heat that are not chosen by now and may run since before.
    night : NightAssessment
        The night.
    farm : Farm
        Equipment, crew and rules.
    daylight : Daylight
        The time for work before dark.
    hands : int
        People who work. [1]
    air_at : callable
        Tells what air is forecast at a moment. [degC]

    Returns
    -------
    Timeline
        Work by day is laid from its deadline backwards, the most valuable first in
        time; where that would begin before people knew, the least valuable is dropped.
        What is started in the night may be set up late.

    References
    ----------
    .. [1] Backward list scheduling on identical workers; a textbook method.
    """
    if not chosen and not begun:
        return Timeline(tasks=())
    crew = _crew(farm, hands)
    placed, dropped, tasks = _set_ups(chosen, farm, daylight, crew, hands)
    now = daylight.now_utc
    # Nothing starts before it stands where it is to run.
    ready_utc = {
        task.equipment: max(task.deadline_utc, now)
        for task in tasks
        if task.kind is TaskKind.SET_UP and task.equipment is not None
    }

    def ready_at(name: str) -> datetime:
        return ready_utc.get(name, now)

    tasks += _night_tasks(chosen, begun, night, farm, ready_at, crew, air_at)
    tasks += _morning_tasks(chosen, begun, night)
    ahead = [
        replace(task, start_utc=max(task.start_utc, now))
        for task in tasks
        if task.deadline_utc >= now
    ]
    return Timeline(
        tasks=_told(by_hour(ahead), farm),
        dropped=tuple(dropped),
        taken_as_done=_told(placed, farm) if daylight.is_dark else (),
    )


def with_kept_ready(
    timeline: Timeline,
    kept_ready: Sequence[Option],
    farm: Farm,
    daylight: Daylight,
    hands: int,
) -> Timeline:
    """Return a timeline with the setting up of what may not be started yet.

    Parameters
    ----------
    timeline : Timeline
        What is done by the choice; nothing is taken from it.
    kept_ready : sequence of Option
        Water that is set up by day and not started by this forecast.
    farm : Farm
        Equipment and crew.
    daylight : Daylight
        The time for work before dark.
    hands : int
        People who work. [1]
    """
    by_day = [task for task in timeline.tasks if task.is_by_day]
    ready = kept_tasks(kept_ready, by_day, farm, daylight, _crew(farm, hands))
    # It is judged again at its start: until then it is set up, late or not.
    ready = [_not_before(daylight.now_utc, task) for task in ready]
    return replace(timeline, tasks=by_hour((*timeline.tasks, *_told(ready, farm))))


def _not_before(now_utc: datetime, task: Task) -> Task:
    """Return a task that should have begun as one to begin now."""
    start = max(task.start_utc, now_utc)
    return replace(task, start_utc=start, deadline_utc=start + task.duration)


def by_hour(tasks: Iterable[Task]) -> tuple[Task, ...]:
    """Return tasks in the order of the clock."""
    return tuple(sorted(tasks, key=lambda task: (task.start_utc, task.deadline_utc)))


def _set_ups(
    chosen: Sequence[Option],
    farm: Farm,
    daylight: Daylight,
    crew: tuple[str, ...],
    hands: int,
) -> tuple[list[Task], list[Task], list[Task]]:
    """Return the work by day as it was laid, what was dropped, and all setting up.

    After dark only what people were told to set up by day counts as laid; all else is
    set up from when they were told of it, or from now on.
    """
    if daylight.is_done:
        return day_tasks(chosen, farm, daylight, hands), [], []
    told = [
        item for item in chosen if not daylight.is_dark or item.pair in daylight.ready
    ]
    laid = day_tasks(told, farm, daylight, hands)
    placed, dropped, late = lay_backwards(laid, crew, daylight.begin_utc)
    begin = max([daylight.begin_utc, *(task.deadline_utc for task in placed)])
    tasks = [*placed, *late_tasks(told, farm, daylight, crew, begin, late)]
    for since, missing in _by_asking(chosen, told, daylight):
        begin = max([since, *(task.deadline_utc for task in tasks)])
        names = frozenset(item.equipment for item in missing)
        names |= frozenset() if told or tasks else frozenset({THERMOMETERS})
        tasks += late_tasks(missing, farm, daylight, crew, begin, names)
    return placed, dropped, tasks


def _by_asking(
    chosen: Sequence[Option], told: Sequence[Option], daylight: Daylight
) -> list[tuple[datetime, list[Option]]]:
    """Return what the day left out, by the hour from which people set it up.

    From now on at every look, it would never stand, and its start never come.
    """
    hours: dict[datetime, list[Option]] = {}
    for item in chosen:
        if item not in told:
            since = daylight.asked_utc.get(item.pair, daylight.now_utc)
            hours.setdefault(min(since, daylight.now_utc), []).append(item)
    return sorted(hours.items())


def _crew(farm: Farm, hands: int) -> tuple[str, ...]:
    """Return the workers' names, numbered where none are given."""
    names = farm.supplies.crew[:hands]
    more = (f"person {n + 1}" for n in range(len(names), hands))
    return (*names, *more)


def _told(tasks: Iterable[Task], farm: Farm) -> tuple[Task, ...]:
    """Return tasks as people are told them: by name, or as everybody's.

    Whom a number stands for nobody knows, so that nobody would do it.
    """
    known = frozenset(farm.supplies.crew)
    return tuple(
        task if known.issuperset(task.who) else replace(task, who=()) for task in tasks
    )


def _night_tasks(
    chosen: Sequence[Option],
    begun: Sequence[Option],
    night: NightAssessment,
    farm: Farm,
    ready_at: Callable[[str], datetime],
    crew: tuple[str, ...],
    air_at: Callable[[datetime], float | None],
) -> list[Task]:
    """Return what is done after dark."""
    tasks = []
    free = list(crew)
    for item, options in by_equipment(chosen, farm):
        if item.method.is_before_dark:
            continue
        who = tuple(free[: item.hands])
        free = free[item.hands :]
        ready_utc = ready_at(item.name)
        starts = _starts(item, options, farm, ready_utc, who)
        tasks += starts
        # Looked at from when it runs.
        running_utc = min((task.deadline_utc for task in starts), default=ready_utc)
        tasks += _rounds(item, options, who, running_utc)
    for item, options in by_equipment(begun, farm):
        tasks += [
            replace(task, is_if_begun=True)
            for task in _rounds(item, options, (), ready_at(item.name))
        ]
    if night.sunset_utc is not None and chosen:
        tasks.append(_reading(night.sunset_utc, tasks, air_at))
    return tasks


def _reading(
    sunset_utc: datetime,
    tasks: Sequence[Task],
    air_at: Callable[[datetime], float | None],
) -> Task:
    """Return the look at the thermometer that tells whether it gets colder than said.

    In the evening; where the freeze begins by day, before its first start.
    """
    read_at = sunset_utc + _READ_AFTER_SUNSET
    starts = [task for task in tasks if task.kind is TaskKind.START]
    if any(task.deadline_utc < sunset_utc for task in starts):
        read_at = min(task.start_utc for task in starts)
    read = _moment(TaskKind.READ, read_at, _READ)
    return replace(read, expected_air_c=air_at(read_at))


def _starts(
    item: Equipment,
    options: list[Option],
    farm: Farm,
    ready_utc: datetime,
    who: tuple[str, ...],
) -> list[Task]:
    """Return the starting of one equipment, block by block; none of what runs."""
    tasks = []
    for option in options:
        if option.start_utc is None or option.is_running:
            continue
        work = farm.rules.set_up
        if item.method.burns and item.time_each is not None:
            work = max(work, item.time_each * option.units / max(1, item.hands))
        started = start_task(option, work, ready_utc)
        tasks.append(replace(started, hands=max(1, item.hands), who=who))
    return tasks


def start_task(option: Option, work: timedelta, ready_utc: datetime) -> Task:
    """Return one start, with the work for it, of what stands ready at a moment.

    A start whose time has passed is due at once, and stays in the list.
    """
    assert option.start_utc is not None  # noqa: S101 - the caller has asked
    running_by = max(option.start_utc, ready_utc + work)
    latest = option.last_dry_start_utc
    # Hurry rather than wet dry buds late: it stands, and has so long.
    if latest is not None and latest > ready_utc:
        running_by = min(running_by, latest)
    start = max(running_by - work, ready_utc)
    return Task(
        kind=TaskKind.START,
        start_utc=start,
        duration=running_by - start,
        deadline_utc=running_by,
        equipment=option.equipment,
        blocks=(option.block,),
        worth=option.worth,
        units=option.units,
    )


def _rounds(
    item: Equipment, options: list[Option], who: tuple[str, ...], ready_utc: datetime
) -> list[Task]:
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
    is_by_hand = item.method.is_by_hand
    begin = min(max(min(starts), ready_utc), max(ends))
    every = min(rounds) if is_by_hand and rounds else _LOOK_EVERY
    return [
        Task(
            kind=TaskKind.ROUND if is_by_hand else TaskKind.LOOK,
            start_utc=begin,
            duration=max(ends) - begin,
            deadline_utc=max(ends),
            hands=item.hands,
            who=who,
            equipment=item.name,
            blocks=tuple(option.block for option in options),
            every=every,
            is_about_water=item.method.is_water,
            is_about_flame=item.method.burns,
        )
    ]


def _morning_tasks(
    chosen: Sequence[Option], begun: Sequence[Option], night: NightAssessment
) -> list[Task]:
    """Return what ends the night."""
    tasks = []
    wet = [option for option in (*chosen, *begun) if option.method.is_water]
    is_if_begun = all(option in begun for option in wet)
    stops = [option.end_utc for option in wet if option.end_utc is not None]
    stop = None
    if stops:
        stop = max(night.stop_not_before_utc or max(stops), *stops)
        ending = (
            _moment(TaskKind.STOP, stop, timedelta(0)),
            _moment(TaskKind.DRAIN, stop, timedelta(minutes=20)),
        )
        tasks += [replace(task, is_if_begun=is_if_begun) for task in ending]
    tasks += _heat_out([i for i in (*chosen, *begun) if i.method.burns], begun)
    if not chosen:
        return tasks
    if night.sunrise_utc is None:
        return tasks
    covers = [option for option in chosen if option.method.is_before_dark]
    if covers:
        # Not while buds under them would freeze: some mornings stay cold.
        ends = [option.end_utc for option in covers if option.end_utc is not None]
        off = max([night.sunrise_utc + _COVERS_OFF_AFTER_SUNRISE, *ends])
        lines = {option.equipment for option in wet}
        beneath = [i for i in covers if i.together and i.together.partner in lines]
        if stop is not None and beneath:
            # The ice of the water over them lies on them until then.
            off = max(off, stop)
        tasks.append(_moment(TaskKind.COVERS_OFF, off, timedelta(minutes=30)))
    count = night.sunrise_utc + _COUNT_AFTER_SUNRISE
    tasks.append(_moment(TaskKind.COUNT, count, timedelta(minutes=30)))
    return tasks


def _heat_out(fires: Sequence[Option], begun: Sequence[Option]) -> list[Task]:
    """Return when heat goes out: before the wind, or once the cold is over."""
    is_if_begun = all(option in begun for option in fires)
    windy = [option.out_by_utc for option in fires if option.out_by_utc is not None]
    burnt = [
        option.end_utc
        for option in fires
        if option.end_utc is not None and option.out_by_utc is None
    ]
    tasks = []
    if windy:
        start = min(windy) - _PUTTING_OUT
        out = _moment(TaskKind.HEAT_OUT, start, _PUTTING_OUT)
        tasks.append(replace(out, is_if_begun=is_if_begun, is_before_wind=True))
    if burnt:
        out = _moment(TaskKind.HEAT_OUT, max(burnt), _PUTTING_OUT)
        tasks.append(replace(out, is_if_begun=is_if_begun))
    return tasks


def _moment(kind: TaskKind, start: datetime, duration: timedelta) -> Task:
    """Return a task of everybody's at a moment."""
    return Task(
        kind=kind, start_utc=start, duration=duration, deadline_utc=start + duration
    )
