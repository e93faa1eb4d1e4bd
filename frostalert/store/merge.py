"""Bring what was kept in memory back to the file, and lose nothing of either."""

import json
import sqlite3
from typing import Any

from frostalert.model.assessment import Tier
from frostalert.store.connection import Database
from frostalert.store.warmth import PUT_DAY_AIR

_TAUGHT = ("night_pair", "nowcast_pair", "sighting", "bud_count", "gain_night")
_NEWEST = 500
_READ = ("reading", "station_report")
_OUTBOX_KEY = "message_key"


def merge(source: Database, target: Database) -> None:
    """Write the content of one database into another of the same form.

    What both have, the source knows better: it was in use last. Revisions of a night
    never go back, since they name messages. Ticks and looks by phone come to the target
    alone: other processes leave them there.

    Raises
    ------
    StoreError
        If the target cannot be written; then nothing of it is changed.
    """
    with source.reading() as old, target.writing() as new:
        for table in ("forecast_run", "decision"):
            _add_missing(old, new, table)
        _merge_answers(old, new)
        for table in ("source_memory", "mark", *_READ, "ticket", *_TAUGHT):
            _replace(old, new, table)
        days = _rows(old, "day_air", ["day", "low_c", "high_c", "is_measured"])
        new.executemany(PUT_DAY_AIR, days)
        new.execute("DELETE FROM fault")
        _replace(old, new, "fault")
        _merge_histories(old, new)
        _merge_outbox(old, new)


def bring_in(file: sqlite3.Connection, memory: sqlite3.Connection) -> None:
    """Take over what other processes left in the file while the state is in memory."""
    _merge_answers(file, memory)
    _bring_readings(file, memory)
    _replace(file, memory, "phone_look")
    _replace(file, memory, "tick")


def _bring_readings(file: sqlite3.Connection, memory: sqlite3.Connection) -> None:
    """Take over the readings kept last, in their order; others were there before."""
    columns = _columns(file, "reading")
    names = ", ".join(columns)
    newest = file.execute(
        f"SELECT {names} FROM (SELECT rowid AS kept, * FROM reading "  # noqa: S608 - names of our own tables
        f"ORDER BY kept DESC LIMIT {_NEWEST}) ORDER BY kept"
    )
    memory.executemany(
        f"INSERT OR IGNORE INTO reading ({names}) "  # noqa: S608 - names of our own tables
        f"VALUES ({', '.join('?' * len(columns))})",
        [tuple(row) for row in newest],
    )


def _merge_answers(old: sqlite3.Connection, new: sqlite3.Connection) -> None:
    """Write the answers; of one given twice the newer counts."""
    columns = _columns(old, "answer")
    put = (
        f"INSERT INTO answer ({', '.join(columns)}) "  # noqa: S608 - names of our own tables
        f"VALUES ({', '.join('?' * len(columns))}) "
        "ON CONFLICT (person, night, tier, revision, kind) DO UPDATE SET "
        "given_utc = excluded.given_utc, until_utc = excluded.until_utc "
        "WHERE excluded.given_utc > given_utc"
    )
    new.executemany(put, _rows(old, "answer", columns))


def _columns(connection: sqlite3.Connection, table: str) -> list[str]:
    """Return the columns of a table without its row number."""
    rows = connection.execute("SELECT name FROM pragma_table_info(?)", (table,))
    numbers = {"run_id", "decision_id", "answer_id", "row_id"}
    return [row["name"] for row in rows if row["name"] not in numbers]


def _rows(
    connection: sqlite3.Connection, table: str, columns: list[str]
) -> list[tuple[object, ...]]:
    """Return a table's rows."""
    query = f"SELECT {', '.join(columns)} FROM {table}"  # noqa: S608 - names of our own tables
    return [tuple(row) for row in connection.execute(query)]


def _add_missing(old: sqlite3.Connection, new: sqlite3.Connection, table: str) -> None:
    """Add the rows that the target does not have."""
    columns = _columns(old, table)
    same = " AND ".join(f"{name} IS ?" for name in columns)
    marks = ", ".join("?" * len(columns))
    add = (
        f"INSERT OR IGNORE INTO {table} ({', '.join(columns)}) "  # noqa: S608 - names of our own tables
        f"SELECT {marks} WHERE NOT EXISTS (SELECT 1 FROM {table} WHERE {same})"
    )
    new.executemany(add, [(*row, *row) for row in _rows(old, table, columns)])


def _replace(old: sqlite3.Connection, new: sqlite3.Connection, table: str) -> None:
    """Write the rows, over what stands there under the same key."""
    columns = _columns(old, table)
    marks = ", ".join("?" * len(columns))
    put = (
        f"INSERT OR REPLACE INTO {table} "  # noqa: S608 - names of our own tables
        f"({', '.join(columns)}) VALUES ({marks})"
    )
    new.executemany(put, _rows(old, table, columns))


def _merge_histories(old: sqlite3.Connection, new: sqlite3.Connection) -> None:
    """Write what was said about each night, with the higher revision of the two."""
    known = {
        str(night): str(content)
        for night, content in _rows(new, "night_history", ["night", "content"])
    }
    for night, content in _rows(old, "night_history", ["night", "content"]):
        fresh = json.loads(str(content))
        before = json.loads(known.get(str(night), '{"revision": 0}'))
        if _tells_more(before, fresh):
            # Memory began without it: what people were told must not be forgotten.
            fresh, before = before, fresh
        fresh["revision"] = max(fresh["revision"], before["revision"])
        new.execute(
            "INSERT OR REPLACE INTO night_history VALUES (?, ?)",
            (night, json.dumps(fresh)),
        )


def _tells_more(before: dict[str, Any], fresh: dict[str, Any]) -> bool:
    """Return whether people were told more by the file's history, and it is open."""
    told = (Tier(item.get("told", "none")).rank for item in (before, fresh))
    in_file, in_memory = told
    is_open = not before.get("is_closed", True) and not fresh.get("is_closed", False)
    return is_open and in_file > in_memory


def _merge_outbox(old: sqlite3.Connection, new: sqlite3.Connection) -> None:
    """Write the queue, row by row under the key of each message."""
    columns = _columns(old, "outbox")
    changes = ", ".join(
        f"{name} = excluded.{name}" for name in columns if name != _OUTBOX_KEY
    )
    put = (
        f"INSERT INTO outbox ({', '.join(columns)}) "  # noqa: S608 - names of our own tables
        f"VALUES ({', '.join('?' * len(columns))}) "
        f"ON CONFLICT ({_OUTBOX_KEY}) DO UPDATE SET {changes}"
    )
    new.executemany(put, _rows(old, "outbox", columns))
    nights = old.execute(
        "SELECT o.message_key, n.night FROM outbox_night n JOIN outbox o USING (row_id)"
    ).fetchall()
    new.executemany(
        "INSERT OR IGNORE INTO outbox_night (row_id, night) "
        "SELECT row_id, ? FROM outbox WHERE message_key = ?",
        [(row["night"], row["message_key"]) for row in nights],
    )
