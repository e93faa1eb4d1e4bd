"""Connections to the database: one a thread, durable commits, short transactions."""

import sqlite3
import threading
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
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._local = threading.local()

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
                connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")
        except sqlite3.Error as error:
            raise self._store_error(error) from error

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
