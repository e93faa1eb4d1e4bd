"""The night's tasks as an iCalendar file (RFC 5545), for phones that ring."""

from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import TYPE_CHECKING

from frostalert.messages.task_words import task_text
from frostalert.messages.wording import Wording
from frostalert.model.notice import Attachment
from frostalert.model.plan import Plan, Task, TaskKind
from frostalert.model.site import Farm

if TYPE_CHECKING:
    from icalendar import Event

_RINGS = frozenset({TaskKind.SET_UP, TaskKind.START, TaskKind.READ, TaskKind.STOP})
_SHORTEST = timedelta(minutes=5)


def plan_calendar(plan: Plan, farm: Farm, wording: Wording) -> bytes:
    """Return the tasks of a plan as a calendar.

    A later plan of the same night replaces the events of an earlier one: each task
    keeps its UID, and the sequence number grows with time.
    """
    # Loaded when a plan is sent: the other commands do without.
    from icalendar import Calendar  # noqa: PLC0415

    calendar = Calendar()
    calendar.add("prodid", "-//frostalert//night plan//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for task in plan.tasks:
        calendar.add_component(_event(task, plan, farm, wording))
    return bytes(calendar.to_ical())


def plan_attachment(plan: Plan, farm: Farm, wording: Wording) -> Attachment:
    """Return the calendar of a plan as a file for the mail."""
    return Attachment(
        name=f"frost-plan-{plan.night}.ics",
        media_type="text/calendar",
        content=plan_calendar(plan, farm, wording),
    )


def _event(task: Task, plan: Plan, farm: Farm, wording: Wording) -> "Event":
    """Return one task as an event, with a ring where it must not be missed."""
    from icalendar import Alarm, Event  # noqa: PLC0415

    text = task_text(task, wording)
    who = f"{', '.join(task.who)}: " if task.who else ""
    event = Event()
    event.add("uid", _uid(task, plan, farm))
    event.add("dtstamp", plan.made_utc.astimezone(UTC))
    event.add("sequence", _minutes(plan.made_utc))
    event.add("dtstart", task.start_utc.astimezone(UTC).replace(microsecond=0))
    end = max(task.deadline_utc, task.start_utc + _SHORTEST)
    event.add("dtend", end.astimezone(UTC).replace(microsecond=0))
    event.add("summary", f"Frost: {who}{text}")
    event.add(
        "description",
        f"{farm.site.name}, {wording.night(plan.night)}. By the forecast of "
        f"{wording.moment(plan.made_utc)}; judge by a thermometer among the buds.",
    )
    if task.kind in _RINGS:
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", text)
        alarm.add("trigger", timedelta(0))
        event.add_component(alarm)
    return event


def _uid(task: Task, plan: Plan, farm: Farm) -> str:
    """Return what names a task across the plans of one night."""
    words = [farm.site.name, task.kind.value, task.equipment]
    if task.kind is TaskKind.START:
        # One equipment is started block by block; all else is one task of it.
        words += sorted(task.blocks)
    digest = sha256("|".join(words).encode()).hexdigest()[:16]
    return f"{plan.night}-{digest}@frostalert.invalid"


def _minutes(moment: datetime) -> int:
    """Return a number that grows with time. [min]"""
    return int(moment.timestamp() // 60)
