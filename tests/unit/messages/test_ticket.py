"""Tickets: each answers its own message, and its token tells nobody anything."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from frostalert.messages.occasion import Occasion
from frostalert.messages.sms import GSM_BASIC
from frostalert.messages.ticket import ticket_for
from frostalert.model.alarm import AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.notice import Subject
from frostalert.model.ticket import Ticket
from tests.support.holdings import INES

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
KEY = b"k" * 32
TICKET = Ticket(
    person="Ines",
    said=((date(2026, 4, 12), Tier.PREPARE, 3), (date(2026, 4, 13), Tier.OUTLOOK, 1)),
    expires_utc=NOW + timedelta(hours=9),
)


def test_a_ticket_answers_its_nights() -> None:
    answers = TICKET.answers(AnswerKind.ACTING, NOW)
    assert [(a.night.day, a.tier, a.revision) for a in answers] == [
        (12, Tier.PREPARE, 3),
        (13, Tier.OUTLOOK, 1),
    ]


def test_a_token_is_short_enough_for_a_text_and_the_same_for_the_same() -> None:
    token = TICKET.token(KEY)
    assert len(token) == 11
    assert GSM_BASIC.issuperset(token)
    assert token == replace(TICKET).token(KEY)


@given(person=st.text(max_size=20), revision=st.integers(0, 99), other=st.binary())
def test_another_person_message_or_key_has_another_token(
    person: str, revision: int, other: bytes
) -> None:
    said = ((date(2026, 4, 12), Tier.PREPARE, revision),)
    changed = replace(TICKET, person=person, said=said)
    assert changed.token(KEY) != TICKET.token(KEY)
    assert TICKET.token(KEY + b"." + other) != TICKET.token(KEY)


def occasion(subject: Subject, *said: tuple[date, Tier, int]) -> Occasion:
    return Occasion(
        key="k",
        subject=subject,
        night=None,
        words=None,
        now_utc=NOW,
        deadline_utc=NOW + timedelta(hours=2),
        said=said,
    )


def test_only_what_asks_for_something_has_a_ticket() -> None:
    assert ticket_for(INES, occasion(Subject.WITHDRAWN)) is None
    said = (date(2026, 4, 12), Tier.ACT, 4)
    ticket = ticket_for(INES, occasion(Subject.ACT, said))
    assert ticket == Ticket(
        person="Ines", said=(said,), expires_utc=NOW + timedelta(hours=14)
    )
    for subject in (Subject.WEEKLY, Subject.MORNING_AFTER):
        page = ticket_for(INES, occasion(subject))
        assert page == Ticket(
            person="Ines", said=(), expires_utc=NOW + timedelta(days=9)
        )
