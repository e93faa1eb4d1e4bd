"""Copies of the database: one a day, the last seven kept, each whole and checked."""

import logging
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime
from enum import StrEnum
from pathlib import Path

from frostalert.errors import StoreError
from frostalert.store.connection import Database

_LOG = logging.getLogger(__name__)
FOLDER = "backups"
KEEP = 7
_PREFIX, _SUFFIX = "frostalert-", ".sqlite3"


def make_backup(database: Database, now_utc: datetime) -> Path | None:
    """Write the day's copy, unless it is there; return it if it was written.

    The copy is made beside its place and moved there when it is whole.

    Raises
    ------
    StoreError
        If it cannot be written.
    """
    folder = database.path.parent / FOLDER
    place = folder / f"{_PREFIX}{now_utc:%Y-%m-%d}{_SUFFIX}"
    if place.exists():
        return None
    fresh = place.with_suffix(".new")
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        fresh.unlink(missing_ok=True)
        with database.reading() as connection:
            connection.execute("VACUUM INTO ?", (str(fresh),))
        fresh.chmod(0o600)
        _move_whole(fresh, place)
        for old in copies(database.path)[KEEP:]:
            old.unlink()
    except OSError as error:
        message = f"the daily copy cannot be written to {folder}: {error.strerror}"
        raise StoreError(message) from error
    return place


def _move_whole(fresh: Path, place: Path) -> None:
    """Move a file to its place so that a power cut leaves it whole or not there."""
    with fresh.open("rb") as file:
        os.fsync(file.fileno())
    fresh.replace(place)
    folder = os.open(place.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


class Condition(StrEnum):
    """What a look at a database's file found."""

    SOUND = "sound"
    DAMAGED = "damaged"
    OUT_OF_REACH = "out of reach"


def examine(path: Path) -> Condition:
    """Return whether a file is a sound database; an empty one has lost its content."""
    try:
        if path.stat().st_size == 0:
            return Condition.DAMAGED
        with closing(sqlite3.connect(path)) as connection:
            row = connection.execute("PRAGMA quick_check").fetchone()
            connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except (sqlite3.OperationalError, OSError):
        return Condition.OUT_OF_REACH
    except sqlite3.DatabaseError:
        return Condition.DAMAGED
    is_sound = row is not None and row[0] == "ok"
    return Condition.SOUND if is_sound else Condition.DAMAGED


def set_aside(path: Path, now_utc: datetime) -> Path:
    """Move a damaged database out of the way, with what belongs to it.

    Raises
    ------
    StoreError
        If it cannot be moved.
    """
    stamp = f"{now_utc:%Y%m%dT%H%M%S}"
    aside = path.with_name(f"{path.name}.damaged-{stamp}")
    try:
        path.replace(aside)
        for ending in ("-wal", "-shm"):
            part = path.with_name(path.name + ending)
            if part.exists():
                part.replace(aside.with_name(aside.name + ending))
    except OSError as error:
        message = f"{path} is damaged and cannot be moved: {error.strerror}"
        raise StoreError(message) from error
    return aside


def copies(path: Path) -> list[Path]:
    """Return the copies of a database, the newest first."""
    folder = path.parent / FOLDER
    try:
        return sorted(folder.glob(f"{_PREFIX}*{_SUFFIX}"), reverse=True)
    except OSError:
        # A folder that is closed to us: what is in it cannot be used.
        return []


def sound_copies(path: Path) -> Iterator[Path]:
    """Give the copies that can be used, the newest first."""
    for copy in copies(path):
        if examine(copy) is Condition.SOUND:
            yield copy
        else:
            _LOG.error("the copy %s is damaged too", copy)


def mark_as_maybe_sent(connection: sqlite3.Connection) -> None:
    """Mark what waited when a copy was made: it may have arrived since.

    A repeat then says that it is one.
    """
    connection.execute("UPDATE outbox SET state = 'sending' WHERE state = 'due'")


def restore_newest(path: Path) -> Path | None:
    """Put the newest sound copy in the database's place; return which one it was.

    Raises
    ------
    StoreError
        If it cannot be put there.
    """
    for copy in sound_copies(path):
        fresh = path.with_suffix(".restored")
        try:
            fresh.unlink(missing_ok=True)
            descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(descriptor, "wb") as file:
                file.write(copy.read_bytes())
            with closing(sqlite3.connect(fresh)) as connection, connection:
                mark_as_maybe_sent(connection)
            _move_whole(fresh, path)
        except (OSError, sqlite3.Error) as error:
            message = f"the copy {copy} cannot be put back: {error}"
            raise StoreError(message) from error
        return copy
    return None
