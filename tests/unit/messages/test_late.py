"""A late message says so, on every channel, and stays within what a text may hold."""

from datetime import timedelta

import pytest

from frostalert.messages.late import LATE, marked_late
from frostalert.messages.sms import GSM_BASIC, TWO_SEGMENTS, gsm_length
from frostalert.model.channel import ChannelKind
from tests.adapters.test_notify import message


@pytest.mark.parametrize("by", [timedelta(0), LATE])
def test_what_is_in_time_stays_as_it_is(by: timedelta) -> None:
    mail = message(ChannelKind.EMAIL)
    assert marked_late(mail, by) == mail


@pytest.mark.parametrize(
    ("minutes", "words"), [(31, "31 min"), (89, "89 min"), (90, "2 h"), (660, "11 h")]
)
def test_it_says_by_how_much(minutes: int, words: str) -> None:
    html = '<html><body class="x"><p>Part in HTML.</p></body></html>'
    mail = marked_late(
        message(ChannelKind.EMAIL, html=html), timedelta(minutes=minutes)
    )
    assert mail.subject == f"({words} late) Prepare before dark"
    assert mail.text.startswith(f"This comes {words} late")
    assert mail.html is not None
    assert f'<body class="x"><p><strong>This comes {words} late' in mail.html


def test_a_rehearsal_stays_one_at_first_sight() -> None:
    mail = message(ChannelKind.EMAIL, subject="TEST Prepare")
    assert marked_late(mail, 3 * LATE).subject == "TEST (2 h late) Prepare"


def test_a_text_stays_within_two_segments() -> None:
    text = message(ChannelKind.SMS, text="FROST tonight " * 21 + "twelve signs")
    assert gsm_length(text.text) == TWO_SEGMENTS
    late = marked_late(text, timedelta(hours=7))
    assert late.text.startswith("(7 h late) FROST tonight")
    assert gsm_length(late.text) <= TWO_SEGMENTS
    assert set(late.text) <= GSM_BASIC
