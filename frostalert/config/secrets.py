"""Secrets: named in the configuration by file or environment variable, never written.

A file named without a folder is looked for among systemd's credentials first.
"""

import os
import stat
from pathlib import Path

from frostalert.config.paths import beside
from frostalert.errors import SecretError
from frostalert.model.secret import Secret

_OTHERS_READ = stat.S_IROTH


def read_secret(
    file: str | None, variable: str | None, folder: Path, *, key: str = "password_file"
) -> Secret:
    """Return a secret, which prints masked.

    Parameters
    ----------
    file : str or None
        File that holds it; relative names are looked for in systemd's credentials
        folder and then beside the configuration.
    variable : str or None
        Environment variable that holds it.
    folder : Path
        Folder of the configuration.
    key : str
        What the file is named by in the configuration, for what is wrong.

    Returns
    -------
    Secret
        The secret, without the line's end.

    Raises
    ------
    SecretError
        If it is named in two ways or in none, or cannot be read, or is empty.
    """
    if file is not None and variable is not None:
        message = "password_file and password_env are both given; keep one of them"
        raise SecretError(message)
    if variable is not None:
        value = os.environ.get(variable)
        if not value:
            message = f"password_env: the environment has no {variable}; set it"
            raise SecretError(message)
        return Secret(value)
    if file is None:
        message = "username is given without a password; add password_file"
        raise SecretError(message)
    return _from_file(file, folder, key)


def _from_file(file: str, folder: Path, key: str) -> Secret:
    """Return the content of a secret's file."""
    credentials = os.environ.get("CREDENTIALS_DIRECTORY")
    places = [Path(credentials) / file] if credentials else []
    places.append(beside(folder, file))
    for place in places:
        try:
            content = place.read_text(encoding="utf-8").strip()
            is_open = bool(place.stat().st_mode & _OTHERS_READ)
        except (OSError, ValueError):
            # Also what is no text, and a name that no file can have.
            continue
        if content:
            return Secret(content, str(place) if is_open else None)
        message = f"{key}: {place} is empty; put the secret on its first line"
        raise SecretError(message)
    looked = " or ".join(str(place) for place in places)
    message = (
        f"{key}: cannot read {looked}; create it with the secret on its first line, or "
        "correct the name"
    )
    raise SecretError(message)
