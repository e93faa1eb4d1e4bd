"""Open-Meteo's previous runs: what was forecast one to three days before each hour.

Document: https://open-meteo.com/en/docs/previous-runs-api. Data under CC BY 4.0. An
hour "of a day before" is of whichever run came about 24 hours before it: a night's
hours come from several runs. `parse_*` is pure; `OpenMeteoArchive` fetches.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, time
from typing import Any
from urllib.parse import urlencode

from frostalert.errors import (
    ForecastFormatError,
    ForecastUnavailableError,
    TransportError,
)
from frostalert.forecast import open_meteo
from frostalert.forecast.answer import refuse_other_place
from frostalert.model.forecast import ForecastRun
from frostalert.model.past import LATEST, LEAD_DAYS, Archive
from frostalert.model.secret import Secret
from frostalert.transport import HttpSession

SOURCE, TITLE = open_meteo.SOURCE, "previous runs of Open-Meteo (CC BY 4.0)"
REANALYSIS_TITLE = "reanalysis of Open-Meteo (ERA5 and others, CC BY 4.0)"
VARIABLES = (
    "temperature_2m",
    "dew_point_2m",
    "relative_humidity_2m",
    "wind_speed_10m",
    "wind_direction_10m",
    "cloud_cover",
    "precipitation",
)
"""What the archive keeps of what a night is judged by: no layers of cloud, and nothing
of the air aloft."""
_OK = 200


class OpenMeteoArchive:
    """Open-Meteo's archives for one place: previous runs, and reanalysis.

    Parameters
    ----------
    session : HttpSession
        How to ask.
    place : tuple of float
        Latitude, longitude and elevation. [deg, deg, m]
    key : Secret, optional
        Key of a subscription.
    """

    name = SOURCE

    def __init__(
        self,
        session: HttpSession,
        place: tuple[float, float, float],
        *,
        previous_runs_url: str,
        reanalysis_url: str,
        key: Secret | None = None,
    ) -> None:
        self._session = session
        self._place = place
        self._previous_runs_url = previous_runs_url
        self._reanalysis_url = reanalysis_url
        self._key = key

    def previous_runs(self, first: date, last: date) -> str:
        """Return the answer for some days, as it came.

        Raises
        ------
        ForecastError
            If it could not be had.
        """
        names = [f"{name}_previous_day{n}" for n in LEAD_DAYS for name in VARIABLES]
        wanted = ",".join(["temperature_2m", *names])
        return self._ask(f"{self._previous_runs_url}/v1/forecast", wanted, first, last)

    def reanalysis(self, first: date, last: date) -> str:
        """Return the answer for some days, as it came.

        Raises
        ------
        ForecastError
            If it could not be had.
        """
        url = f"{self._reanalysis_url}/v1/archive"
        return self._ask(url, "temperature_2m", first, last)

    def refuse_other_place(self, archive: Archive) -> None:
        """Raise if an answer is for another place.

        Raises
        ------
        ForecastFormatError
            If its cell lies too far away.
        """
        for run in archive.values():
            refuse_other_place(run, *self._place[:2], TITLE)

    def _ask(self, address: str, hourly: str, first: date, last: date) -> str:
        """Return the text of a good answer."""
        latitude, longitude, elevation_m = self._place
        query = {
            "latitude": f"{latitude:.4f}",
            "longitude": f"{longitude:.4f}",
            "elevation": f"{elevation_m:.0f}",
            "hourly": hourly,
            "start_date": first.isoformat(),
            "end_date": last.isoformat(),
            "timeformat": "unixtime",
            "timezone": "GMT",
            "wind_speed_unit": "ms",
        }
        if self._key is not None:
            query["apikey"] = self._key.reveal()
        try:
            answer = self._session.get(f"{address}?{urlencode(query)}", {})
        except TransportError as error:
            raise ForecastUnavailableError(TITLE, error.problem) from error
        text = answer.text if self._key is None else self._key.masked_in(answer.text)
        if answer.status != _OK:
            open_meteo.check_problem(text, answer.status)
        return text


def parse_previous_runs(body: str) -> Archive:
    """Return the hours of an answer by lead.

    Parameters
    ----------
    body : str
        The answer's text.

    Returns
    -------
    Archive
        Leads of which the answer knows no hour are left out: all of them, where it is
        of days from before the archive begins.

    Raises
    ------
    ForecastError
        As `open_meteo.parse_forecast`.
    """
    document, hourly = _open(body)
    return {
        lead: replace(
            open_meteo.read_forecast(part, _made_utc(hourly)),
            source_title=TITLE,
            notes=(),
        )
        for lead in (LATEST, *LEAD_DAYS)
        if _knows(part := _of_lead(document, hourly, lead))
    }


def parse_reanalysis(body: str) -> ForecastRun | None:
    """Return the hours of a reanalysis; none where it knows no hour yet.

    Raises
    ------
    ForecastError
        As `open_meteo.parse_forecast`.
    """
    document, hourly = _open(body)
    if not _knows(document):
        return None
    return open_meteo.read_forecast(document, _made_utc(hourly))


def _open(body: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return an answer and its hourly values."""
    document = open_meteo.open_document(body)
    hourly = document.get("hourly")
    if not isinstance(hourly, dict):
        problem = "the answer has no hourly values"
        raise ForecastFormatError(TITLE, problem)
    return document, hourly


def _of_lead(
    document: dict[str, Any], hourly: dict[str, Any], lead: int
) -> dict[str, Any]:
    """Return an answer as if it held one lead's hours alone."""
    mark = f"_previous_day{lead}" if lead else ""
    units = document.get("hourly_units")
    stated = units if isinstance(units, dict) else {}

    def own(table: dict[str, Any]) -> dict[str, Any]:
        wanted = VARIABLES if lead else VARIABLES[:1]
        return {n: table[n + mark] for n in wanted if n + mark in table}

    return {
        **document,
        "hourly": {"time": hourly.get("time"), **own(hourly)},
        "hourly_units": own(stated),
    }


def _knows(document: dict[str, Any]) -> bool:
    """Return whether an answer holds any air temperature."""
    values = document["hourly"].get("temperature_2m")
    return isinstance(values, list) and any(value is not None for value in values)


def _made_utc(hourly: dict[str, Any]) -> datetime:
    """Return what stands for when hours of many runs were made: the first of them."""
    times = hourly.get("time")
    first = times[0] if isinstance(times, list) and times else None
    if isinstance(first, int):
        return datetime.fromtimestamp(first, UTC)
    try:
        return datetime.fromisoformat(str(first)).replace(tzinfo=UTC)
    except ValueError:
        return datetime.combine(date(2000, 1, 1), time(0), tzinfo=UTC)
