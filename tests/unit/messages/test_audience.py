"""Who hears, and what holds a message back: quiet hours, budgets, silence, turns."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from frostalert.messages.audience import (
    MOST_WARNINGS_A_DAY,
    RecipientState,
    delay_reason,
    recipients,
)
from frostalert.messages.occasion import Occasion
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import MessageClass, Subject
from frostalert.model.site import Person
from tests.adapters.test_notify import message
from tests.support.holdings import INES, make_holding

NIGHT = date(2026, 4, 12)
LATE_EVENING = datetime(2026, 4, 13, 5, 30, tzinfo=UTC)  # 22:30 local
NOON = datetime(2026, 4, 12, 19, tzinfo=UTC)
SLEEPER = replace(INES, quiet_from=time(21, 30), quiet_to=time(6, 0))
SPARE = Person(
    name="Tobias",
    channels=(ChannelKind.SMS,),
    email=None,
    phone="+15095550177",
    turn=2,
    floor=Tier.PREPARE,
)
HOLDING = replace(make_holding(), people=(SLEEPER, SPARE))


def occasion(subject: Subject, **changes: object) -> Occasion:
    values = {
        "key": "k",
        "subject": subject,
        "night": NIGHT,
        "now_utc": LATE_EVENING,
        "deadline_utc": LATE_EVENING + timedelta(hours=9),
        "turns": (1,),
    }
    return Occasion(**values | changes)  # type: ignore[arg-type]


def names(said: Occasion) -> list[str]:
    return [person.name for person in recipients(said, HOLDING)]


def test_no_floor_keeps_back_that_a_night_cannot_be_judged() -> None:
    said = occasion(Subject.OUTLOOK, turns=(1, 2), is_blind=True)
    assert names(said) == ["Ines", "Tobias"]


def test_others_hear_of_the_service_when_no_operator_can_be_reached() -> None:
    [first, second, *_] = HOLDING.people
    farm = replace(HOLDING, people=(replace(first, is_operator=True), second))
    said = occasion(Subject.OPERATOR, turns=())
    assert recipients(said, farm) == farm.people[:1]
    unreached = replace(said, unreached=frozenset({first.name}))
    assert recipients(unreached, farm) == farm.people


@pytest.mark.parametrize(
    ("subject", "turns", "who"),
    [
        (Subject.OUTLOOK, (1,), ["Ines"]),
        (Subject.OUTLOOK, (1, 2), ["Ines"]),
        (Subject.PREPARE, (1, 2), ["Ines", "Tobias"]),
        (Subject.PREPARE, (2,), ["Tobias"]),
        (Subject.WITHDRAWN, (), ["Ines", "Tobias"]),
        (Subject.WEEKLY, (), ["Ines", "Tobias"]),
    ],
)
def test_who_hears(subject: Subject, turns: tuple[int, ...], who: list[str]) -> None:
    assert names(occasion(subject, turns=turns)) == who


def test_faults_go_to_the_operators_or_to_everybody() -> None:
    assert names(occasion(Subject.OPERATOR)) == ["Ines", "Tobias"]
    marked = replace(HOLDING, people=(replace(SLEEPER, is_operator=True), SPARE))
    found = recipients(occasion(Subject.OPERATOR), marked)
    assert [person.name for person in found] == ["Ines"]


@pytest.mark.parametrize(
    ("subject", "needed_by", "is_held"),
    [
        (Subject.OUTLOOK, None, True),
        (Subject.ACT, LATE_EVENING, False),
        (Subject.PREPARE, LATE_EVENING + timedelta(hours=2), False),
        (Subject.PREPARE, LATE_EVENING + timedelta(hours=17), True),
        (Subject.STAND_DOWN, LATE_EVENING, False),
        (Subject.DAILY_LINE, None, True),
    ],
    ids=[
        "outlook waits",
        "act breaks them",
        "too little time is left",
        "there is time until the morning",
        "who runs water hears how to stop",
        "routine waits",
    ],
)
def test_quiet_hours(
    subject: Subject, needed_by: datetime | None, *, is_held: bool
) -> None:
    said = occasion(subject, needed_by_utc=needed_by)
    hold = delay_reason(SLEEPER, said, HOLDING, RecipientState())
    assert (hold is not None) is is_held
    if hold is not None:
        assert hold.until_utc == datetime(2026, 4, 13, 13, 0, tzinfo=UTC)  # 06:00
        assert hold.reason == "quiet hours of Ines"
    assert delay_reason(INES, said, HOLDING, RecipientState()) is None


@pytest.mark.parametrize(
    ("clock", "is_on"),
    [
        ("21:29", False),
        ("21:30", True),
        ("00:00", True),
        ("05:59", True),
        ("06:00", False),
        ("12:00", False),
    ],
)
def test_quiet_hours_begin_and_end_on_the_minute(clock: str, *, is_on: bool) -> None:
    local = datetime.fromisoformat(f"2026-04-12T{clock}-07:00")
    said = occasion(Subject.OUTLOOK, now_utc=local.astimezone(UTC))
    assert (delay_reason(SLEEPER, said, HOLDING, RecipientState()) is not None) is is_on


@pytest.mark.parametrize(
    ("change", "is_held"),
    [
        ({}, True),
        ({"is_worse": True}, False),
        ({"is_waking": True}, False),
        ({"needed_by_utc": NOON}, False),
    ],
    ids=["spent", "it got worse", "it may wake", "it cannot wait"],
)
def test_three_warnings_a_day(change: dict[str, object], *, is_held: bool) -> None:
    said = occasion(Subject.OUTLOOK, now_utc=NOON, **change)
    for count in range(MOST_WARNINGS_A_DAY):
        state = RecipientState(warnings_today={"Ines": count})
        assert delay_reason(INES, said, HOLDING, state) is None
    spent = RecipientState(warnings_today={"Ines": MOST_WARNINGS_A_DAY})
    hold = delay_reason(INES, said, HOLDING, spent)
    assert (hold is not None) is is_held
    if hold is not None:
        assert hold.until_utc == datetime(2026, 4, 13, 14, 0, tzinfo=UTC)  # 07:00


def test_what_was_put_off_waits_even_if_it_presses_but_not_a_higher_tier() -> None:
    until = LATE_EVENING + timedelta(hours=2)
    asked = Answer(
        person="Ines",
        night=NIGHT,
        tier=Tier.PREPARE,
        revision=1,
        kind=AnswerKind.LATER,
        given_utc=LATE_EVENING,
        until_utc=until,
    )
    state = RecipientState(answers=(asked,))
    again = occasion(Subject.PREPARE, needed_by_utc=LATE_EVENING)
    hold = delay_reason(INES, again, HOLDING, state)
    assert hold is not None
    assert hold.until_utc == until
    assert delay_reason(INES, occasion(Subject.ACT), HOLDING, state) is None
    for subject in (Subject.CANNOT_JUDGE, Subject.OPERATOR, Subject.STAND_DOWN):
        assert delay_reason(INES, occasion(subject), HOLDING, state) is None


def test_only_the_first_of_a_tier_and_night_is_waking() -> None:
    assert occasion(Subject.ACT, is_waking=True).message_class is MessageClass.WAKING
    assert occasion(Subject.ACT).message_class is MessageClass.WARNING


def test_what_is_held_for_the_morning_counts_for_the_day_on_which_it_arrives() -> None:
    # Half past eleven at night: three that wait for the morning fill the next day.
    local = datetime.fromisoformat("2026-04-12T23:30:00-07:00")
    midnight = datetime.fromisoformat("2026-04-13T00:00:00-07:00").astimezone(UTC)
    said = occasion(Subject.WITHDRAWN, now_utc=local.astimezone(UTC))
    full_today = RecipientState(warnings_today={"Ines": 3}, tomorrow_utc=midnight)
    hold = delay_reason(SLEEPER, said, HOLDING, full_today)
    assert hold is not None
    assert hold.until_utc == datetime(2026, 4, 13, 13, 0, tzinfo=UTC)  # 06:00
    full = RecipientState(warnings_tomorrow={"Ines": 3}, tomorrow_utc=midnight)
    hold = delay_reason(SLEEPER, said, HOLDING, full)
    assert hold is not None
    assert hold.until_utc == datetime(2026, 4, 14, 14, 0, tzinfo=UTC)  # 07:00


@pytest.mark.parametrize(
    ("held_h", "today", "tomorrow"),
    [(None, 1, 0), (2.0, 1, 0), (8.0, 0, 1)],
    ids=["at once", "later today", "tomorrow morning"],
)
def test_messages_of_one_cycle_count_for_their_own_day(
    held_h: float | None, today: int, tomorrow: int
) -> None:
    tomorrow_utc = LATE_EVENING + timedelta(hours=4)
    until = None if held_h is None else LATE_EVENING + timedelta(hours=held_h)
    sent = message(ChannelKind.EMAIL, message_class=MessageClass.WARNING)
    state = RecipientState(tomorrow_utc=tomorrow_utc)
    state = state.counting([replace(sent, held_until_utc=until)])
    assert state.warnings_today.get("Ines", 0) == today
    assert state.warnings_tomorrow.get("Ines", 0) == tomorrow
