"""What an answer holds for: the night, the tier and the message it was given to."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from frostalert.alarms.answering import longest_silence
from frostalert.alarms.answers import (
    acknowledged_by,
    calls_for_hands,
    is_answered,
    is_standing,
    is_unjudged_open,
    silence_asked,
    silences,
    starts_at,
)
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.notice import NightDecision, NightHistory, Reason, Subject
from frostalert.model.start import Start, StartState

NIGHT = date(2026, 4, 12)
NOW = datetime(2026, 4, 13, 2, tzinfo=UTC)
TOLD = NightHistory(
    night=NIGHT, told=Tier.PREPARE, said=Tier.PREPARE, revision=3, said_revision=3
)
BLIND = NightHistory(
    night=NIGHT,
    revision=5,
    is_blind=True,
    cannot_judge_told_utc=NOW - timedelta(hours=1),
    cannot_judge_revision=5,
)


def answer(
    tier: Tier = Tier.PREPARE,
    revision: int = 3,
    kind: AnswerKind = AnswerKind.ACTING,
    until: datetime | None = None,
) -> Answer:
    return Answer(
        person="Ines",
        night=NIGHT,
        tier=tier,
        revision=revision,
        kind=kind,
        given_utc=NOW - timedelta(minutes=20),
        until_utc=until,
    )


@pytest.mark.parametrize(
    ("given", "holds"),
    [
        (answer(), True),
        (answer(revision=4), True),
        (answer(Tier.ACT), True),
        (answer(kind=AnswerKind.NOT_NEEDED), True),
        (answer(revision=2), False),
        (answer(Tier.OUTLOOK), False),
        (answer(kind=AnswerKind.LATER), False),
        (replace(answer(), night=NIGHT + timedelta(days=1)), False),
    ],
)
def test_an_answer_holds_for_its_own_night_tier_and_message(
    given: Answer, holds: bool
) -> None:
    assert acknowledged_by(TOLD, [given]) == ("Ines" if holds else None)
    assert is_answered(TOLD, (given,)) is holds


def test_an_old_answer_says_nothing_about_a_night_that_cannot_be_judged() -> None:
    assert not is_answered(BLIND, ())
    assert not is_answered(BLIND, (answer(),))
    assert not is_answered(BLIND, (answer(Tier.CANNOT_JUDGE, revision=4),))
    assert is_answered(BLIND, (answer(Tier.CANNOT_JUDGE, revision=5),))
    assert is_unjudged_open(BLIND, [])
    assert not is_unjudged_open(TOLD, [])


def test_hands_that_were_called_are_asked_about_before_what_cannot_be_judged() -> None:
    both = replace(TOLD, is_blind=True, cannot_judge_told_utc=NOW)
    assert is_answered(both, (answer(),))
    assert calls_for_hands(both)
    assert calls_for_hands(replace(TOLD, said=Tier.ACT))
    assert not calls_for_hands(replace(TOLD, said=Tier.OUTLOOK))
    assert not calls_for_hands(replace(TOLD, is_closed=True))


def test_a_night_stands_that_called_for_hands_and_of_which_nothing_is_new() -> None:
    item = NightDecision(
        night=NIGHT, say=None, why=Reason.ALREADY_TOLD, detail="", remember=TOLD
    )
    assert is_standing(item)
    assert not is_standing(replace(item, say=Subject.PREPARE))
    assert not is_standing(replace(item, why=Reason.CLEARED))
    assert not is_standing(replace(item, remember=replace(TOLD, is_closed=True)))


def test_a_start_runs_by_an_answer_to_its_own_call_alone() -> None:
    called = Start(
        key=("Heaters", "Apricots"), state=StartState.CALLED, called_utc=NOW, revision=3
    )
    history = replace(TOLD, told=Tier.ACT, said=Tier.ACT, starts=(called,))

    def state(*given: Answer, at: datetime = NOW) -> StartState:
        return starts_at(history, given, at)[0].state

    assert state() is StartState.CALLED
    assert state(answer(Tier.ACT)) is StartState.RUNNING
    assert state(answer(Tier.PREPARE)) is StartState.CALLED
    assert state(answer(Tier.ACT, revision=2)) is StartState.CALLED
    assert state(answer(Tier.ACT, kind=AnswerKind.NOT_NEEDED)) is StartState.CALLED
    # An answer that is still to come counts from its own moment on.
    given = answer(Tier.ACT).given_utc
    assert state(answer(Tier.ACT), at=given) is StartState.RUNNING
    before = given - timedelta(seconds=1)
    assert state(answer(Tier.ACT), at=before) is StartState.CALLED
    planned = replace(called, state=StartState.PLANNED)
    history = replace(history, starts=(planned,))
    assert state(answer(Tier.ACT)) is StartState.PLANNED


def test_a_silence_holds_until_its_end_for_its_tier_and_for_one_person() -> None:
    until = NOW + timedelta(hours=1)
    asked = answer(kind=AnswerKind.LATER, until=until)
    assert silence_asked("Ines", Tier.PREPARE, [asked], NOW) == asked
    assert silence_asked("Ines", Tier.OUTLOOK, [asked], NOW) == asked
    assert silence_asked("Ines", Tier.ACT, [asked], NOW) is None
    assert silence_asked("Mara", Tier.PREPARE, [asked], NOW) is None
    assert silence_asked("Ines", Tier.PREPARE, [asked], until) is None
    # Whoever says something later has spoken again.
    later = replace(answer(), given_utc=NOW - timedelta(minutes=5))
    assert silences([asked, later], NOW) == ()
    assert silences([asked, later], NOW - timedelta(minutes=10)) == (asked,)
    # It holds from the very moment on in which it was asked for.
    assert silences([asked], asked.given_utc) == (asked,)
    assert silences([asked], asked.given_utc - timedelta(seconds=1)) == ()


def test_at_noon_a_silence_may_last_until_the_next_noon() -> None:
    noon = datetime(2026, 4, 12, 12, tzinfo=UTC)
    assert longest_silence(noon) == noon + timedelta(days=1)
    assert longest_silence(noon - timedelta(minutes=1)) == noon
