"""The state that goes on when its file fails: in memory, until the file can be used.

A warning twice is cheaper than silence. So whatever is wrong with the disk, the service
goes on from memory with what could still be read, says so, and brings everything back
when the file can be written again. A good file is never overwritten by this.
"""

import logging
import sqlite3
import threading
import time
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from functools import wraps
from pathlib import Path
from typing import Any

from frostalert.errors import (
    StoreBusyError,
    StoreError,
    StoreVersionError,
)
from frostalert.store.backup import (
    Condition,
    copies,
    examine,
    mark_as_maybe_sent,
    restore_newest,
    set_aside,
    sound_copies,
)
from frostalert.store.connection import Database, MemoryDatabase
from frostalert.store.merge import bring_in, merge
from frostalert.store.migrations import migrate
from frostalert.store.open import FILE_NAME, close_files, make_state_directory
from frostalert.store.state import StateStore

_LOG = logging.getLogger(__name__)
_PATIENCE_S = 60.0
"""How long another program may hold the file before the state goes on in memory."""


class FailoverStore(StateStore):
    """A store that falls back to memory; every method of it is tried twice.

    Parameters
    ----------
    directory : Path
        The state folder; the holder of its lock alone may open it.
    now_utc : datetime
        The present moment, for the name of a damaged file.
    """

    def __init__(self, directory: Path, now_utc: datetime) -> None:
        self._path = directory / FILE_NAME
        self._swapping = threading.RLock()
        self._trouble: str | None = None
        self._repaired: str | None = None
        self._can_return = True
        self._busy_s: float | None = None
        super().__init__(Database(self._path))
        try:
            make_state_directory(directory)
            self.database = self._open_file(now_utc)
        except StoreError as error:
            self._fall_back(error)

    @property
    def trouble(self) -> str | None:
        """Why the state is kept in memory; None if it is on disk."""
        return self._trouble

    @property
    def repaired(self) -> str | None:
        """What was done about a damaged file since the start, in words."""
        return self._repaired

    def _is_blocked(self, used: Database) -> bool:
        """Return whether another program has held the file for too long to wait on."""
        now_s = time.monotonic()
        if self._busy_s is None or used.committed_s > self._busy_s:
            self._busy_s = now_s
        return self.database is used and now_s - self._busy_s >= _PATIENCE_S

    def try_to_return(self, now_utc: datetime) -> bool:
        """Go back to the file if it can be used; return whether the state is there."""
        with self._swapping:
            if self._trouble is None:
                return True
            memory = self.database
            self._bring_in(memory)
            if not self._can_return:
                return False
            try:
                disk = self._open_file(now_utc)
                # Nothing may be written to memory between the merging and the swap.
                with memory.reading():
                    merge(memory, disk)
                    self.database = disk
                    # Who waits for its lock is sent to the file.
                    memory.close()
            except StoreError as error:
                _LOG.warning("the state cannot go back to disk yet: %s", error)
                return False
            self._trouble = None
            _LOG.warning("the state is back on disk")
            return True

    def _bring_in(self, memory: Database) -> None:
        """Take over what people answered meanwhile: they can only reach the file."""
        try:
            with (
                closing(
                    sqlite3.connect(
                        f"{self._path.as_uri()}?mode=ro", uri=True, timeout=1.0
                    )
                ) as file,
                memory.writing() as connection,
            ):
                file.row_factory = sqlite3.Row
                bring_in(file, connection)
        except (sqlite3.Error, StoreError, ValueError) as error:
            _LOG.warning("answers in the file cannot be seen: %s", error)

    def _open_file(self, now_utc: datetime) -> Database:
        """Return the file as a database that can be written, mended if need be."""
        condition = examine(self._path) if _is_there(self._path) else None
        if condition is Condition.OUT_OF_REACH:
            message = f"{self._path} cannot be opened"
            raise StoreError(message)
        if condition is Condition.DAMAGED:
            self._mend(now_utc)
        database = Database(self._path)
        migrate(database)
        close_files(self._path)
        with database.writing() as connection:
            connection.execute(
                "INSERT INTO mark VALUES ('written', ?) ON CONFLICT (name) "
                "DO UPDATE SET content = excluded.content",
                (now_utc.isoformat(),),
            )
        return database

    def _mend(self, now_utc: datetime) -> None:
        """Set a damaged file aside and put the newest copy in its place."""
        if self._path.stat().st_size == 0 and not copies(self._path):
            return  # begun on a full disk, and nothing was ever in it
        aside = set_aside(self._path, now_utc)
        copy = restore_newest(self._path)
        self._repaired = (
            f"the state's file was damaged and is kept as {aside.name}; "
            + (
                f"the copy {copy.name} took its place"
                if copy is not None
                else "there was no copy, so it begins empty"
            )
            + ". What is going on is told again"
        )
        _LOG.error("%s", self._repaired)

    def _fall_back(self, error: StoreError) -> None:
        """Go on in memory with what can still be read."""
        with self._swapping:
            if self._trouble is not None:
                return
            memory = MemoryDatabase(self._path)
            with memory.reading() as connection:
                is_copied = _copy_into(self._path, connection)
                if not is_copied:
                    is_copied = _copy_newest(self._path, connection)
            if is_copied:
                try:
                    migrate(memory)
                except StoreVersionError:
                    memory = MemoryDatabase(self._path)
                    is_copied = False
            if not is_copied:
                migrate(memory)
            self._can_return = not isinstance(error, StoreVersionError)
            self._trouble = str(error)
            self.database = memory
            kept = "as it was" if is_copied else "empty: it could not be read"
            _LOG.critical("the state goes on in memory, %s; %s", kept, error)


def _is_there(path: Path) -> bool:
    """Return whether there is a file, or raise if nobody can tell."""
    try:
        return path.exists()
    except OSError as error:
        message = f"{path} cannot be reached: {error.strerror}"
        raise StoreError(message) from error


def _copy_into(path: Path, memory: sqlite3.Connection) -> bool:
    """Copy a file into memory, if it can be read at all."""
    # A database whose log cannot be opened for writing can still be read as it stands.
    for options in ("mode=ro", "mode=ro&immutable=1"):
        try:
            with closing(
                sqlite3.connect(f"{path.as_uri()}?{options}", uri=True)
            ) as file:
                if file.execute("PRAGMA quick_check").fetchone()[0] != "ok":
                    return False
                file.backup(memory)
        except (sqlite3.Error, ValueError):
            continue
        return True
    return False


def _copy_newest(path: Path, memory: sqlite3.Connection) -> bool:
    """Copy the newest sound copy of a file into memory, if there is one."""
    for copy in sound_copies(path):
        if _copy_into(copy, memory):
            mark_as_maybe_sent(memory)
            return True
    return False


def _steadied(method: Callable[..., Any]) -> Callable[..., Any]:
    """Return a method of the store that is done again in memory if the file fails."""

    @wraps(method)
    def twice(self: FailoverStore, *given: Any, **named: Any) -> Any:
        used = self.database
        try:
            return method(self, *given, **named)
        except StoreBusyError as error:
            if not self._is_blocked(used):
                raise
            self._fall_back(error)
            return method(self, *given, **named)
        except StoreError as error:
            # Another thread may have changed over in the meantime.
            if self.database is used:
                self._fall_back(error)
            return method(self, *given, **named)

    return twice


# Every public method of the store, whichever of its parts it comes from.
for _kind in StateStore.__mro__[:-1]:
    for _name, _method in list(vars(_kind).items()):
        if callable(_method) and not _name.startswith("_"):
            setattr(FailoverStore, _name, _steadied(_method))
