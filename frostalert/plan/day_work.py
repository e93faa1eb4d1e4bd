"""Work before dark laid backwards from its deadline, and what is left for lamplight."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from frostalert.model.equipment import Equipment
from frostalert.model.plan import Option, Resource, Task, TaskKind
from frostalert.model.site import Farm
from frostalert.plan.daylight import Daylight, set_up_of

_PLACE_THERMOMETERS = timedelta(minutes=15)
"""Common practice, no source."""
THERMOMETERS = ""


def by_equipment(
    chosen: Sequence[Option], farm: Farm
) -> list[tuple[Equipment, list[Option]]]:
    """Return each equipment in use with what it does."""
    return [
        (item, [option for option in chosen if option.equipment == item.name])
        for item in farm.equipment
        if any(option.equipment == item.name for option in chosen)
    ]


def day_tasks(
    chosen: Sequence[Option], farm: Farm, daylight: Daylight, hands: int
) -> list[Task]:
    """Return the work that is done by daylight, not yet laid out in time.

    Parameters
    ----------
    chosen : sequence of Option
        What is to be done.
    farm : Farm
        Its equipment.
    daylight : Daylight
        The time for it.
    hands : int
        People who work. [1]

    Returns
    -------
    list of Task
        All with the same deadline.
    """
    deadline = daylight.ready_utc
    tasks = [
        _set_up(item, options, deadline)
        for item, options in by_equipment(chosen, farm)
        if daylight.is_done or not daylight.is_too_short_for(item, hands)
    ]
    if not chosen:
        return []
    least = min((task.worth for task in tasks), default=0.0)
    return [*tasks, _thermometers(deadline, least / 2.0)]


def kept_tasks(
    kept_ready: Sequence[Option],
    placed: Sequence[Task],
    farm: Farm,
    daylight: Daylight,
    crew: tuple[str, ...],
) -> list[Task]:
    """Return the setting up of what may not be started, in the time that is left.

    Parameters
    ----------
    kept_ready : sequence of Option
        What is kept ready.
    placed : sequence of Task
        The work by day as it is laid, which it takes nothing from.
    farm : Farm
        Its equipment.
    daylight : Daylight
        The time for work before dark.
    crew : tuple of str
        Who works.

    Returns
    -------
    list of Task
        Before all else that is done by day; what does not fit is left out.
    """
    first = min((task.start_utc for task in placed), default=daylight.ready_utc)
    tasks: list[Task] = []
    for item, options in by_equipment(kept_ready, farm):
        work = set_up_of(item) / len(crew)
        starts = [i.start_utc - farm.rules.set_up for i in options if i.start_utc]
        stands_utc = min(first, *starts) if starts else first
        if stands_utc - work < daylight.begin_utc:
            continue
        first = stands_utc - work
        task = replace(
            _set_up(item, options, stands_utc),
            start_utc=first,
            duration=work,
            who=crew,
            is_kept_ready=True,
        )
        tasks.append(task)
    return tasks


def late_tasks(
    chosen: Sequence[Option],
    farm: Farm,
    daylight: Daylight,
    crew: tuple[str, ...],
    begin: datetime,
    late: frozenset[str],
) -> list[Task]:
    """Return the setting up that began too late for daylight: by lamplight."""
    tasks: list[Task] = []
    equipment = by_equipment(chosen, farm)
    # Water has an hour after which it must not start any more; heat has none.
    equipment.sort(key=lambda row: not row[0].method.is_water)
    for item, options in equipment:
        if item.name not in late and not daylight.is_too_short_for(item, len(crew)):
            continue
        if all(option.is_running for option in options):
            continue
        work = set_up_of(item) / len(crew)
        task = _set_up(item, options, begin + work)
        tasks.append(replace(task, start_utc=begin, duration=work, who=crew))
        begin += work
    if THERMOMETERS in late:
        work = _PLACE_THERMOMETERS / len(crew)
        task = _thermometers(begin + work, 0.0)
        tasks.append(replace(task, start_utc=begin, duration=work, who=crew))
    return tasks


def lay_backwards(
    tasks: list[Task], crew: tuple[str, ...], begin_utc: datetime
) -> tuple[list[Task], list[Task], frozenset[str]]:
    """Return the tasks laid before their deadline, and those that no longer fit.

    References
    ----------
    .. [1] Backward list scheduling on identical workers; a textbook method.
    """
    left = sorted(tasks, key=lambda task: task.worth)
    dropped: list[Task] = []
    late: set[str] = set()
    while left:
        for lay in (_placed, _placed_together):
            placed = lay(left, crew)
            if min(task.start_utc for task in placed) >= begin_utc:
                return placed, dropped, frozenset(late)
        first = min(left, key=_goes_first)
        left.remove(first)
        if first.can_be_late:
            late.add(first.equipment)
        else:
            dropped.append(first)
    return [], dropped, frozenset(late)


def _set_up(item: Equipment, options: list[Option], deadline: datetime) -> Task:
    """Return the setting up of one equipment, pieces included."""
    pieces_min = sum(
        amount
        for option in options
        for resource, _, amount in option.uses
        if resource is Resource.DAYLIGHT
    )
    return Task(
        kind=TaskKind.SET_UP,
        start_utc=deadline,
        duration=set_up_of(item) + timedelta(minutes=pieces_min),
        deadline_utc=deadline,
        equipment=item.name,
        blocks=tuple(option.block for option in options),
        worth=sum(option.worth for option in options),
        is_by_day=True,
        can_be_late=not item.method.is_before_dark,
        is_about_water=item.method.is_water,
        units=sum(option.units for option in options),
    )


def _thermometers(deadline: datetime, worth: float) -> Task:
    """Return the placing of the thermometers."""
    return Task(
        kind=TaskKind.THERMOMETERS,
        start_utc=deadline,
        duration=_PLACE_THERMOMETERS,
        deadline_utc=deadline,
        worth=worth,
        is_by_day=True,
        can_be_late=True,
    )


def _goes_first(task: Task) -> tuple[bool, bool, float]:
    """Return what is given up first when daylight is short.

    What can be done by lamplight before what stands before dark; of that, water last,
    since it starts first; then the least valuable.
    """
    return not task.can_be_late, task.is_about_water, task.worth


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


def _placed_together(tasks: list[Task], crew: tuple[str, ...]) -> list[Task]:
    """Return tasks one after the other, everybody at each."""
    end = max(task.deadline_utc for task in tasks)
    placed = []
    for task in tasks:
        end = min(end, task.deadline_utc)
        work = task.duration / len(crew)
        placed.append(
            replace(
                task, start_utc=end - work, deadline_utc=end, duration=work, who=crew
            )
        )
        end -= work
    return placed
