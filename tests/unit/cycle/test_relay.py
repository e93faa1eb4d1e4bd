"""The relay and the faults: what is tried again, given up, told once and then daily."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.clock import FixedClock
from frostalert.cycle.deliver import Delivered, deliver_due
from frostalert.cycle.faults import note_faults
from frostalert.errors import DeliveryError, Refusal
from frostalert.messages.sms import shorten
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message, MessageClass, Receipt, Subject
from frostalert.ports import Fault
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.support.queued import mail_to_ines

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)


class Scripted:
    """A channel that answers as it is told."""

    kind = ChannelKind.EMAIL

    def __init__(self, *answers: Refusal | Exception | None) -> None:
        self.answers = list(answers)
        self.subjects: list[str] = []
        self.texts: list[str] = []
        self.repeats: list[bool] = []

    def send(self, message: Message, *, is_repeat: bool) -> Receipt:
        self.repeats.append(is_repeat)
        self.subjects.append(message.subject)
        self.texts.append(message.text)
        answer = self.answers.pop(0)
        if isinstance(answer, Refusal):
            raise DeliveryError(message.channel, answer, "scripted")
        if answer is not None:
            raise answer
        return Receipt(provider_id="p", is_confirmed=True)


def said(words: str) -> DeliveryError:
    return DeliveryError(ChannelKind.EMAIL, Refusal.TRY_AGAIN, words)


def queued(
    tmp_path: Path,
    *,
    life: timedelta = timedelta(hours=9),
    held: timedelta | None = None,
) -> StateStore:
    store = open_store(tmp_path)
    message = mail_to_ines(
        Subject.PREPARE,
        NOW + life,
        message_class=MessageClass.WAKING,
        held_until_utc=None if held is None else NOW + held,
    )
    store.queue([message], NOW)
    return store


def relay(store: StateStore, channel: Scripted, after: timedelta) -> Delivered:
    return deliver_due(store, {ChannelKind.EMAIL: channel}, FixedClock(NOW + after))


def test_trouble_that_passes_is_tried_again_after_growing_waits(tmp_path: Path) -> None:
    store = queued(tmp_path)
    channel = Scripted(Refusal.TRY_AGAIN, Refusal.TRY_AGAIN, None)
    assert relay(store, channel, timedelta(0)).waiting == 1
    assert relay(store, channel, timedelta(seconds=14)) == Delivered(0, 0, 0)
    assert relay(store, channel, timedelta(seconds=15)).waiting == 1
    assert relay(store, channel, timedelta(seconds=74)) == Delivered(0, 0, 0)
    assert relay(store, channel, timedelta(seconds=75)).sent == 1
    assert channel.repeats == [False, False, False]
    store.database.close()


def tries(store: StateStore, channel: Scripted, minutes: int) -> list[int]:
    """The minutes at which it was tried."""
    found = []
    for minute in range(minutes):
        before = len(channel.repeats)
        relay(store, channel, timedelta(minutes=minute))
        found += [minute] * (len(channel.repeats) - before)
    return found


def test_a_bad_mailbox_is_tried_twice_more_and_given_up(tmp_path: Path) -> None:
    store = queued(tmp_path)
    # Ordinary trouble before does not use these tries up.
    trouble = [Refusal.TRY_AGAIN] * 3 + [Refusal.BAD_RECIPIENT] * 3
    assert tries(store, Scripted(*trouble), 60) == [0, 1, 2, 4, 7, 16]
    assert store.counts() == {"dead": 1}
    store.database.close()


def test_a_mailbox_that_is_full_for_a_moment_gets_its_mail(tmp_path: Path) -> None:
    store = queued(tmp_path)
    assert tries(store, Scripted(Refusal.BAD_RECIPIENT, None), 60) == [0, 3]
    assert store.counts() == {"sent": 1}
    store.database.close()


def test_bad_content_is_given_up_at_once(tmp_path: Path) -> None:
    store = queued(tmp_path)
    assert relay(store, Scripted(Refusal.BAD_MESSAGE), timedelta(0)).dead == 1
    store.database.close()


def test_a_message_that_waited_says_by_how_much_it_is_late(tmp_path: Path) -> None:
    store = queued(tmp_path)
    channel = Scripted(Refusal.TRY_AGAIN, None)
    relay(store, channel, timedelta(0))
    relay(store, channel, timedelta(hours=7))
    assert channel.subjects == ["s", "(7 h late) s"]
    assert channel.texts[1].startswith("This comes 7 h late")
    store.database.close()


def test_a_message_that_was_held_for_the_morning_is_not_late(tmp_path: Path) -> None:
    store = queued(tmp_path, held=timedelta(hours=8))
    channel = Scripted(None)
    relay(store, channel, timedelta(hours=8, minutes=2))
    assert channel.subjects == ["s"]
    store.database.close()


def test_what_a_server_says_is_kept_without_addresses(tmp_path: Path) -> None:
    store = queued(tmp_path)
    words = "550 <ines@heron-bench.example> unknown, call +1 509 555 0142"
    relay(store, Scripted(said(words)), timedelta(0))
    [row] = store.unsent(NOW, is_forced=True)
    assert row.last_error == (
        "email: try again: 550 <an address> unknown, call a number"
    )
    store.database.close()


def test_an_unknown_outcome_is_repeated_rarely_and_as_a_repeat(tmp_path: Path) -> None:
    store = queued(tmp_path)
    # Ordinary trouble before does not use the repeats up.
    trouble = [Refusal.TRY_AGAIN] * 2 + [Refusal.UNKNOWN_OUTCOME] * 6
    channel = Scripted(*trouble)
    tries = []
    for minutes in range(300):
        before = len(channel.repeats)
        relay(store, channel, timedelta(minutes=minutes))
        tries += [minutes] * (len(channel.repeats) - before)
    assert channel.repeats == [False] * 3 + [True] * 5
    assert tries == [0, 1, 2, 3, 4, 14, 44, 104]
    assert store.counts() == {"unknown": 1}
    store.database.close()


def test_a_repeat_that_is_refused_for_now_stays_a_repeat(tmp_path: Path) -> None:
    store = queued(tmp_path)
    channel = Scripted(Refusal.UNKNOWN_OUTCOME, Refusal.TRY_AGAIN, None)
    for minutes in (0, 5, 30):
        relay(store, channel, timedelta(minutes=minutes))
    assert channel.repeats == [False, True, True]
    assert store.counts() == {"sent": 1}
    store.database.close()


def test_a_misconfigured_channel_is_tried_again_slowly(tmp_path: Path) -> None:
    store = queued(tmp_path)
    channel = Scripted(Refusal.MISCONFIGURED, None)
    assert relay(store, channel, timedelta(0)).waiting == 1
    assert relay(store, channel, timedelta(minutes=14)) == Delivered(0, 0, 0)
    assert relay(store, channel, timedelta(minutes=15)).sent == 1
    store.database.close()


def test_a_late_message_is_not_sent_as_fresh(tmp_path: Path) -> None:
    store = queued(tmp_path, life=timedelta(hours=1))
    channel = Scripted(None)
    assert relay(store, channel, timedelta(hours=2)).dead == 1
    assert channel.repeats == []
    store.database.close()


def test_a_broken_channel_gives_no_secret_away(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    store = queued(tmp_path)
    broken = Scripted(RuntimeError("password is marker-secret"))
    assert relay(store, broken, timedelta(0)).waiting == 1
    [row] = store.unsent(NOW, is_forced=True)
    assert "marker-secret" not in f"{row.last_error} {caplog.text}"
    store.database.close()


def noted(
    kept: dict[str, Fault],
    present: dict[str, str],
    now: datetime,
    patience: dict[str, timedelta] | None = None,
) -> tuple[dict[str, Fault], list[Fault]]:
    return note_faults(kept, present, now, patience=patience or {}, heard_utc=NOW)


def test_a_fault_is_told_once_then_daily_until_it_is_gone() -> None:
    kept, told = noted({}, {"config": "broken"}, NOW)
    assert [fault.key for fault in told] == ["config"]
    later = NOW + timedelta(hours=23)
    kept, told = noted(kept, {"config": "broken"}, later)
    assert told == []
    next_day = NOW + timedelta(hours=24)
    kept, told = noted(kept, {"config": "broken"}, next_day)
    assert len(told) == 1
    kept, told = noted(kept, {}, next_day)
    assert (kept, told) == ({}, [])


def test_a_fault_whose_word_reached_nobody_is_told_again() -> None:
    heard = NOW - timedelta(hours=1)
    kept, _ = note_faults({}, {"config": "broken"}, NOW, patience={}, heard_utc=heard)
    for hours, is_told in ((11, False), (12, True)):
        later = NOW + timedelta(hours=hours)
        _, told = note_faults(
            kept, {"config": "broken"}, later, patience={}, heard_utc=heard
        )
        assert bool(told) is is_told


def test_a_patient_fault_is_told_only_when_it_lasts() -> None:
    patience = {"source-nws": timedelta(hours=3)}
    kept, told = noted({}, {"source-nws": "away"}, NOW, patience)
    assert told == []
    later = NOW + timedelta(hours=3)
    kept, told = noted(kept, {"source-nws": "away"}, later, patience)
    assert len(told) == 1


def test_a_fault_told_in_the_future_is_told_again() -> None:
    kept, _ = noted({}, {"config": "broken"}, NOW)
    back = NOW - timedelta(days=3)
    _, told = noted(kept, {"config": "broken"}, back)
    assert len(told) == 1


@pytest.mark.parametrize(
    ("text", "places", "short"),
    [
        ("Apricots", 8, "Apricots"),
        ("Apricots by the lower lane", 14, "Apricots"),
        ("Supercalifragilistic", 8, "Supercal"),
        ("[[[[[[", 6, "[[["),
    ],
)
def test_names_are_cut_at_words_where_they_can(
    text: str, places: int, short: str
) -> None:
    assert shorten(text, places) == short
