"""Stations' daily minimums: GHCN-Daily by NOAA NCEI, public domain.

Data: https://www.ncei.noaa.gov/access/services/data/v1, read. The search for stations
beside it is laid out from memory: where it answers otherwise, name a station.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from frostalert.errors import (
    ForecastFormatError,
    ForecastRejectedError,
    ForecastUnavailableError,
    TransportError,
)
from frostalert.forecast.answer import parse_json
from frostalert.physics.geo import distance_km
from frostalert.transport import HttpSession

TITLE = "stations of GHCN-Daily (NOAA NCEI)"
FARTHEST_KM = 60.0
"""A station farther off than this says nothing of a site. [km] Common practice, no
source."""
MOST_TRIED = 5
_KM_PER_DEGREE = 111.2
_OK, _TOO_MANY, _SERVER_ERROR = 200, 429, 500
_LOWEST_C, _HIGHEST_C = -60.0, 45.0


@dataclass(frozen=True, slots=True, order=True)
class StationFound:
    """A station near the site."""

    distance_km: float
    identifier: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StationDays:
    """What a station measured.

    Attributes
    ----------
    minimums_c : mapping of date to float
        By the station's own dates. [degC]
    place : tuple of float or None
        Latitude and longitude. [deg]
    elevation_m : float or None
        Its height. [m]
    """

    identifier: str
    name: str
    minimums_c: Mapping[date, float]
    place: tuple[float, float] | None = None
    elevation_m: float | None = None


class Stations:
    """The archive of stations.

    Parameters
    ----------
    session : HttpSession
        How to ask.
    base_url : str
        Address of the service.
    place : tuple of float
        Latitude and longitude of the site. [deg]
    """

    def __init__(
        self, session: HttpSession, base_url: str, place: tuple[float, float]
    ) -> None:
        self._session = session
        self._base_url = base_url
        self._place = place

    def near(self, first: date, last: date) -> str:
        """Return the answer with the stations round the site, as it came.

        Raises
        ------
        ForecastError
            If it could not be had.
        """
        latitude, longitude = self._place
        north = FARTHEST_KM / _KM_PER_DEGREE
        east = north / max(0.1, math.cos(math.radians(latitude)))
        query = {
            "dataset": "daily-summaries",
            "bbox": f"{latitude + north:.3f},{longitude - east:.3f},"
            f"{latitude - north:.3f},{longitude + east:.3f}",
            "startDate": first.isoformat(),
            "endDate": last.isoformat(),
            "dataTypes": "TMIN",
            "limit": "100",
        }
        return self._ask("search/v1/data", query)

    def days(self, identifier: str, first: date, last: date) -> str:
        """Return the answer with a station's days, as it came.

        Raises
        ------
        ForecastError
            If it could not be had.
        """
        query = {
            "dataset": "daily-summaries",
            "stations": identifier,
            "startDate": first.isoformat(),
            "endDate": last.isoformat(),
            "dataTypes": "TMIN",
            "units": "metric",
            "format": "json",
            "includeAttributes": "true",
            "includeStationName": "true",
            "includeStationLocation": "1",
        }
        return self._ask("data/v1", query)

    def _ask(self, path: str, query: Mapping[str, str]) -> str:
        """Return the text of a good answer."""
        url = f"{self._base_url}/access/services/{path}?{urlencode(query)}"
        try:
            answer = self._session.get(url, {"Accept": "application/json"})
        except TransportError as error:
            raise ForecastUnavailableError(TITLE, error.problem) from error
        problem = f"the service answered {answer.status}"
        if answer.status == _TOO_MANY or answer.status >= _SERVER_ERROR:
            raise ForecastUnavailableError(TITLE, problem)
        if answer.status != _OK:
            raise ForecastRejectedError(TITLE, problem)
        return answer.text


def parse_near(body: str, place: tuple[float, float]) -> list[StationFound]:
    """Return the stations of an answer, the nearest first.

    Raises
    ------
    ForecastFormatError
        If it is no list of stations.
    """
    document = parse_json(body, TITLE)
    results = document.get("results") if isinstance(document, dict) else None
    if not isinstance(results, list):
        problem = "the answer lists no stations"
        raise ForecastFormatError(TITLE, problem)
    found = {
        StationFound(round(distance_km(place, there), 1), identifier)
        for result in results
        if isinstance(result, dict) and (there := _point(result)) is not None
        for identifier in _identifiers(result)
    }
    return sorted(item for item in found if item.distance_km <= FARTHEST_KM)


def _point(result: dict[str, Any]) -> tuple[float, float] | None:
    """Return where a result lies: latitude and longitude. [deg]"""
    try:
        longitude, latitude = result["location"]["coordinates"][:2]
        point = float(latitude), float(longitude)
    except (KeyError, TypeError, ValueError):
        return None
    return point if all(map(math.isfinite, point)) else None


def _identifiers(result: dict[str, Any]) -> Iterator[str]:
    """Give the identifiers of a result's stations."""
    stations = result.get("stations")
    for station in stations if isinstance(stations, list) else []:
        identifier = station.get("id") if isinstance(station, dict) else None
        if isinstance(identifier, str) and identifier:
            yield identifier


def parse_days(body: str, identifier: str) -> StationDays:
    """Return a station's minimums, without those that are odd or that it doubts.

    Raises
    ------
    ForecastFormatError
        If it is no list of days, or of another station.
    """
    rows = parse_json(body, TITLE) if body.strip() else []
    if not isinstance(rows, list):
        problem = "the answer is no list of days"
        raise ForecastFormatError(TITLE, problem)
    good = [row for row in rows if isinstance(row, dict)]
    others = {str(row.get("STATION")) for row in good} - {identifier}
    if others:
        problem = f"the answer is of {', '.join(sorted(others))}, not of {identifier}"
        raise ForecastFormatError(TITLE, problem)
    minimums = {}
    for row in good:
        low = _minimum_c(row)
        if low is not None:
            minimums[date.fromisoformat(str(row["DATE"]))] = low
    last = good[-1] if good else {}
    place = _number(last, "LATITUDE"), _number(last, "LONGITUDE")
    return StationDays(
        identifier=identifier,
        name=str(last.get("NAME") or identifier),
        minimums_c=minimums,
        place=None if None in place else (place[0] or 0.0, place[1] or 0.0),
        elevation_m=_number(last, "ELEVATION"),
    )


def _minimum_c(row: dict[str, Any]) -> float | None:
    """Return a day's minimum [degC]; None of one that is missing, odd or doubted."""
    value = _number(row, "TMIN")
    try:
        date.fromisoformat(str(row.get("DATE")))
    except ValueError:
        return None
    # Attributes are measurement flag, quality flag, source: a quality flag is a doubt.
    flags = str(row.get("TMIN_ATTRIBUTES") or "").split(",")
    is_doubted = len(flags) > 1 and bool(flags[1].strip())
    if value is None or is_doubted or not _LOWEST_C <= value <= _HIGHEST_C:
        return None
    return value


def _number(row: dict[str, Any], name: str) -> float | None:
    """Return a number that is given as text."""
    try:
        value = float(str(row.get(name)))
    except ValueError:
        return None
    return value if math.isfinite(value) else None
