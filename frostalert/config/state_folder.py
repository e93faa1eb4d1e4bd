"""Where the state is kept."""

import os
from pathlib import Path

from frostalert.config.load import named_state_directory


def default_state_directory() -> Path:
    """Return where state is kept unless the configuration says otherwise."""
    given = os.environ.get("STATE_DIRECTORY")
    if given:
        return Path(given.split(":")[0])
    base = os.environ.get("XDG_STATE_HOME")
    return (Path(base) if base else Path.home() / ".local" / "state") / "frostalert"


def state_directory(named: str | None) -> Path:
    """Return where the state is kept: where the configuration names, or as usual."""
    return Path(named) if named else default_state_directory()


def state_directory_of(path: Path) -> Path:
    """Return where the state of a configuration is kept, however broken its file is."""
    return state_directory(named_state_directory(path))
