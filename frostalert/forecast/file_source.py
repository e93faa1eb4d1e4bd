"""A recorded answer in a file, in place of the network."""

from datetime import datetime
from pathlib import Path

from frostalert.errors import ForecastUnavailableError, UsageError
from frostalert.forecast.nws import SOURCE, parse_grid
from frostalert.model.forecast import ForecastRun
from frostalert.ports import Fetched, SourceMemory

_MOST_BYTES = 5_000_000


class FileSource:
    """A recorded grid answer."""

    name = SOURCE

    def __init__(self, path: Path) -> None:
        self._path = path

    def fetch(self, memory: SourceMemory, now_utc: datetime) -> Fetched:
        """Return the recorded run.

        Raises
        ------
        ForecastError
            If the file holds no forecast.
        UsageError
            If it cannot be read.
        """
        return Fetched(run=load_run(self._path, now_utc), memory=memory)


def load_run(path: Path, now_utc: datetime) -> ForecastRun:
    """Return the forecast in a recorded answer.

    Raises
    ------
    ForecastError
        If the file holds no forecast.
    UsageError
        If it cannot be read.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            message = f"{path} is larger than a forecast ever is (5 MB)"
            raise UsageError(message)
        body = path.read_text(encoding="utf-8")
    except FileNotFoundError as error:
        message = f"there is no file {path}; give a recorded answer with --forecast"
        raise UsageError(message) from error
    except (OSError, UnicodeDecodeError) as error:
        message = f"{path} cannot be read: {error}"
        raise UsageError(message) from error
    try:
        return parse_grid(body, now_utc)
    except ForecastUnavailableError as error:
        # In a file, "try again" does not help: it is what it is.
        raise ForecastUnavailableError(str(path), error.problem) from error
