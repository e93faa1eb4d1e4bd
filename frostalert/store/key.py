"""The key that signs the tickets in messages: made once, kept in the state folder."""

import os
import secrets
from pathlib import Path

from frostalert.errors import StoreError

_NAME = "answer-key"
_BYTES = 32


def make_key(directory: Path) -> bytes:
    """Return the key, made if there is none yet.

    Raises
    ------
    StoreError
        If it can neither be read nor made.
    """
    path = directory / _NAME
    try:
        if not path.exists():
            fresh = path.with_suffix(".new")
            descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(descriptor, "wb") as file:
                file.write(secrets.token_bytes(_BYTES))
                file.flush()
                os.fsync(file.fileno())
            fresh.replace(path)
        return path.read_bytes()
    except OSError as error:
        message = f"the key {path} cannot be made or read: {error.strerror}"
        raise StoreError(message) from error


def read_key(directory: Path) -> bytes:
    """Return the key.

    Raises
    ------
    StoreError
        If it cannot be read.
    """
    path = directory / _NAME
    try:
        return path.read_bytes()
    except OSError as error:
        message = (
            f"{path} cannot be read ({error.strerror}); frostalert run makes it when "
            "[web] is set"
        )
        raise StoreError(message) from error
