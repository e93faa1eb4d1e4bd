"""The configuration as a process beside the service follows it: read again on change.

What is wrong with a changed file is told by the service; here the earlier one stays.
"""

import logging
from pathlib import Path

from frostalert.config.load import fingerprints, load_settings, watched_files
from frostalert.errors import ConfigError
from frostalert.model.settings import Settings

_LOG = logging.getLogger(__name__)


class FollowedConfig:
    """The configuration without the need of its secrets, as it stands now.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    ConfigError
        If the file cannot be used to begin with.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        # Before it is read: what changes meanwhile is seen at the next question.
        self._files = watched_files(path, (path,))
        self._seen = fingerprints(self._files)
        self._settings = load_settings(path, needs_secrets=False)

    def settings(self) -> Settings:
        """Return the newest configuration that could be used."""
        if fingerprints(self._files) == self._seen:
            return self._settings
        self._files = watched_files(self._path, self._files)
        self._seen = fingerprints(self._files)
        try:
            self._settings = load_settings(self._path, needs_secrets=False)
        except ConfigError as error:
            _LOG.warning("the earlier configuration stays in force: %s", error)
        return self._settings
