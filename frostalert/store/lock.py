"""One writer: a lock on the state folder that ends with the process that holds it.

The folder itself is locked, which every daemon can open that could use it at all; and
the file in it, which can be asked about without being taken.
"""

import fcntl
import os
import stat
import struct
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from frostalert.errors import StoreBusyError, StoreError, reason_of

_FLOCK = "hhqqi0q"
"""The kernel's record of a lock: kind, whence, start, length, process."""


def is_held(directory: Path) -> bool:
    """Return whether a process holds the lock of a state folder; nothing is taken."""
    try:
        descriptor = os.open(directory / "lock", os.O_RDONLY)
    except OSError:
        return _is_folder_held(directory)
    try:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            return _is_folder_held(directory)
        asked = struct.pack(_FLOCK, fcntl.F_WRLCK, os.SEEK_SET, 0, 0, 0)
        found = fcntl.fcntl(descriptor, fcntl.F_OFD_GETLK, asked)
        return bool(struct.unpack(_FLOCK, found)[0] != fcntl.F_UNLCK)
    except (OSError, AttributeError):
        return _is_folder_held(directory)
    finally:
        os.close(descriptor)


def _is_folder_held(directory: Path) -> bool:
    """Return the same by the folder alone, for the blink of an eye shared with nobody.

    Where no file can be made in it, and on systems that cannot be asked.
    """
    try:
        descriptor = os.open(directory, os.O_RDONLY)
    except OSError:
        return False
    try:
        fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        return True
    finally:
        os.close(descriptor)
    return False


class StateLock:
    """The lock of a state folder, held while the `with` block runs.

    Raises
    ------
    StoreBusyError
        If another process holds it.
    StoreError
        If the folder cannot even be read.
    """

    def __init__(self, directory: Path) -> None:
        self._directory = directory
        self._held: list[int] = []

    def __enter__(self) -> Self:
        """Take the lock."""
        try:
            self._hold(os.open(self._directory, os.O_RDONLY))
        except PermissionError as error:
            raise self._unusable(error) from error
        except OSError as error:
            message = f"{self._directory} cannot be used: {error.strerror}"
            raise StoreError(message) from error
        # On a card that has gone read-only the folder's lock must do.
        with suppress(OSError):
            self._hold_file()
        return self

    def _hold(self, descriptor: int) -> None:
        """Take one of the locks, and keep it."""
        self._held.append(descriptor)
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            self._let_go()
            raise self._busy() from error

    def _hold_file(self) -> None:
        """Take the lock of the file, so that others can ask about it."""
        path = self._directory / "lock"
        kind = fcntl.F_WRLCK
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError:
            descriptor, kind = os.open(path, os.O_RDONLY), fcntl.F_RDLCK
        self._hold(descriptor)
        with suppress(AttributeError):
            wanted = struct.pack(_FLOCK, kind, os.SEEK_SET, 0, 0, 0)
            fcntl.fcntl(descriptor, fcntl.F_OFD_SETLK, wanted)

    def _busy(self) -> StoreBusyError:
        """Return the error for a lock that another process holds."""
        message = (
            f"another frostalert is running on {self._directory}; stop it first "
            '("frostalert tonight" looks without writing)'
        )
        return StoreBusyError(message)

    def _unusable(self, error: OSError) -> StoreError:
        """Return the error for a folder that is closed to us.

        Another user's daemon must not be doubled: who holds a lock is public.
        """
        with suppress(OSError):
            inode = f":{self._directory.stat().st_ino} "
            locks = Path("/proc/locks").read_text(encoding="utf-8").splitlines()
            if any(inode in line and "FLOCK" in line for line in locks):
                return self._busy()
        message = f"{self._directory} cannot be used: {reason_of(error)}"
        return StoreError(message)

    def _let_go(self) -> None:
        """Let every lock go."""
        while self._held:
            os.close(self._held.pop())

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let the lock go."""
        self._let_go()
