"""Rows that can be read: a damaged one must not hide the others."""

import logging
import sqlite3
from collections.abc import Callable, Iterable
from typing import TypeVar

from frostalert.store.connection import Database

_Read = TypeVar("_Read")
_LOG = logging.getLogger(__name__)


def legible(
    database: Database,
    rows: Iterable[sqlite3.Row],
    read: Callable[[sqlite3.Row], _Read],
    key: str,
) -> list[_Read]:
    """Return what could be read; what could not is noted in the database's list.

    Parameters
    ----------
    database : Database
        Keeps the names of the rows that could not be read.
    rows : iterable of Row
        What was found.
    read : callable
        Reads one row.
    key : str
        Column that names a row, for the log.

    Returns
    -------
    list
        One for each row that could be read.
    """
    found = []
    for row in rows:
        try:
            found.append(read(row))
        except Exception:  # noqa: BLE001 - whatever is wrong with what is written there
            name = f"{key} {row[key]}"
            if name not in database.unreadable:
                _LOG.exception("a stored row is unreadable: %s", name)
            database.unreadable.add(name)
    return found
