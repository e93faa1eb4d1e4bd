"""The state under faults of the disk: warnings go on, and nothing good is lost."""

import os
import sqlite3
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.errors import StoreBusyError, StoreError
from frostalert.model.alarm import AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.notice import (
    Decision,
    NightDecision,
    NightHistory,
    Reason,
    Receipt,
    Subject,
)
from frostalert.model.reading import Reading
from frostalert.store import connection, steady
from frostalert.store.backup import (
    FOLDER,
    KEEP,
    Condition,
    examine,
    make_backup,
    restore_newest,
)
from frostalert.store.open import FILE_NAME, opened_beside
from frostalert.store.steady import FailoverStore
from tests.store.test_store import an_answer, message

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
NIGHT = date(2026, 4, 12)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "state"


@pytest.fixture
def store(folder: Path) -> Iterator[FailoverStore]:
    opened = FailoverStore(folder, NOW)
    yield opened
    opened.database.close()


def decision(revision: int = 1) -> Decision:
    history = NightHistory(night=NIGHT, told=Tier.PREPARE, revision=revision)
    item = NightDecision(
        night=NIGHT,
        say=Subject.PREPARE,
        why=Reason.TIER_ROSE,
        detail="d",
        remember=history,
    )
    return Decision(nights=(item,), next_look_utc=NOW)


def trouble(store: FailoverStore) -> str:
    return store.trouble or ""


def keys(store: FailoverStore) -> set[str]:
    return {row.message.key for row in store.unsent(NOW, is_forced=True)}


def fill_up(store: FailoverStore) -> None:
    """Let no page be added any more, as on a full disk."""
    with store.database.reading() as connection:
        count = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {count}")


def test_a_full_disk_sends_from_memory_and_comes_back(store: FailoverStore) -> None:
    store.queue([message("before")], NOW)
    fill_up(store)
    for number in range(80):
        store.queue([message(f"k{number}", text="t" * 400)], NOW)
    assert "full" in trouble(store)
    assert keys(store) == {"before", *(f"k{number}" for number in range(80))}
    assert store.try_to_return(NOW)
    assert trouble(store) == ""
    assert len(keys(store)) == 81
    with store.database.reading() as connection:
        assert connection.execute("PRAGMA quick_check").fetchone()[0] == "ok"


def test_what_was_sent_while_in_memory_is_not_sent_again(store: FailoverStore) -> None:
    store.queue([message("a"), message("b")], NOW)
    fill_up(store)
    store.queue([message("c", text="t" * 40_000)], NOW)
    assert trouble(store)
    for row in store.unsent(NOW, is_forced=True):
        store.mark_sending(row, NOW)
        store.mark_sent(row, Receipt(provider_id="p", is_confirmed=True), NOW)
    assert store.try_to_return(NOW)
    assert keys(store) == set()
    assert store.counts() == {"sent": 3}


def test_a_file_that_cannot_be_read_at_all_begins_in_memory(folder: Path) -> None:
    folder.mkdir()
    (folder / FILE_NAME).mkdir()
    store = FailoverStore(folder, NOW)
    assert trouble(store)
    store.record_decision(decision(), [message("m")], NOW)
    assert keys(store) == {"m"}
    assert not store.try_to_return(NOW)
    (folder / FILE_NAME).rmdir()
    assert store.try_to_return(NOW)
    assert keys(store) == {"m"}
    store.database.close()


@pytest.mark.parametrize("harm", ["header", "page", "empty"])
def test_a_damaged_file_is_set_aside_and_the_copy_takes_its_place(
    folder: Path, harm: str
) -> None:
    first = FailoverStore(folder, NOW)
    first.record_decision(decision(3), [message("m", text="t" * 9000)], NOW)
    assert make_backup(first.database, NOW) is not None
    first.database.close()
    path = folder / FILE_NAME
    content = bytearray(path.read_bytes())
    if harm == "empty":
        content = bytearray()
    start = 0 if harm == "header" else 4096
    content[start : start + 4096] = b"\xff" * len(content[start : start + 4096])
    path.write_bytes(content)

    store = FailoverStore(folder, NOW)
    assert store.trouble is None
    assert store.repaired is not None
    assert "the copy frostalert-2026-04-12.sqlite3 took its place" in store.repaired
    assert store.night_histories(NOW)[NIGHT].revision == 3
    # It may have been sent since the copy was made: a repeat says so.
    [row] = store.unsent(NOW, is_forced=True)
    assert row.state.value == "sending"
    [aside] = folder.glob("*.damaged-*")
    assert aside.read_bytes() == bytes(content)
    store.database.close()


def test_damage_without_a_copy_begins_empty_and_says_so(folder: Path) -> None:
    folder.mkdir()
    (folder / FILE_NAME).write_bytes(b"no database at all" * 500)
    store = FailoverStore(folder, NOW)
    assert store.repaired is not None
    assert "begins empty" in store.repaired
    assert store.night_histories(NOW) == {}
    store.database.close()


def test_a_newer_form_is_left_alone_and_warnings_go_on(folder: Path) -> None:
    FailoverStore(folder, NOW).database.close()
    with sqlite3.connect(folder / FILE_NAME) as file:
        file.execute("INSERT INTO migration VALUES ('9999-from-the-future')")
    file.close()
    before = (folder / FILE_NAME).read_bytes()
    store = FailoverStore(folder, NOW)
    assert "newer frostalert" in trouble(store)
    store.queue([message("m")], NOW)
    assert keys(store) == {"m"}
    assert not store.try_to_return(NOW)
    assert (folder / FILE_NAME).read_bytes() == before


def test_revisions_never_go_back_when_the_state_returns(folder: Path) -> None:
    first = FailoverStore(folder, NOW)
    first.record_decision(decision(7), [message("old")], NOW)
    first.database.close()
    path = folder / FILE_NAME
    hidden = folder / "hidden"
    path.rename(hidden)
    path.mkdir()
    store = FailoverStore(folder, NOW)
    store.record_decision(decision(1), [message("new")], NOW)
    path.rmdir()
    hidden.rename(path)
    assert store.try_to_return(NOW)
    assert store.night_histories(NOW)[NIGHT].revision == 7
    assert keys(store) == {"old", "new"}
    store.database.close()


def test_seven_daily_copies_are_kept_and_each_is_whole(store: FailoverStore) -> None:
    store.queue([message("m")], NOW)
    for day in range(10):
        moment = NOW + timedelta(days=day)
        assert make_backup(store.database, moment) is not None
        assert make_backup(store.database, moment) is None
    copies = sorted((store.database.path.parent / FOLDER).iterdir())
    assert len(copies) == KEEP
    assert all(examine(copy) is Condition.SOUND for copy in copies)
    assert copies[-1].name == "frostalert-2026-04-21.sqlite3"
    assert copies[-1].stat().st_mode & 0o077 == 0


def test_another_program_that_holds_the_file_silences_nothing(
    store: FailoverStore, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "_BUSY_S", 0.05)
    store.database.close()
    store.queue([message("before")], NOW)
    other = sqlite3.connect(folder / FILE_NAME, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreBusyError):
        store.queue([message("a")], NOW)
    monkeypatch.setattr(steady, "_PATIENCE_S", 0.0)
    store.queue([message("b")], NOW)
    assert "locked" in trouble(store)
    assert keys(store) == {"before", "b"}
    assert not store.try_to_return(NOW)
    other.execute("ROLLBACK")
    other.close()
    assert store.try_to_return(NOW)
    assert keys(store) == {"before", "b"}


def test_short_waits_for_the_file_do_not_add_up(
    store: FailoverStore, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "_BUSY_S", 0.01)
    monkeypatch.setattr(steady, "_PATIENCE_S", 0.3)
    store.database.close()
    for number in range(4):
        other = sqlite3.connect(folder / FILE_NAME, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreBusyError):
            store.queue([message(f"x{number}")], NOW)
        other.execute("ROLLBACK")
        other.close()
        store.queue([message(f"k{number}")], NOW)
        time.sleep(0.1)
    assert store.trouble is None


def test_answers_are_seen_while_the_state_is_in_memory(
    store: FailoverStore, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = an_answer(AnswerKind.ACTING)

    def fails(*_: object) -> None:
        message = "the file cannot be used by us"
        raise StoreError(message)

    fill_up(store)
    for number in range(80):
        store.queue([message(f"k{number}", text="t" * 400)], NOW)
    assert "full" in trouble(store)
    monkeypatch.setattr(steady, "migrate", fails)
    # The page and the commands can only reach the file.
    reading = Reading(sensor="Post", at_utc=NOW, air_c=-1.0)
    with opened_beside(folder) as beside:
        beside.record_answer(answer)
        beside.add_readings([reading])
    assert not store.try_to_return(NOW)
    assert store.recent_answers(NOW) == (answer,)
    assert [item.air_c for item in store.readings_since(NOW)] == [-1.0]
    later = replace(answer, given_utc=NOW + timedelta(minutes=3))
    with opened_beside(folder) as beside:
        beside.record_answer(later)
    assert not store.try_to_return(NOW)
    assert store.recent_answers(NOW) == (later,)
    monkeypatch.undo()
    assert store.try_to_return(NOW)
    assert store.recent_answers(NOW) == (later,)


def test_a_restored_copy_is_closed_to_others(
    folder: Path, store: FailoverStore
) -> None:
    store.queue([message("kept")], NOW)
    make_backup(store.database, NOW)
    store.database.close()
    path = folder / FILE_NAME
    path.write_bytes(b"damaged" * 1000)
    before = os.umask(0o022)
    try:
        assert restore_newest(path) is not None
    finally:
        os.umask(before)
    assert path.stat().st_mode & 0o777 == 0o600
