"""What is said of the service itself: whole sentences, whatever room there is."""

from datetime import UTC, datetime

import pytest

from frostalert.messages.service_words import OperatorWords
from frostalert.messages.sms import ONE_SEGMENT, gsm_length
from frostalert.messages.wording import Wording
from tests.support.holdings import INES, SITE

NOW = datetime(2026, 4, 12, 21, tzinfo=UTC)
STOPPED = (
    "no new forecast from US National Weather Service for 9 h, though it answers: "
    "check another forecast"
)
FURTHER = "Once it is 14 h old we call no night quiet by it"


def words(detail: str) -> OperatorWords:
    return OperatorWords(detail=detail, wording=Wording(SITE, NOW))


@pytest.mark.parametrize(
    ("detail", "text"),
    [
        (STOPPED, f"frostalert needs you: {STOPPED}"),
        (f"{STOPPED}. {FURTHER}", f"frostalert needs you: {STOPPED}."),
        (
            "the disk is full. See to it",
            "frostalert needs you: the disk is full. See to it.",
        ),
    ],
)
def test_a_text_about_the_service_never_ends_in_half_a_sentence(
    detail: str, text: str
) -> None:
    said = words(detail).text(INES, "", "")
    assert said == text
    assert gsm_length(said) <= ONE_SEGMENT


@pytest.mark.parametrize(
    ("detail", "first"),
    [
        (f"{STOPPED}. {FURTHER}", STOPPED.partition(":")[0]),
        ("the disk is full; nothing is kept", "the disk is full"),
        (f"a word {'and another ' * 12}", "a word" + " and another" * 7),
    ],
)
def test_a_subject_about_the_service_ends_with_a_word(detail: str, first: str) -> None:
    assert words(detail).subject() == f"frostalert needs you: {first} (Heron Bench)"


def test_what_is_over_is_not_told_as_if_it_went_on() -> None:
    wording = Wording(SITE, NOW)
    for is_over in (False, True):
        letter = OperatorWords(detail=STOPPED, wording=wording, is_over=is_over).letter(
            INES, ""
        )
        assert ("every day until" in letter.source) is not is_over
        assert ("Fix the problem" in letter.jobs[0]) is not is_over
        assert letter.answer.startswith(f"Something {'was' if is_over else 'is'} wrong")
