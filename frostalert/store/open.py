"""Open the state folder and bring its database to the present form."""

import logging
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from frostalert.errors import NoStateError, StoreError, reason_of
from frostalert.store.connection import Database
from frostalert.store.migrations import migrate, require_present_form
from frostalert.store.state import StateStore

_LOG = logging.getLogger(__name__)
FILE_NAME = "frostalert.sqlite3"


def make_state_directory(directory: Path) -> Path:
    """Make a state folder that only its owner can read; return it.

    Raises
    ------
    StoreError
        If it cannot be made.
    """
    try:
        directory.mkdir(parents=True, exist_ok=True, mode=0o700)
        _close_to_others(directory)
    except OSError as error:
        message = (
            f"the state folder {directory} cannot be made: {error.strerror}; "
            "set [storage] directory to a folder that can be written"
        )
        raise StoreError(message) from error
    return directory


def _close_to_others(directory: Path) -> None:
    """Close a folder of ours that others can read: addresses and phones are in it."""
    found = directory.stat()
    if found.st_uid == os.geteuid() and found.st_mode & 0o077:
        directory.chmod(0o700)
        _LOG.warning(
            "others on this machine could read %s; it is closed to them now", directory
        )


def close_files(path: Path) -> None:
    """Let only the owner read a database, with its log and its index."""
    for ending in ("", "-wal", "-shm"):
        with suppress(OSError):
            path.with_name(path.name + ending).chmod(0o600)


def has_state(directory: Path) -> bool:
    """Return whether there is a database in a state folder.

    Raises
    ------
    StoreError
        If nobody can tell: a folder that is closed to us is not an empty one.
    """
    try:
        return stat.S_ISREG((directory / FILE_NAME).stat().st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError as error:
        message = f"the state in {directory} cannot be used: {reason_of(error)}"
        raise StoreError(message) from error


def open_beside(directory: Path) -> StateStore:
    """Return the store for short reads and answers beside a running service.

    Only the holder of the lock brings a database to the present form.

    Raises
    ------
    StoreError
        If there is no database, or it has another form than this program's.
    """
    if not has_state(directory):
        message = f"there is no state in {directory} yet; start frostalert run first"
        raise NoStateError(message)
    database = Database(directory / FILE_NAME)
    require_present_form(database)
    return StateStore(database)


@contextmanager
def opened_beside(directory: Path) -> Iterator[StateStore]:
    """Give the store as `open_beside` returns it, and close it.

    Raises
    ------
    StoreError
        If there is no database, or it has another form than this program's.
    """
    store = open_beside(directory)
    try:
        yield store
    finally:
        store.database.close()


def open_store(directory: Path, *, keeps_history: bool = True) -> StateStore:
    """Return the store of a state folder; only the holder of its lock may call this.

    Raises
    ------
    StoreError
        If the database cannot be opened or is newer than the program.
    """
    database = Database(directory / FILE_NAME)
    migrate(database)
    close_files(database.path)
    return StateStore(database, keeps_history=keeps_history)
