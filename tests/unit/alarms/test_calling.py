"""Answers, calling on, episodes, the wait for a second word: the alarm model."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from frostalert.alarms.answering import answers_about, longest_silence, open_alarms
from frostalert.alarms.answers import acknowledged_by, silence_asked
from frostalert.alarms.calling import LONGEST_WAIT, SHORTEST_WAIT
from frostalert.alarms.episodes import alarm_of, join_episode
from frostalert.model.alarm import AlarmState, Answer, AnswerKind
from frostalert.model.assessment import Assessment, Tier
from frostalert.model.notice import NightDecision, NightHistory, Reason, Subject
from frostalert.model.site import Rules
from tests.support.decided import decide
from tests.support.grids import frosty_hours
from tests.unit.alarms.test_policy import (
    AFTERNOON,
    BEFORE_DAWN,
    MADE,
    MORNING,
    NIGHT,
    RULES,
    WARM,
    assessed,
    told,
)


def decided(
    history: NightHistory | None,
    assessment: Assessment,
    now: datetime,
    *,
    answers: tuple[Answer, ...] = (),
    last_turn: int = 2,
) -> NightDecision:
    past = {} if history is None else {history.night: history}
    decision = decide(
        past, now, assessment, RULES, answers=answers, last_turn=last_turn
    )
    return next(item for item in decision.nights if item.night == NIGHT)


def answer(
    kind: AnswerKind = AnswerKind.ACTING,
    tier: Tier = Tier.PREPARE,
    revision: int = 1,
    until: datetime | None = None,
) -> Answer:
    return Answer(
        person="Ines",
        night=NIGHT,
        tier=tier,
        revision=revision,
        kind=kind,
        given_utc=AFTERNOON,
        until_utc=until,
    )


def called(tier: Tier = Tier.PREPARE, ago: timedelta = timedelta(0)) -> NightHistory:
    return told(tier, said_revision=1, called_turn=1, called_utc=AFTERNOON - ago)


HOUR = timedelta(hours=1)


@pytest.mark.parametrize(
    ("answers", "ago", "last_turn", "why"),
    [
        ((), timedelta(minutes=4), 2, Reason.ALREADY_TOLD),
        ((), HOUR, 2, Reason.NOBODY_ANSWERED),
        ((), -HOUR, 2, Reason.NOBODY_ANSWERED),
        ((), HOUR, 1, Reason.ALREADY_TOLD),
        ((answer(),), HOUR, 2, Reason.ALREADY_TOLD),
        ((answer(AnswerKind.NOT_NEEDED),), HOUR, 2, Reason.ALREADY_TOLD),
        ((answer(AnswerKind.LATER),), HOUR, 2, Reason.NOBODY_ANSWERED),
        ((answer(tier=Tier.OUTLOOK),), HOUR, 2, Reason.NOBODY_ANSWERED),
        ((answer(revision=0),), HOUR, 2, Reason.NOBODY_ANSWERED),
        ((answer(tier=Tier.ACT, revision=5),), HOUR, 2, Reason.ALREADY_TOLD),
    ],
    ids=[
        "the wait is not over",
        "nobody answered",
        "called in the future, before the clock was set back",
        "nobody is left on the list",
        "somebody is acting",
        "somebody says it is not needed",
        "only put off",
        "answered a lower tier",
        "answered an earlier message",
        "answered more than that",
    ],
)
def test_calling_on(
    answers: tuple[Answer, ...], ago: timedelta, last_turn: int, why: Reason
) -> None:
    item = decided(
        called(ago=ago), assessed(), AFTERNOON, answers=answers, last_turn=last_turn
    )
    assert item.why is why
    if why is Reason.NOBODY_ANSWERED:
        assert (item.say, item.turns, item.is_waking) == (Subject.PREPARE, (2,), True)
        assert item.remember.called_turn == 2
        assert item.remember.revision == 1


@pytest.mark.parametrize(
    ("answers", "why"),
    [
        ((), Reason.NOBODY_ANSWERED),
        ((answer(),), Reason.HELD_ON_BAD_DATA),
    ],
    ids=["nobody answered", "somebody is acting"],
)
def test_an_unanswered_night_that_goes_blind_is_passed_on(
    answers: tuple[Answer, ...], why: Reason
) -> None:
    past = replace(
        called(ago=HOUR),
        cannot_judge_told_utc=AFTERNOON - HOUR / 2,
        cannot_judge_revision=2,
        is_blind=True,
        revision=2,
    )
    blind = assessed(air_c=frosty_hours(low_c=-3.0)[:8])
    item = decided(past, blind, AFTERNOON, answers=answers)
    assert item.why is why
    if why is Reason.NOBODY_ANSWERED:
        assert (item.say, item.turns) == (Subject.CANNOT_JUDGE, (2,))


def test_a_night_that_is_blind_from_the_start_is_passed_on_after_an_hour() -> None:
    blind = assessed(air_c=frosty_hours(low_c=-3.0)[:8])
    first = decided(None, blind, AFTERNOON)
    assert (first.say, first.turns) == (Subject.CANNOT_JUDGE, (1,))
    soon = decided(first.remember, blind, AFTERNOON + HOUR / 2)
    assert soon.why is Reason.HELD_ON_BAD_DATA
    later = decided(first.remember, blind, AFTERNOON + HOUR)
    assert (later.say, later.turns) == (Subject.CANNOT_JUDGE, (2,))
    seen = answers_about(
        [alarm_of(first.remember, ())], "Ines", AnswerKind.ACTING, AFTERNOON + HOUR / 2
    )
    answered = decided(first.remember, blind, AFTERNOON + HOUR, answers=tuple(seen))
    assert answered.why is Reason.HELD_ON_BAD_DATA


def test_those_who_were_called_hear_the_next_tier_at_once() -> None:
    past = replace(called(), called_turn=2)
    item = decided(past, assessed(BEFORE_DAWN), BEFORE_DAWN)
    assert (item.say, item.turns) == (Subject.ACT, (1, 2))


def test_the_wait_is_a_quarter_of_the_time_left_within_its_bounds() -> None:
    past = called()
    looks = []
    for minutes in range(120):
        now = AFTERNOON + timedelta(minutes=minutes)
        if decided(past, assessed(now), now).why is Reason.NOBODY_ANSWERED:
            looks.append(minutes)
    wait = timedelta(minutes=looks[0])
    assert SHORTEST_WAIT <= wait <= LONGEST_WAIT
    assert looks == list(range(looks[0], 120))


def test_the_next_look_is_no_later_than_the_next_call() -> None:
    decision = decide({NIGHT: called()}, AFTERNOON, assessed(), RULES, last_turn=2)
    assert decision.next_look_utc <= AFTERNOON + LONGEST_WAIT
    answered = decide(
        {NIGHT: called()},
        AFTERNOON,
        assessed(),
        RULES,
        answers=(answer(),),
        last_turn=2,
    )
    assert answered.next_look_utc >= decision.next_look_utc


def test_a_night_that_got_worse_is_asked_about_anew() -> None:
    past = called()
    assert past.told_low_c is not None
    worse = replace(past, told_low_c=past.told_low_c + 1.5)
    item = decided(worse, assessed(), AFTERNOON, answers=(answer(),))
    assert item.why is Reason.GOT_WORSE
    assert not item.is_waking  # one waking message a tier and night
    assert acknowledged_by(item.remember, (answer(),)) is None


def test_a_rising_tier_says_what_moved_either_way() -> None:
    past = told(Tier.OUTLOOK)
    assert past.told_low_c is not None
    assert past.told_running_by_utc is not None
    past = replace(
        past,
        told_low_c=past.told_low_c - 1.2,
        told_running_by_utc=past.told_running_by_utc + timedelta(minutes=40),
    )
    item = decided(past, assessed(), AFTERNOON)
    assert item.why is Reason.TIER_ROSE
    assert item.change is not None
    assert item.change.colder_c == pytest.approx(-1.2)
    assert item.change.earlier == timedelta(minutes=40)


FAR = NIGHT
FAR_BEFORE = datetime(2026, 4, 9, 18, tzinfo=UTC)


@pytest.mark.parametrize(
    ("low_c", "says_at_once"), [(-0.5, False), (-6.0, True)], ids=["close", "clear"]
)
def test_a_far_night_waits_for_a_second_forecast_unless_it_is_clear(
    low_c: float, *, says_at_once: bool
) -> None:
    first = datetime(2026, 4, 9, 12, tzinfo=UTC)
    air = frosty_hours(low_c=9.0, high_c=20.0, hours=72)
    air += frosty_hours(low_c=low_c, hours=48)

    def look(history: NightHistory | None, hours: int) -> NightDecision:
        now = FAR_BEFORE + timedelta(hours=hours)
        seen = assessed(now, air_c=air, first=first, updated=now)
        assert next(n for n in seen.nights if n.night == FAR).tier is Tier.OUTLOOK
        return decided(history, seen, now)

    one = look(None, 0)
    assert (one.say is Subject.OUTLOOK) is says_at_once
    if says_at_once:
        return
    assert one.why is Reason.WAITING_TO_RAISE
    # The same forecast again is no second word.
    again = decided(
        one.remember,
        assessed(FAR_BEFORE, air_c=air, first=first, updated=FAR_BEFORE),
        FAR_BEFORE,
    )
    assert again.why is Reason.WAITING_TO_RAISE
    assert look(again.remember, 1).say is Subject.OUTLOOK


def test_a_night_joins_the_run_of_the_one_before_and_keeps_it() -> None:
    before = NightHistory(
        night=date(2026, 4, 11),
        told=Tier.ACT,
        episode="2026-04-11",
        is_closed=True,
    )
    decision = decide({before.night: before}, AFTERNOON, assessed(), RULES)
    announced = {item.night: item for item in decision.announced}
    assert announced[NIGHT].remember.episode == "2026-04-11"
    old = replace(before, night=date(2026, 4, 2), episode="2026-04-02")
    assert join_episode(NIGHT, [old]) == NIGHT.isoformat()
    still_open = replace(old, is_closed=False)
    assert join_episode(NIGHT, [still_open]) == "2026-04-02"


@pytest.mark.parametrize(
    ("history", "answers", "state"),
    [
        (NightHistory(night=NIGHT), (), AlarmState.QUIET),
        (told(Tier.OUTLOOK), (), AlarmState.OUTLOOK),
        (called(), (), AlarmState.UNANSWERED),
        (called(), (answer(),), AlarmState.ANSWERED),
        (replace(called(), is_closed=True), (), AlarmState.ENDED_UNANSWERED),
        (replace(called(), is_closed=True), (answer(),), AlarmState.ENDED),
        (replace(told(Tier.OUTLOOK), is_closed=True), (), AlarmState.ENDED),
    ],
    ids=lambda value: value.value if isinstance(value, AlarmState) else "",
)
def test_where_a_warning_stands(
    history: NightHistory, answers: tuple[Answer, ...], state: AlarmState
) -> None:
    assert alarm_of(history, answers).state is state


def test_cannot_judge_stays_listed_until_somebody_acknowledges_it() -> None:
    blind = replace(
        NightHistory(night=NIGHT),
        cannot_judge_told_utc=AFTERNOON,
        cannot_judge_revision=2,
        revision=2,
        is_closed=True,
    )
    assert alarm_of(blind, ()).is_unjudged
    assert alarm_of(blind, (answer(AnswerKind.LATER, revision=2),)).is_unjudged
    assert alarm_of(blind, (answer(revision=1),)).is_unjudged
    [alarm] = open_alarms([alarm_of(blind, ())])
    given = answers_about([alarm], "Ines", AnswerKind.ACTING, AFTERNOON)
    assert not alarm_of(blind, given).is_unjudged
    assert open_alarms([alarm_of(blind, given)]) == ()


@pytest.mark.parametrize(
    ("tier", "after", "is_silent"),
    [
        (Tier.PREPARE, HOUR, True),
        (Tier.OUTLOOK, HOUR, True),
        (Tier.ACT, HOUR, False),
        (Tier.PREPARE, 3 * HOUR, False),
        (Tier.PREPARE, -HOUR, False),
    ],
    ids=["same", "lower", "higher breaks it", "it ends", "not before it was asked"],
)
def test_silence_is_for_a_time_and_a_tier(
    tier: Tier, after: timedelta, *, is_silent: bool
) -> None:
    asked = answer(AnswerKind.LATER, until=AFTERNOON + 2 * HOUR)
    found = silence_asked("Ines", tier, (asked,), AFTERNOON + after)
    assert (found is not None) is is_silent
    assert silence_asked("Tobias", tier, (asked,), AFTERNOON + after) is None


def test_the_last_word_of_a_person_counts() -> None:
    later = answer(AnswerKind.LATER, until=AFTERNOON + 2 * HOUR)
    acting = replace(answer(), given_utc=AFTERNOON + HOUR / 4)
    other = replace(acting, person="Tobias")
    shorter = replace(later, given_utc=acting.given_utc, until_utc=AFTERNOON + HOUR / 2)
    now = AFTERNOON + HOUR
    for word, is_silent in ((other, True), (acting, False), (shorter, False)):
        found = silence_asked("Ines", Tier.PREPARE, (later, word), now)
        assert (found is not None) is is_silent


def test_no_silence_passes_noon() -> None:
    for hour in range(24):
        local = datetime(2026, 4, 12, hour, 30, tzinfo=UTC)
        end = longest_silence(local)
        assert (end.hour, end.minute) == (12, 0)
        assert timedelta(0) < end - local <= timedelta(hours=24)


def test_nothing_is_called_about_a_night_that_no_longer_threatens() -> None:
    item = decided(called(ago=HOUR), assessed(**WARM, updated=MADE + HOUR), AFTERNOON)
    assert item.why is Reason.WAITING_TO_CLEAR


@pytest.mark.parametrize(
    ("is_over", "why"),
    [(True, Reason.HELD_ON_BAD_DATA), (False, Reason.NOBODY_ANSWERED)],
)
def test_nobody_is_called_to_start_once_the_cold_is_over(
    is_over: bool, why: Reason
) -> None:
    # The wet bulb stays below zero, so that those who began are not stood down yet.
    dry = {"air_c": frosty_hours(low_c=-5.0, high_c=5.0), "dewpoint_c": [-15.0] * 72}
    now = MORNING if is_over else BEFORE_DAWN
    past = told(Tier.ACT, said_revision=1, called_turn=1, called_utc=now - 2 * HOUR)
    past = replace(past, told_low_c=-9.0, told_running_by_utc=None)
    item = decided(past, assessed(now, updated=now - HOUR, **dry), now)
    assert item.why is why


def test_the_rules_of_waiting_hold_for_any_preparation_time() -> None:
    for hours in (0, 1, 6):
        rules = Rules(preparation=timedelta(hours=hours))
        decision = decide(
            {NIGHT: called(ago=2 * HOUR)}, AFTERNOON, assessed(), rules, last_turn=2
        )
        assert any(item.why is Reason.NOBODY_ANSWERED for item in decision.nights)
