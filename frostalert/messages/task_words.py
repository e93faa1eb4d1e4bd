"""Tasks in words, one line each."""

from collections.abc import Sequence
from datetime import timedelta

from frostalert.messages.wording import Wording, counted, span
from frostalert.model.plan import Task, TaskKind

_NEXT_DAY = timedelta(hours=20)
_WORDS = {
    TaskKind.SET_UP: "{equipment}: set up in {blocks}",
    TaskKind.THERMOMETERS: "Thermometers among the buds, one in the coldest spot; a "
    "wet-bulb wick ready",
    TaskKind.READ: "Read air and wet bulb in the coldest spot{expected}",
    TaskKind.START: "{equipment}: start in {blocks}, running by {deadline}",
    TaskKind.ROUND: "{equipment}: a round at least every {every} until {deadline}, "
    "without a break",
    TaskKind.LOOK: "{equipment}: look every {every} until {deadline}: {sign}",
    TaskKind.STOP: "Keep water ON: from now it may stop, but only with a measured wet "
    "bulb above {freezing} and ice melting freely",
    TaskKind.HEAT_OUT: "Keep heat on until the air among the buds has stayed "
    "above {freezing} for 15 min; then off, the coldest spot last",
    TaskKind.COVERS_OFF: "Covers off once it stays above {freezing}: bees must get in",
    TaskKind.DRAIN: "Once the water is off, drain lines and pump",
    TaskKind.COUNT: "Cut buds and count: frostalert buds BLOCK --dead N --of N",
}
_BEFORE_WIND = "Heat off by {deadline}, before the wind comes up, burnt out and cold"
_CLEAR_ICE = "clear ice is enough water, milky ice too little; nozzles free"
_STEADY = "burning, fuel, sparks; the thermometer beside it"
_RUNNING = "that it runs, without ice on it; the thermometer beside it"


def task_lines(
    tasks: Sequence[Task], wording: Wording, *, with_hours: bool = True
) -> tuple[str, ...]:
    """Return tasks as lines."""
    if not with_hours:
        return tuple(
            f"{_named(task, wording)} ({span(task.duration)})" for task in tasks
        )
    return tuple(
        f"{hours} {_named(task, wording)}"
        for task, hours in zip(tasks, task_hours(tasks, wording), strict=True)
    )


def task_hours(tasks: Sequence[Task], wording: Wording) -> tuple[str, ...]:
    """Return each task's hours, with its day where the tasks are of several."""
    hours = tuple(_hours(task, wording) for task in tasks)
    if not tasks or tasks[-1].start_utc - tasks[0].start_utc < _NEXT_DAY:
        return hours
    # The same hour of two days would read as one.
    return tuple(
        f"{wording.weekday(task.start_utc)} {hour}"
        for task, hour in zip(tasks, hours, strict=True)
    )


def task_text(task: Task, wording: Wording) -> str:
    """Return what is to be done, without hours and names."""
    words = _BEFORE_WIND if task.is_before_wind else _WORDS[task.kind]
    if task.kind is TaskKind.SET_UP and task.is_about_water:
        words += "; tank full, pump and every nozzle tried"
    if task.is_kept_ready:
        words += "; start it only if a message says so"
    if task.is_if_called:
        words += ", if a message calls for it"
    if task.is_if_begun:
        words = f"If {_begun(task)}: {words[0].lower()}{words[1:]}"
    return words.format(
        expected=_expected(task, wording),
        freezing=wording.temperature(0.0),
        equipment=counted(task.equipment, task.units),
        blocks=", ".join(task.blocks),
        deadline=wording.clock(task.deadline_utc),
        every=span(task.every) if task.every is not None else "",
        sign=_sign(task),
    )


def job_words(task: Task, wording: Wording) -> str:
    """Return one task with its hours, without the people who do it."""
    return f"{_hours(task, wording)} {task_text(task, wording)}"


def _sign(task: Task) -> str:
    """Return what is looked at."""
    if task.is_about_water:
        return _CLEAR_ICE
    return _STEADY if task.is_about_flame else _RUNNING


def _begun(task: Task) -> str:
    """Return what may run that a task is about; the end of the night is water's."""
    if task.is_about_flame or task.kind is TaskKind.HEAT_OUT:
        return "heat burns"
    is_fan = task.kind is TaskKind.LOOK and not task.is_about_water
    return "it runs" if is_fan else "water runs"


def _expected(task: Task, wording: Wording) -> str:
    """Return what the thermometer should read, and what it means if it does not."""
    if task.expected_air_c is None:
        than, air = " than forecast", ""
    else:
        than, air = "", f": forecast air {wording.temperature(task.expected_air_c)}"
    sooner = f"; if it is colder{than}, start sooner"
    return f"{air}{sooner}" if task.is_before_starts else air


def _named(task: Task, wording: Wording) -> str:
    """Return one task with its people."""
    who = f"{', '.join(task.who)}: " if task.who else ""
    return f"{who}{task_text(task, wording)}"


def _hours(task: Task, wording: Wording) -> str:
    """Return when a task begins, and by day when it must be done."""
    if task.duration and task.is_by_day:
        return wording.hours(task.start_utc, task.deadline_utc)
    return wording.clock(task.start_utc)
