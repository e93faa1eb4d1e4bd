"""The configuration as a process beside the service follows it: read again on change.

What is wrong with a changed file is told by the service; here the earlier one stays.
"""

import logging
from pathlib import Path

from frostalert.config.accepted import settings_in_force
from frostalert.config.watched import WatchedFiles
from frostalert.errors import ConfigError
from frostalert.model.settings import Settings

_LOG = logging.getLogger(__name__)


class FollowedConfig:
    """The configuration without the need of its secrets, as it stands now.

    Parameters
    ----------
    path : Path
        The file.
    copy_directory : Path
        Where the service keeps its copy of the last accepted one.

    Raises
    ------
    ConfigError
        If the file cannot be used to begin with, and there is no copy that can.
    """

    def __init__(self, path: Path, copy_directory: Path) -> None:
        self._path = path
        self._copies = copy_directory
        self._files = WatchedFiles(path)
        self._settings = settings_in_force(path, copy_directory)

    def settings(self) -> Settings:
        """Return the newest configuration that could be used."""
        if not self._files.have_changed():
            return self._settings
        try:
            self._settings = settings_in_force(self._path, self._copies)
        except ConfigError as error:
            _LOG.warning("the earlier configuration stays in force: %s", error)
        return self._settings
