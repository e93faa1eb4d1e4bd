"""Tickets: what was signed comes back, and nothing else does."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.errors import TicketError
from frostalert.messages.ticket import Ticket, read_ticket, write_ticket
from frostalert.model.alarm import AnswerKind
from frostalert.model.assessment import Tier

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
KEY = b"k" * 32
TICKET = Ticket(
    person="Ines",
    said=((date(2026, 4, 12), Tier.PREPARE, 3), (date(2026, 4, 13), Tier.OUTLOOK, 1)),
    expires_utc=NOW + timedelta(hours=9),
)


def test_a_ticket_comes_back_as_it_went_and_answers_its_nights() -> None:
    back = read_ticket(write_ticket(TICKET, KEY), KEY, NOW)
    assert back == TICKET
    answers = back.answers(AnswerKind.ACTING, NOW)
    assert [(a.night.day, a.tier, a.revision) for a in answers] == [
        (12, Tier.PREPARE, 3),
        (13, Tier.OUTLOOK, 1),
    ]


def test_it_may_be_used_again_harmlessly() -> None:
    text = write_ticket(TICKET, KEY)
    assert read_ticket(text, KEY, NOW) == read_ticket(text, KEY, NOW)


@pytest.mark.parametrize(
    ("text", "after", "words"),
    [
        (write_ticket(TICKET, b"x" * 32), timedelta(0), "not made here"),
        (write_ticket(TICKET, KEY), timedelta(hours=10), "too old"),
        ("", timedelta(0), "not whole"),
        ("a.b.c", timedelta(0), "not whole"),
        (write_ticket(TICKET, KEY)[:-3], timedelta(0), "not"),
        ("\u00e9.\u00e9", timedelta(0), "not whole"),
    ],
    ids=["another key", "expired", "empty", "three parts", "cut short", "not ASCII"],
)
def test_what_is_not_ours_is_refused(text: str, after: timedelta, words: str) -> None:
    with pytest.raises(TicketError, match=words):
        read_ticket(text, KEY, NOW + after)


@given(place=st.integers(0, 10_000), letter=st.sampled_from("AZaz09-_."))
def test_no_changed_letter_gets_through(place: int, letter: str) -> None:
    text = write_ticket(TICKET, KEY)
    place %= len(text)
    changed = text[:place] + letter + text[place + 1 :]
    try:
        found = read_ticket(changed, KEY, NOW)
    except TicketError:
        return
    # The last letter of base64 may hold bits that mean nothing.
    assert found == TICKET
