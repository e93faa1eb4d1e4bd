"""The calendar of a plan, read by a library other than the one that writes it."""

from datetime import UTC, timedelta

import vobject

from frostalert.messages.calendar import plan_calendar
from frostalert.messages.wording import Wording
from frostalert.model.plan import TaskKind
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    plan_of,
    planting,
)

HOLDING = planting(APRICOTS, CHERRIES, STRAWBERRIES)


def calendar_of(low_c: float, later: timedelta = timedelta(0)):  # type: ignore[no-untyped-def]
    now = TWO_IN_THE_AFTERNOON + later
    plan = plan_of(HOLDING, night_grid(low_c), now)
    content = plan_calendar(plan, HOLDING, Wording(HOLDING.site, now))
    return plan, content, vobject.readOne(content.decode("utf-8"))


def test_every_task_is_an_event_at_its_hour() -> None:
    plan, _, calendar = calendar_of(-3.0)
    assert calendar.validate()
    events = calendar.vevent_list
    assert len(events) == len(plan.tasks)
    starts = sorted(event.dtstart.value.astimezone(UTC) for event in events)
    assert starts == sorted(t.start_utc.replace(microsecond=0) for t in plan.tasks)
    assert all(event.dtend.value > event.dtstart.value for event in events)


def test_lines_are_folded_and_ended_as_the_standard_wants() -> None:
    _, content, _ = calendar_of(-3.0)
    lines = content.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR"
    # RFC 5545, 3.1: no line longer than 75 octets.
    assert max(map(len, lines)) <= 75
    assert b"\n" not in content.replace(b"\r\n", b"")


def test_what_must_not_be_missed_rings() -> None:
    plan, _, calendar = calendar_of(-3.0)
    starts = [task for task in plan.tasks if task.kind is TaskKind.START]
    ringing = [event for event in calendar.vevent_list if hasattr(event, "valarm")]
    assert len(starts) == 2
    assert sum("start in" in event.summary.value for event in ringing) == 2


def test_no_alarm_on_a_locked_phone_begins_with_stopping_water() -> None:
    _, _, calendar = calendar_of(-3.0)
    shown = [event.summary.value for event in calendar.vevent_list]
    [stop] = [words for words in shown if "may stop" in words]
    assert stop.startswith("Frost: Keep water ON: ")
    [drain] = [words for words in shown if "drain" in words]
    assert drain == "Frost: Once the water is off, drain lines and pump"


def test_a_later_plan_replaces_the_events_of_an_earlier_one() -> None:
    _, _, first = calendar_of(-3.0)
    _, _, second = calendar_of(-4.0, timedelta(hours=1))
    before = {event.uid.value: event for event in first.vevent_list}
    after = {event.uid.value: event for event in second.vevent_list}
    assert before.keys() == after.keys()
    assert all(
        int(after[uid].sequence.value) > int(before[uid].sequence.value)
        for uid in before
    )
    assert any(after[uid].dtstart.value != before[uid].dtstart.value for uid in before)
