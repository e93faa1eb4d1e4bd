"""When heat goes out and covers come off: never while the air still freezes."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from frostalert.model.assessment import NightAssessment
from frostalert.model.plan import Option, Task, TaskKind
from frostalert.plan.timeline import by_hour

_ENDINGS = (TaskKind.HEAT_OUT, TaskKind.COVERS_OFF)


def ended_after_frost(
    tasks: Sequence[Task], running: Sequence[Option], night: NightAssessment
) -> tuple[Task, ...]:
    """Return the tasks, those that end the night no sooner than the air has thawed.

    Buds are above their limit before that; but people are told to go by the air, and
    are told that it is over by the same hour. A fire is watched until then; one that is
    out before the wind is not. Without a thaw in sight the hours stay.
    """
    thaw_utc = night.heat_out_utc
    if thaw_utc is None:
        return by_hour(tasks)
    watched = {i.equipment for i in running if i.method.burns}
    watched -= {i.equipment for i in running if i.out_by_utc is not None}
    moved = (
        _moved(task, thaw_utc, is_watched=task.equipment in watched) for task in tasks
    )
    return by_hour(moved)


def _moved(task: Task, thaw_utc: datetime, *, is_watched: bool) -> Task:
    """Return a task that lasts until the thaw, or begins with it."""
    if task.kind in _ENDINGS and not task.is_before_wind:
        start = max(task.start_utc, thaw_utc)
        return replace(task, start_utc=start, deadline_utc=start + task.duration)
    if task.kind is TaskKind.LOOK and is_watched and task.deadline_utc < thaw_utc:
        length = thaw_utc - task.start_utc
        return replace(task, deadline_utc=thaw_utc, duration=length)
    return task
