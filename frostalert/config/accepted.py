"""The configuration that is in force: watched for changes, kept in a copy.

Each accepted file is copied to the state folder, with the user's own crops. A broken
file, also at start, means going on with that copy and saying so; only without a copy
does nothing start.
"""

import logging
import os
import shutil
from functools import partial
from pathlib import Path

from frostalert.config.load import (
    load_settings,
    own_crops_folder,
    parse_settings,
)
from frostalert.config.watched import WatchedFiles
from frostalert.errors import ConfigError, ConfigFileError, reason_of
from frostalert.model.settings import Settings

_LOG = logging.getLogger(__name__)
COPY_NAME = "config.accepted.toml"
CROPS_NAME = "crops.accepted"
_OLD_IN_FORCE = (
    "the changed configuration cannot be used, so the last accepted one stays in "
    "force; "
)


class AcceptedConfig:
    """The configuration in force.

    Parameters
    ----------
    path : Path
        The file.
    copy_directory : Path
        Where the copy of the last accepted file is kept.

    Raises
    ------
    ConfigError
        If the file cannot be used and there is no copy that can.
    """

    def __init__(self, path: Path, copy_directory: Path) -> None:
        self._path = path
        self._copy = copy_directory / COPY_NAME
        self._crops = copy_directory / CROPS_NAME
        self._files = WatchedFiles(path)
        self._problem: str | None = None
        try:
            self._settings = _load(path)
        except ConfigError as error:
            self._problem = _OLD_IN_FORCE + str(error)
            self._settings = _from_copy(path, copy_directory, error)
        else:
            self._keep()

    @property
    def path(self) -> Path:
        """The file."""
        return self._path

    @property
    def settings(self) -> Settings:
        """What is in force."""
        return self._settings

    @property
    def problem(self) -> str | None:
        """What is wrong with the file as it stands, or with keeping a copy of it."""
        return self._problem

    def look(self) -> bool:
        """Look at the file; return whether it changed and was read again."""
        if not self._files.have_changed():
            return False
        try:
            self._settings = _load(self._path)
        except ConfigError as error:
            self._problem = _OLD_IN_FORCE + str(error)
        else:
            self._problem = None
            self._keep()
        return True

    def _keep(self) -> None:
        """Copy the accepted file, so that a crash leaves the old copy or the new."""
        try:
            text = self._path.read_bytes()
            self._keep_crops(text.decode("utf-8"))
            fresh = self._copy.with_suffix(".new")
            with fresh.open("wb") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            fresh.chmod(0o600)
            fresh.replace(self._copy)
        except OSError as error:
            self._problem = (
                "the configuration is in force, but no copy of it could be kept in "
                f"case it breaks; {self._copy.parent}: {reason_of(error)}"
            )

    def _keep_crops(self, text: str) -> None:
        """Copy the user's own crops beside the copy."""
        folder = own_crops_folder(text, self._path)
        fresh = self._crops.with_suffix(".new")
        shutil.rmtree(fresh, ignore_errors=True)
        if folder is not None:
            shutil.copytree(folder, fresh)
        shutil.rmtree(self._crops, ignore_errors=True)
        if folder is not None:
            fresh.rename(self._crops)


def settings_in_force(path: Path, copy_directory: Path) -> Settings:
    """Return what the service goes by: the file, or the copy while the file is broken.

    For what runs beside the service and needs no secrets.

    Parameters
    ----------
    path : Path
        The file.
    copy_directory : Path
        Where the service keeps its copy.

    Returns
    -------
    Settings
        The configuration.

    Raises
    ------
    ConfigError
        If the file cannot be used and there is no copy that can.
    """
    try:
        return _load(path, needs_secrets=False)
    except ConfigError as error:
        _LOG.warning("going by the last accepted copy: %s", error)
        return _from_copy(path, copy_directory, error, needs_secrets=False)


def _load(path: Path, *, needs_secrets: bool = True) -> Settings:
    """Return the settings of a file; whatever is wrong with it is its mistake."""
    try:
        return load_settings(path, needs_secrets=needs_secrets)
    except ConfigError:
        raise
    except Exception as error:
        # Nobody foresaw it: what is in force must stay in force all the same.
        _LOG.exception("reading %s broke off", path)
        raise ConfigFileError(str(path), f"cannot be used: {error!r}") from error


def _from_copy(
    path: Path, directory: Path, error: ConfigError, *, needs_secrets: bool = True
) -> Settings:
    """Return the settings of the copy, or raise what is wrong with the file.

    A password that cannot be had disables its channel; the others still warn.
    """
    crops = directory / CROPS_NAME
    try:
        own = crops if crops.is_dir() else None
        text = (directory / COPY_NAME).read_text(encoding="utf-8")
        read = partial(parse_settings, text, path, crops=own, was_accepted=True)
        try:
            return read(needs_secrets=needs_secrets)
        except ConfigError:
            return read(needs_secrets=False)
    except (OSError, UnicodeDecodeError, ConfigError):
        raise error from None
