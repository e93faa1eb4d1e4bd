"""Connections to the database: one a thread, durable commits, short transactions."""

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from frostalert.errors import StoreBusyError, StoreError

_BUSY_S = 10.0


class Database:
    """One database file.

    Parameters
    ----------
    path : Path
        The file; made if it is not there.

    Attributes
    ----------
    unreadable : set of str
        Rows that could not be read since it was opened.
    committed_s : float
        When something was last committed, by the monotonic clock. [s]
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._local = threading.local()
        self.unreadable: set[str] = set()
        self.committed_s = 0.0

    @property
    def path(self) -> Path:
        """The file."""
        return self._path

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Give a connection to read with.

        Raises
        ------
        StoreError
            If the database cannot be read.
        """
        try:
            yield self._connection()
        except sqlite3.Error as error:
            raise self._store_error(error) from error

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Give a connection inside one transaction, committed at the end.

        Raises
        ------
        StoreError
            If the database cannot be written; nothing of the transaction stays.
        """
        try:
            connection = self._connection()
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
            except BaseException:
                # A full disk has rolled back by itself; what was wrong must be told.
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")
        except sqlite3.Error as error:
            raise self._store_error(error) from error
        self.committed_s = time.monotonic()

    def close(self) -> None:
        """Close this thread's connection."""
        connection = getattr(self._local, "connection", None)
        if connection is not None:
            connection.close()
            del self._local.connection

    def _connection(self) -> sqlite3.Connection:
        """Return this thread's connection."""
        connection = getattr(self._local, "connection", None)
        if connection is None:
            connection = sqlite3.connect(
                self._path, timeout=_BUSY_S, isolation_level=None
            )
            connection.row_factory = sqlite3.Row
            # With WAL only FULL syncs every commit: a decision survives a power cut.
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            self._local.connection = connection
        return connection

    def _store_error(self, error: sqlite3.Error) -> StoreError:
        """Return our error for the library's."""
        message = f"{self._path}: {error}"
        if "locked" in str(error) or "busy" in str(error):
            return StoreBusyError(message)
        return StoreError(message)


class MemoryDatabase(Database):
    """A database in memory, for the time in which the file cannot be used.

    One connection for all threads, one transaction at a time.
    """

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self._lock = threading.RLock()
        self._shared: sqlite3.Connection | None = sqlite3.connect(
            ":memory:", isolation_level=None, check_same_thread=False
        )
        self._shared.row_factory = sqlite3.Row

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Give the connection to read with."""
        with self._lock, super().reading() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Give the connection inside one transaction."""
        with self._lock, super().writing() as connection:
            yield connection

    def close(self) -> None:
        """Forget everything: who still asks is sent to the file."""
        with self._lock:
            if self._shared is not None:
                self._shared.close()
                self._shared = None

    def _connection(self) -> sqlite3.Connection:
        """Return the one connection."""
        if self._shared is None:
            message = "the state is back on disk"
            raise sqlite3.OperationalError(message)
        return self._shared
