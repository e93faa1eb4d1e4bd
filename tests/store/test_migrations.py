"""State written by an earlier version is brought to the present form."""

import hashlib
import sqlite3
from datetime import UTC, date, datetime
from pathlib import Path

from frostalert.model.assessment import Tier
from frostalert.model.notice import NightHistory
from frostalert.store.migrations import MIGRATIONS
from frostalert.store.open import FILE_NAME, open_store

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
NIGHT = date(2026, 4, 12)
FIRST_FORM_SHA256 = "ad99a9f8386f17aa50eca75be928dd1a784cf2e689a65a688446f446e8534a60"
OLD_HISTORY = (
    '{"told": "prepare", "told_low_c": -4.5, '
    '"told_danger_utc": "2026-04-13T09:00:00.000000Z", "clear_cycles": 1, '
    '"last_forecast_utc": "2026-04-12T18:00:00.000000Z", "revision": 2, '
    '"cannot_judge_told_utc": null, "is_closed": false}'
)


def write_first_form(folder: Path) -> None:
    name, statements = MIGRATIONS[0]
    connection = sqlite3.connect(folder / FILE_NAME)
    connection.execute("CREATE TABLE migration (name TEXT PRIMARY KEY) STRICT")
    for statement in statements:
        connection.execute(statement)
    connection.execute("INSERT INTO migration VALUES (?)", (name,))
    connection.execute(
        "INSERT INTO night_history VALUES (?, ?)", (NIGHT.isoformat(), OLD_HISTORY)
    )
    connection.execute(
        "INSERT INTO outbox (message_key, subject_kind, message_class, night, person, "
        "channel, address, subject, body, html, message_id, queued_utc, deadline_utc, "
        "state, next_try_utc) VALUES ('k', 'prepare', 'waking', '2026-04-12', 'Ines', "
        "'sms', '+15095550142', '', 't', NULL, '<1@x>', ?, ?, 'due', ?)",
        (
            "2026-04-12T21:00:00.000000Z",
            "2026-04-13T12:00:00.000000Z",
            "2026-04-12T21:00:00.000000Z",
        ),
    )
    connection.commit()
    connection.close()


def test_state_of_the_first_form_is_read_and_goes_on(tmp_path: Path) -> None:
    write_first_form(tmp_path)
    store = open_store(tmp_path)
    assert store.night_histories(NOW) == {
        NIGHT: NightHistory(
            night=NIGHT,
            told=Tier.PREPARE,
            said=Tier.PREPARE,
            told_low_c=-4.5,
            clear_cycles=1,
            last_forecast_utc=datetime(2026, 4, 12, 18, tzinfo=UTC),
            revision=2,
        )
    }
    [row] = store.unsent(NOW, is_forced=False)
    assert (row.message.text, row.attempts, row.unknowns) == ("t", 0, 0)
    store.database.close()


def test_a_landed_migration_is_never_changed() -> None:
    name, statements = MIGRATIONS[0]
    text = "\n".join([name, *statements])
    assert hashlib.sha256(text.encode()).hexdigest() == FIRST_FORM_SHA256
