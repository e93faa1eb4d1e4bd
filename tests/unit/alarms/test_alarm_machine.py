"""The alarm as a machine that Hypothesis drives: forecasts, gaps, answers, time."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from frostalert.alarms.answering import answers_about, longest_silence, open_alarms
from frostalert.alarms.answers import acknowledged_by, silence_asked
from frostalert.alarms.episodes import alarm_of
from frostalert.forecast.nws import parse_grid
from frostalert.model.alarm import AlarmState, Answer, AnswerKind
from frostalert.model.assessment import Assessment, Tier
from frostalert.model.forecast import ForecastRun
from frostalert.model.notice import (
    ENDINGS,
    Decision,
    NightDecision,
    NightHistory,
    Reason,
    Subject,
)
from tests.support.decided import decide
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import make_holding
from tests.support.judged import assess, cannot_judge_anything

START = datetime(2026, 4, 12, 18, tzinfo=UTC)
HOLDING = make_holding()
LAST_TURN = 3
_ALARMS = {
    Subject.OUTLOOK: Tier.OUTLOOK,
    Subject.PREPARE: Tier.PREPARE,
    Subject.ACT: Tier.ACT,
}


class AlarmMachine(RuleBasedStateMachine):
    """One site through some days, with everything that people and forecasts do."""

    @initialize()
    def begin(self) -> None:
        self.now = START
        self.run: ForecastRun | None = None
        self.history: dict[date, NightHistory] = {}
        self.answers: tuple[Answer, ...] = ()
        self.waking: dict[tuple[date, Subject, tuple[int, ...]], int] = {}
        self.last: Decision | None = None
        self.assessment: Assessment | None = None

    @rule(
        low_c=st.sampled_from([-8.0, -4.0, -2.5, -1.0, 0.5, 3.0, 9.0]),
        hours=st.integers(1, 8),
    )
    def new_forecast(self, low_c: float, hours: int) -> None:
        self.now += timedelta(hours=hours)
        self._take(frosty_hours(low_c=low_c, high_c=low_c + 14.0, hours=96))

    @rule(hours=st.integers(1, 4))
    def forecast_with_a_gap(self, hours: int) -> None:
        self.now += timedelta(hours=hours)
        air = frosty_hours(low_c=-3.0, hours=96)
        for hour in range(18, 22):
            air[hour] = None
        self._take(air)

    @rule(hours=st.integers(1, 30))
    def silence_of_the_source(self, hours: int) -> None:
        self.now += timedelta(hours=hours)
        self._decide()

    @rule(minutes=st.integers(1, 90))
    def time_passes(self, minutes: int) -> None:
        self.now += timedelta(minutes=minutes)
        self._decide()

    @rule()
    def look_again_at_once(self) -> None:
        self._decide()

    @rule(hours=st.integers(1, 5))
    def clock_is_set_back(self, hours: int) -> None:
        self.now -= timedelta(hours=hours)
        self._decide()

    @rule(
        kind=st.sampled_from([AnswerKind.ACTING, AnswerKind.NOT_NEEDED]),
        person=st.sampled_from(["Ines", "Tobias"]),
    )
    def somebody_answers(self, kind: AnswerKind, person: str) -> None:
        given = answers_about(open_alarms(self._alarms()), person, kind, self.now)
        self.answers = (*self.answers, *given)
        for alarm in open_alarms(self._alarms()):
            assert alarm.state is not AlarmState.UNANSWERED
            assert not alarm.is_unjudged

    @rule()
    def somebody_puts_it_off(self) -> None:
        until = longest_silence(self.now)
        given = answers_about(
            open_alarms(self._alarms()), "Ines", AnswerKind.LATER, self.now, until
        )
        self.answers = (*self.answers, *given)

    @rule()
    def the_process_dies(self) -> None:
        # What was decided is all that is left; the same look follows.
        self.history = {night: replace(h) for night, h in self.history.items()}
        self._decide()

    def _take(self, air: list[float | None]) -> None:
        text = grid_text(
            air_c=air,
            first=self.now.replace(minute=0, second=0, microsecond=0),
            updated=self.now,
        )
        self.run = parse_grid(text, self.now)
        self._decide()

    def _alarms(self) -> list:  # type: ignore[type-arg]
        return [alarm_of(history, self.answers) for history in self.history.values()]

    def _decide(self) -> None:
        if self.run is None:
            self.assessment = cannot_judge_anything(HOLDING, self.now, "nothing yet")
        else:
            try:
                self.assessment = assess(HOLDING, self.run, self.now)
            except ValueError:
                self.assessment = cannot_judge_anything(HOLDING, self.now, "unusable")
        before = dict(self.history)
        decision = decide(
            self.history,
            self.now,
            self.assessment,
            HOLDING.rules,
            answers=self.answers,
            last_turn=LAST_TURN,
        )
        self.last = decision
        for item in decision.nights:
            self._check(before.get(item.night), item)
            self.history[item.night] = item.remember

    def _check(self, past: NightHistory | None, item: NightDecision) -> None:
        assert item.detail
        before = past or NightHistory(night=item.night)
        if item.say in ENDINGS:
            self._check_ending(before, item)
        if item.remember.is_closed:
            # What was over, with a word or without, is news when it comes back.
            for mark in [m for m in self.waking if m[0] == item.night]:
                del self.waking[mark]
        if item.say in _ALARMS:
            self._check_alarm(before, item)

    def _check_ending(self, before: NightHistory, item: NightDecision) -> None:
        # Only of what was told, only on data that can carry it.
        assert before.told.rank
        assert not before.is_closed
        if item.say is Subject.WITHDRAWN:
            assert self.assessment is not None
            facts = self.assessment.forecast
            assert facts is not None
            assert facts.age_word in ("fresh", "ageing")

    def _check_alarm(self, before: NightHistory, item: NightDecision) -> None:
        assert item.remember.episode is not None
        assert item.turns
        assert max(item.turns) <= LAST_TURN
        step = 0 if item.why is Reason.NOBODY_ANSWERED else 1
        assert item.remember.revision == before.revision + step
        if item.why is Reason.NOBODY_ANSWERED:
            assert acknowledged_by(before, self.answers) is None
        if item.is_waking and item.say is not None:
            mark = (item.night, item.say, item.turns[-1:])
            self.waking[mark] = self.waking.get(mark, 0) + 1
            assert self.waking[mark] == 1, f"woken twice: {mark}"

    @invariant()
    def a_risky_night_is_never_silent_without_a_reason(self) -> None:
        if self.last is None or self.assessment is None:
            return
        known = {item.night: item for item in self.last.nights}
        for night in self.assessment.nights:
            item = known[night.night]
            if night.tier in (Tier.PREPARE, Tier.ACT):
                assert item.remember.told.rank >= night.tier.rank
                assert not item.remember.is_closed
            if night.tier is Tier.CANNOT_JUDGE and not item.remember.told.rank:
                assert item.remember.cannot_judge_told_utc is not None

    @invariant()
    def looking_twice_says_nothing_twice(self) -> None:
        if self.assessment is None:
            return
        again = decide(
            self.history,
            self.now,
            self.assessment,
            HOLDING.rules,
            answers=self.answers,
            last_turn=LAST_TURN,
        )
        # A call that was due waits for one look when something else was said.
        others = [i for i in again.announced if i.why is not Reason.NOBODY_ANSWERED]
        assert others == []

    @invariant()
    def there_is_always_a_next_look_within_the_hour(self) -> None:
        if self.last is not None:
            wait = self.last.next_look_utc - self.now
            assert timedelta(0) < wait <= timedelta(hours=1)

    @invariant()
    def silence_always_ends(self) -> None:
        if self.last is not None:
            asked = max((answer.given_utc for answer in self.answers), default=START)
            far = max(self.now, asked) + timedelta(hours=25)
            for tier in (Tier.OUTLOOK, Tier.PREPARE, Tier.ACT):
                assert silence_asked("Ines", tier, self.answers, far) is None


TestAlarmMachine = AlarmMachine.TestCase
TestAlarmMachine.settings = settings(max_examples=30, stateful_step_count=25)
