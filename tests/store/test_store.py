"""The state: real SQLite, as the pipeline uses it."""

import sqlite3
import zlib
from base64 import b64decode
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from frostalert.errors import StoreBusyError, StoreVersionError
from frostalert.forecast.nws import parse_grid
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import NightKind, Tier
from frostalert.model.channel import ChannelKind
from frostalert.model.learned import (
    ForecastObservation,
    LeadClass,
    NowcastPair,
    PairOrigin,
)
from frostalert.model.notice import (
    Attachment,
    Decision,
    Fallback,
    Message,
    MessageClass,
    NightDecision,
    NightHistory,
    OutboxState,
    Reason,
    Receipt,
    Subject,
)
from frostalert.ports import Fault, Fetched, SourceMemory
from frostalert.store import legible
from frostalert.store.lock import StateLock
from frostalert.store.open import FILE_NAME, open_store
from frostalert.store.state import StateStore
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.queued import mail_to_ines

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
NIGHT = date(2026, 4, 12)


@pytest.fixture
def store(tmp_path: Path):  # type: ignore[no-untyped-def]
    opened = open_store(tmp_path)
    yield opened
    opened.database.close()


def an_answer(kind: AnswerKind, until_utc: datetime | None = None) -> Answer:
    return Answer(
        person="Ines",
        night=NIGHT,
        tier=Tier.PREPARE,
        revision=2,
        kind=kind,
        given_utc=NOW,
        until_utc=until_utc,
    )


def message(key: str = "k1", **changes: object) -> Message:
    own: dict[str, object] = {
        "key": key,
        "message_class": MessageClass.WAKING,
        "night": NIGHT,
        "nights": (NIGHT,),
        "message_id": "<1@x>",
    }
    deadline = NOW + timedelta(hours=9)
    return mail_to_ines(Subject.PREPARE, deadline, **own | changes)


def run_fetched(**changes: object) -> Fetched:
    return Fetched(
        run=parse_grid(grid_text(**changes), NOW), memory=SourceMemory(place="TST 1,2")
    )


def test_files_of_a_mail_come_back_and_do_not_go_with_its_text(
    store: StateStore,
) -> None:
    file = Attachment(name="p.ics", media_type="text/calendar", content=b"\x00\xff")
    spare = Fallback(
        channel=ChannelKind.SMS, address="+1", subject="", text="t", html=None
    )
    store.queue([message(attachments=(file,), fallback=spare)], NOW)
    [row] = store.unsent(NOW, is_forced=True)
    assert row.message.attachments == (file,)
    assert store.fall_back(row, NOW)
    rows = store.unsent(NOW, is_forced=True)
    assert [r.message.attachments for r in rows if r.message.channel == "sms"] == [()]


def test_a_run_comes_back_as_it_went(store: StateStore) -> None:
    air = frosty_hours()
    air[4] = None
    fetched = run_fetched(air_c=air, minimum_c=-4.0)
    assert store.save_run(fetched, "nws", NOW)
    [back] = store.recent_runs(NOW - timedelta(days=2), NOW)
    assert fetched.run is not None
    assert np.array_equal(back.hours.air_c, fetched.run.hours.air_c, equal_nan=True)
    assert back.night_minimums == fetched.run.night_minimums
    assert back.updated_utc == fetched.run.updated_utc
    assert store.source_memory("nws") == SourceMemory(place="TST 1,2")


def test_a_run_that_was_kept_before_runs_were_packed_is_read(store: StateStore) -> None:
    store.save_run(run_fetched(), "nws", NOW)
    with store.database.writing() as connection:
        [(packed,)] = connection.execute("SELECT content FROM forecast_run")
        plain = zlib.decompress(b64decode(packed)).decode()
        connection.execute("UPDATE forecast_run SET content = ?", (plain,))
    assert len(packed) < len(plain) / 2
    [back] = store.recent_runs(NOW - timedelta(days=2), NOW)
    expected = run_fetched().run
    assert expected is not None
    assert np.array_equal(back.hours.air_c, expected.hours.air_c)


class _Log:
    """Keeps what is logged, whatever other tests have switched off."""

    def __init__(self, told: list[str]) -> None:
        self._told = told

    def exception(self, words: str, *given: object) -> None:
        self._told.append(words % given)


@pytest.mark.parametrize("content", ["", "{", "AAAA", "x", '{"hours": 3}'])
def test_a_damaged_run_hides_no_other(
    store: StateStore, content: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    monkeypatch.setattr(legible, "_LOG", _Log(told))
    store.save_run(run_fetched(), "nws", NOW)
    with store.database.writing() as connection:
        connection.execute(
            "INSERT INTO forecast_run (source, place, updated_utc, fetched_utc, "
            "content) SELECT 'other', place, updated_utc, fetched_utc, ? "
            "FROM forecast_run",
            (content,),
        )
    assert len(store.recent_runs(NOW - timedelta(days=2), NOW)) == 1
    assert len(told) == 1
    assert len(store.runs_at(NOW)) == 1
    assert len(store.runs_between(NOW - timedelta(days=1), NOW)) <= 1
    assert store.unreadable_rows() == 1
    # It is told once, though every look comes upon it.
    assert len(told) == 1


def test_a_damaged_row_hides_no_other(store: StateStore) -> None:
    store.queue([message("a"), message("b")], NOW)
    store.record_decision(decision(), [], NOW)
    answer = an_answer(AnswerKind.ACTING)
    store.record_answer(answer)
    store.record_answer(replace(answer, person="Tobias"))
    with store.database.writing() as connection:
        connection.execute("UPDATE outbox SET attachments = '[{' WHERE row_id = 1")
        connection.execute("UPDATE answer SET night = 'x' WHERE answer_id = 1")
        connection.execute(
            "INSERT INTO night_history SELECT '2026-04-11', '{' FROM night_history"
        )
    assert [row.message.key for row in store.unsent(NOW, is_forced=True)] == ["b"]
    assert store.counts() == {"dead": 1, "due": 1}
    assert store.oldest_due_utc(NOW) == NOW
    assert set(store.night_histories(NOW)) == {NIGHT}
    assert len(store.recent_answers(NOW)) == 1
    assert store.unreadable_rows() == 3


def test_an_older_run_never_replaces_a_newer(store: StateStore) -> None:
    assert store.save_run(run_fetched(), "nws", NOW)
    assert not store.save_run(run_fetched(), "nws", NOW)
    older = run_fetched(updated=FIRST + timedelta(hours=1))
    assert not store.save_run(older, "nws", NOW)
    newer = run_fetched(updated=FIRST + timedelta(hours=9))
    assert store.save_run(newer, "nws", NOW)
    runs = store.recent_runs(NOW - timedelta(days=2), NOW)
    assert [run.updated_utc.hour for run in runs] == [21, 18]


def test_all_runs_of_a_day_and_a_half_are_the_same_at_the_next_look(
    store: StateStore,
) -> None:
    # What is worked out of a run is kept by the run itself.
    kept = run_fetched().run
    assert kept is not None
    since_utc, titles = NOW - timedelta(hours=36), ("nws", "met-norway", "open-meteo")
    for hour in range(36):
        for title in titles:
            updated_utc = since_utc + timedelta(hours=hour)
            run = replace(kept, source=title, updated_utc=updated_utc)
            assert store.save_run(Fetched(run=run, memory=SourceMemory()), title, NOW)
    first, second = (store.recent_runs(since_utc, NOW) for _ in range(2))
    assert len(first) == 36 * len(titles)
    assert all(one is other for one, other in zip(first, second, strict=True))


def test_the_newest_run_is_given_however_old_it_is(store: StateStore) -> None:
    store.save_run(run_fetched(), "nws", NOW)
    assert len(store.recent_runs(NOW + timedelta(days=9), NOW)) == 1


def decision(said: Subject | None = Subject.PREPARE) -> Decision:
    history = NightHistory(
        night=NIGHT,
        told=Tier.PREPARE,
        told_low_c=-3.5,
        told_running_by_utc=NOW,
        last_forecast_utc=NOW,
        revision=2,
    )
    item = NightDecision(
        night=NIGHT, say=said, why=Reason.TIER_ROSE, detail="d", remember=history
    )
    return Decision(nights=(item,), next_look_utc=NOW)


def test_a_decision_and_its_messages_are_kept_together(store: StateStore) -> None:
    assert store.record_decision(decision(), [message()], NOW) == 1
    assert store.night_histories(NOW)[NIGHT] == decision().nights[0].remember
    [row] = store.unsent(NOW, is_forced=False)
    assert (row.state, row.attempts) == (OutboxState.DUE, 0)
    assert row.message == message()


def test_a_failing_decision_leaves_nothing(store: StateStore) -> None:
    broken = message(message_id=None)
    with pytest.raises(Exception, match="NOT NULL"):
        store.record_decision(decision(), [message("k0"), broken], NOW)
    assert store.night_histories(NOW) == {}
    assert store.unsent(NOW, is_forced=True) == []


def test_the_same_message_is_queued_once(store: StateStore) -> None:
    assert store.queue([message()], NOW) == 1
    assert store.queue([message(text="other")], NOW) == 0


def test_the_life_of_a_message(store: StateStore) -> None:
    store.queue([message()], NOW)
    [row] = store.unsent(NOW, is_forced=False)
    store.mark_sending(row, NOW)
    later = NOW + timedelta(minutes=5)
    store.mark_failed(row, "451 later", later, kind="try again", now_utc=NOW)
    assert store.unsent(NOW, is_forced=False) == []
    assert len(store.unsent(NOW, is_forced=True)) == 1
    [row] = store.unsent(later, is_forced=False)
    assert (row.attempts, row.last_error) == (1, "451 later")
    store.mark_sent(row, Receipt(provider_id="p", is_confirmed=True), later)
    assert store.unsent(later, is_forced=True) == []
    assert store.counts() == {"sent": 1}


def test_an_interrupted_sending_is_seen_as_such(store: StateStore) -> None:
    store.queue([message()], NOW)
    [row] = store.unsent(NOW, is_forced=False)
    store.mark_sending(row, NOW)
    [row] = store.unsent(NOW, is_forced=False)
    assert row.state is OutboxState.SENDING


def test_a_try_planned_before_the_clock_was_set_back_is_due(store: StateStore) -> None:
    store.queue([message(deadline_utc=NOW + timedelta(days=9))], NOW)
    [row] = store.unsent(NOW, is_forced=False)
    store.mark_failed(
        row, "later", NOW + timedelta(days=2), kind="try again", now_utc=NOW
    )
    assert len(store.unsent(NOW, is_forced=False)) == 1


def test_a_later_message_overtakes_the_unsent_alarms_of_its_night(
    store: StateStore,
) -> None:
    store.record_decision(decision(), [message("alarm")], NOW)
    newer = message("newer", subject_kind=Subject.ACT)
    store.record_decision(decision(Subject.ACT), [newer], NOW)
    assert [row.message.key for row in store.unsent(NOW, is_forced=True)] == ["newer"]


@pytest.mark.parametrize("was_sent", [True, False], ids=["told", "never reached"])
def test_an_ending_goes_only_to_those_whom_the_beginning_reached(
    store: StateStore, *, was_sent: bool
) -> None:
    store.record_decision(decision(), [message("alarm")], NOW)
    if was_sent:
        [row] = store.unsent(NOW, is_forced=False)
        store.mark_sent(row, Receipt(provider_id="p", is_confirmed=True), NOW)
    ending = message("end", subject_kind=Subject.WITHDRAWN)
    store.record_decision(decision(Subject.WITHDRAWN), [ending], NOW)
    waiting = [row.message.key for row in store.unsent(NOW, is_forced=True)]
    assert waiting == (["end"] if was_sent else [])


def test_a_held_message_waits_and_a_newer_one_takes_its_place(
    store: StateStore,
) -> None:
    until = NOW + timedelta(hours=3)
    held = message("held", held_until_utc=until, held_reason="quiet hours")
    store.record_decision(decision(), [held], NOW)
    assert store.unsent(NOW, is_forced=True) == []
    [row] = store.unsent(until, is_forced=False)
    assert row.message.held_reason == "quiet hours"
    store.record_decision(decision(Subject.ACT), [message("now")], NOW)
    assert [row.message.key for row in store.unsent(until, is_forced=True)] == ["now"]


def test_what_quiet_hours_hold_till_morning_overtakes_nothing_that_can_go_now(
    store: StateStore,
) -> None:
    """A mail that is to be tried again reaches them hours before the newer one."""
    store.record_decision(decision(), [message("alarm")], NOW)
    morning = NOW + timedelta(hours=10)
    newer = message("newer", held_until_utc=morning, held_reason="quiet hours")
    store.record_decision(decision(Subject.ACT), [newer], NOW)
    assert [row.message.key for row in store.unsent(NOW, is_forced=True)] == ["alarm"]
    # Of two that are held, the newer alone comes, if it comes no later.
    store.record_decision(
        decision(Subject.ACT),
        [message("newest", held_until_utc=morning, held_reason="quiet hours")],
        NOW,
    )
    waiting = [row.message.key for row in store.unsent(morning, is_forced=True)]
    assert waiting == ["alarm", "newest"]


SPARE = Fallback(
    channel=ChannelKind.SMS, address="+15095550142", subject="", text="t", html=None
)


@pytest.mark.parametrize(
    ("kind", "failures"),
    [("bad recipient", 1), ("misconfigured", 1), ("try again", 2)],
)
def test_the_other_channel_takes_over(
    store: StateStore, kind: str, failures: int
) -> None:
    store.queue([message("k", fallback=SPARE)], NOW)
    retry = None if kind == "bad recipient" else NOW
    for count in range(1, 4):
        rows = store.unsent(NOW, is_forced=True)
        spare = [row for row in rows if row.message.channel is ChannelKind.SMS]
        assert bool(spare) is (count > failures)
        for row in rows:
            if row.message.channel is ChannelKind.EMAIL:
                store.mark_sending(row, NOW)
                store.mark_failed(row, "no", retry, kind=kind, now_utc=NOW)
    rows = store.unsent(NOW, is_forced=True)
    assert [r.message.key for r in rows if r.message.channel is ChannelKind.SMS] == [
        "k|fallback"
    ]


def test_what_goes_out_another_way_is_late_from_when_it_was_due(
    store: StateStore,
) -> None:
    later = NOW + timedelta(hours=1)
    store.queue([message("k", fallback=SPARE)], NOW)
    [row] = store.unsent(NOW, is_forced=True)
    store.mark_sending(row, later)
    store.mark_failed(row, "no", None, kind="bad recipient", now_utc=later)
    [spare] = store.unsent(later, is_forced=False)
    assert spare.message.channel is ChannelKind.SMS
    assert spare.due_utc == NOW


def test_a_proof_of_arrival_is_never_undone(store: StateStore) -> None:
    store.queue([message("k", channel=ChannelKind.SMS)], NOW)
    [row] = store.unsent(NOW, is_forced=False)
    store.mark_sent(row, Receipt(provider_id="p", is_confirmed=True), NOW)
    [waiting] = store.awaiting_proof(NOW)
    store.mark_delivered(waiting, NOW)
    store.mark_undelivered(waiting, "late and wrong", NOW)
    store.mark_sent(waiting, Receipt(provider_id="p", is_confirmed=True), NOW)
    assert store.counts() == {"delivered": 1}


def test_answers_come_back_as_they_were_given(store: StateStore) -> None:
    answer = an_answer(AnswerKind.LATER, NOW + timedelta(hours=2))
    store.record_answer(answer)
    assert store.recent_answers(NOW) == (answer,)


def test_the_pairs_of_the_nowcast_come_back_and_a_night_has_one(
    store: StateStore,
) -> None:
    first = NowcastPair(night=NIGHT, guess_c=1.5, low_c=-0.5, version=1)
    before = NowcastPair(
        night=NIGHT - timedelta(days=1), guess_c=2.0, low_c=2.5, version=1
    )
    again = NowcastPair(night=NIGHT, guess_c=1.25, low_c=-0.5, version=2)
    store.save_nowcasts([first, before])
    store.save_nowcasts([again])
    store.save_nowcasts([])
    assert store.nowcasts() == (before, again)


def test_what_did_not_arrive_is_reported_by_channel(store: StateStore) -> None:
    store.queue([message("a"), message("b")], NOW)
    first, second = store.unsent(NOW, is_forced=False)
    store.mark_failed(first, "550 gone", None, kind="bad recipient", now_utc=NOW)
    channel = {
        "email": "1 of our messages by email may not have arrived; "
        "the last answer was: 550 gone"
    }
    # The other one is under way: it may reach her yet.
    assert store.delivery_problems(NOW) == channel
    store.mark_failed(second, "no", None, kind="unknown outcome", now_utc=NOW)
    assert store.delivery_problems(NOW)["unreached Ines 2026-04-12"] == (
        'Ines did not get "get ready" for the night of Sun Apr 12: phone Ines'
    )
    assert store.unreached_people(NOW) == {"Ines"}
    store.mark_sent(second, Receipt(provider_id="p", is_confirmed=True), NOW)
    assert store.delivery_problems(NOW + timedelta(days=2)) == {}


def test_faults_and_marks_are_kept(store: StateStore) -> None:
    fault = Fault(key="config", detail="d", since_utc=NOW, told_utc=None)
    store.save_faults({"config": fault}, [], NOW)
    assert store.open_faults() == {"config": fault}
    store.save_faults({}, [], NOW)
    assert store.open_faults() == {}
    assert store.read_mark("daily line") is None
    store.write_mark("daily line", "2026-04-12")
    store.write_mark("daily line", "2026-04-13")
    assert store.read_mark("daily line") == "2026-04-13"


def test_old_runs_are_forgotten(store: StateStore) -> None:
    store.save_run(run_fetched(), "nws", NOW)
    assert store.forget_runs_before(NOW - timedelta(days=1)) == 0
    assert store.forget_runs_before(NOW + timedelta(days=1)) == 1


def test_commits_are_durable_and_opening_again_changes_nothing(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    with store.database.reading() as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        # 2 is FULL: with WAL only that syncs every commit (SQLite documentation).
        assert connection.execute("PRAGMA synchronous").fetchone()[0] == 2
    store.queue([message()], NOW)
    store.database.close()
    again = open_store(tmp_path)
    assert again.counts() == {"due": 1}
    again.database.close()


def test_a_database_of_a_newer_program_is_refused(tmp_path: Path) -> None:
    open_store(tmp_path).database.close()
    connection = sqlite3.connect(tmp_path / FILE_NAME)
    connection.execute("INSERT INTO migration VALUES ('9999-from-the-future')")
    connection.commit()
    connection.close()
    with pytest.raises(StoreVersionError, match="9999-from-the-future"):
        open_store(tmp_path)


def test_two_cannot_hold_the_state(tmp_path: Path) -> None:
    with (
        StateLock(tmp_path),
        pytest.raises(StoreBusyError, match="another frostalert"),
        StateLock(tmp_path),
    ):
        pass
    with StateLock(tmp_path):
        pass


def test_a_rehearsal_looks_only_at_the_forecast_given_last(tmp_path: Path) -> None:
    store = open_store(tmp_path, keeps_history=False)
    store.save_run(run_fetched(), "nws", NOW)
    older = run_fetched(updated=FIRST + timedelta(hours=1))
    assert store.save_run(older, "nws", NOW)
    [run] = store.recent_runs(NOW - timedelta(days=9), NOW)
    assert run.updated_utc == FIRST + timedelta(hours=1)
    store.database.close()


def test_the_same_answer_given_again_is_one_row(store: StateStore) -> None:
    answer = an_answer(AnswerKind.ACTING)
    for minutes in range(5):
        later = NOW + timedelta(minutes=minutes)
        store.record_answer(replace(answer, given_utc=later))
    assert [item.given_utc for item in store.recent_answers(NOW)] == [
        NOW + timedelta(minutes=4)
    ]
    store.record_answer(replace(answer, kind=AnswerKind.NOT_NEEDED))
    assert len(store.recent_answers(NOW)) == 2


def test_bodies_older_than_a_season_are_dropped(store: StateStore) -> None:
    old, new = NOW - timedelta(days=200), NOW - timedelta(days=100)
    store.queue([replace(message("old"), html="<p>long</p>")], old)
    store.queue([replace(message("waits"), html="<p>long</p>")], old)
    store.queue([replace(message("new"), html="<p>long</p>")], new)
    for row in store.unsent(old, is_forced=True):
        if row.message.key != "waits":
            store.mark_sending(row, old)
            store.mark_sent(row, Receipt(provider_id="p", is_confirmed=True), old)
    assert store.drop_bodies(NOW) == 1
    found = {row.message.key: row.message for row in store.last_messages(9)}
    assert (found["old"].text, found["old"].html) == ("", None)
    assert found["old"].attachments == ()
    assert found["waits"].html == found["new"].html == "<p>long</p>"
    assert store.drop_bodies(NOW) == 0


def test_an_archive_s_pair_stands_behind_a_night_of_one_s_own(
    store: StateStore,
) -> None:
    own = ForecastObservation(
        night=date(2025, 4, 2),
        source="open-meteo",
        kind=NightKind.RADIATION,
        forecast_low_c=1.0,
        observed_low_c=-1.0,
        lead=LeadClass.TOMORROW,
    )
    archived = replace(own, observed_low_c=-3.0, origin=PairOrigin.ARCHIVE)
    station = replace(
        archived, night=date(2025, 4, 3), origin=PairOrigin.ARCHIVE_STATION
    )
    store.save_pairs([archived, station], 2)
    store.save_pairs([own], 2)
    store.save_pairs([archived, replace(station, observed_low_c=-4.0)], 2)
    assert store.night_pairs() == (own, replace(station, observed_low_c=-4.0))
