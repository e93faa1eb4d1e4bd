"""The files that a configuration is made of, for noticing that one changed."""

import tomllib
from pathlib import Path

from frostalert.config.load import crops_folder
from frostalert.config.paths import beside
from frostalert.model.channel import CHANNELS

_Fingerprint = tuple[int, int, int]


class WatchedFiles:
    """A configuration's file, the files of its secrets, and its own crops.

    Made before the file is read: what changes meanwhile is noticed at the next look.

    Parameters
    ----------
    path : Path
        The configuration.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._files = _files_of(path, (path,))
        self._seen = self._look()

    def have_changed(self) -> bool:
        """Return whether one of them changed since the last look."""
        if self._look() == self._seen:
            return False
        self._files = _files_of(self._path, self._files)
        self._seen = self._look()
        return True

    def _look(self) -> list[_Fingerprint | None]:
        """Return what changes when one changes; None where there is none."""
        return [_fingerprint(file) for file in self._files]


def _files_of(path: Path, before: tuple[Path, ...]) -> tuple[Path, ...]:
    """Return the files that a configuration is made of, for noticing their changes.

    Itself, the files of its secrets and its own crops; a file that cannot be read
    leaves the list as it was before.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8").removeprefix("\ufeff"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return before
    secrets = (
        *((row.section, "password_file") for row in CHANNELS),
        ("forecast", "open_meteo_key_file"),
    )
    sections = ((raw.get(section), key) for section, key in secrets)
    names = [
        section[key]
        for section, key in sections
        if isinstance(section, dict) and isinstance(section.get(key), str)
    ]
    crops = crops_folder(raw, path.parent)
    try:
        own = sorted(crops.glob("*.toml")) if crops is not None else []
    except OSError:
        return before
    return (
        path,
        *(beside(path.parent, name) for name in names),
        *own,
    )


def _fingerprint(path: Path) -> _Fingerprint | None:
    """Return when a file was changed, its size and its number."""
    try:
        status = path.stat()
    except (OSError, ValueError):
        return None
    return status.st_mtime_ns, status.st_size, status.st_ino
