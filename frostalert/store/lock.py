"""One writer: a lock on the state folder that ends with the process that holds it."""

import fcntl
import os
from pathlib import Path
from types import TracebackType
from typing import Self

from frostalert.errors import StoreBusyError, StoreError


def is_held(directory: Path) -> bool:
    """Return whether a process holds the lock of a state folder."""
    try:
        with StateLock(directory):
            return False
    except StoreBusyError:
        return True
    except StoreError:
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
        self._path = directory / "lock"
        self._descriptor: int | None = None

    def __enter__(self) -> Self:
        """Take the lock."""
        descriptor = self._open()
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(descriptor)
            message = (
                f"another frostalert is running on {self._path.parent}; stop it first "
                '("frostalert tonight" looks without writing)'
            )
            raise StoreBusyError(message) from error
        self._descriptor = descriptor
        return self

    def _open(self) -> int:
        """Open the lock file; where nothing can be written, the folder itself.

        A card that has gone read-only must not keep the warnings from going out.
        """
        try:
            return os.open(self._path, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            try:
                return os.open(self._path.parent, os.O_RDONLY)
            except OSError:
                message = f"{self._path.parent} cannot be used: {error.strerror}"
                raise StoreError(message) from error

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let the lock go."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None
