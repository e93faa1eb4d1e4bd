"""A recorded answer in a file, in place of the network."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from frostalert.errors import ForecastError, ForecastFormatError
from frostalert.forecast.met_norway import parse_timeseries
from frostalert.forecast.nws import SOURCE, parse_grid
from frostalert.forecast.open_meteo import parse_forecast
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
        ForecastFormatError
            If the file cannot be read or holds no forecast.
        """
        return Fetched(run=load_run(self._path, now_utc), memory=memory)


def load_run(path: Path, now_utc: datetime) -> ForecastRun:
    """Return the forecast in a recorded answer.

    Raises
    ------
    ForecastFormatError
        If the file cannot be read or holds no forecast.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            problem = "larger than a forecast ever is (5 MB)"
            raise ForecastFormatError(str(path), problem)
        body = path.read_text(encoding="utf-8")
    except FileNotFoundError as error:
        raise ForecastFormatError(str(path), "no such file") from error
    except UnicodeDecodeError as error:
        raise ForecastFormatError(str(path), "not a text file") from error
    except OSError as error:
        problem = f"cannot be read: {error.strerror}"
        raise ForecastFormatError(str(path), problem) from error
    try:
        return _parser_of(body)(body, now_utc)
    except ForecastError as error:
        # In a file, "try again" does not help: it is what it is.
        raise ForecastFormatError(str(path), error.problem) from error


def _parser_of(body: str) -> Callable[[str, datetime], ForecastRun]:
    """Return the reader that a recorded answer is for, by what stands in it."""
    if '"timeseries"' in body:
        return parse_timeseries
    is_open_meteo = '"hourly"' in body or '"reason"' in body
    return parse_forecast if is_open_meteo else parse_grid
