"""Warnings in force and the nearest station's reading, from the US weather service.

Only its frost and freeze products count: a cold weather advisory is about people in
the wind. Ended ones stay listed for a while with an end to come, so that the action of
their event code (VTEC, NWS Directive 10-1703) and their urgency decide, not the times.
"""

import json
import re
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

from frostalert.errors import (
    ForecastFormatError,
    ForecastUnavailableError,
    TransportError,
)
from frostalert.forecast.intervals import parse_moment
from frostalert.forecast.nws import TITLE, check_problem
from frostalert.forecast.nws_source import coordinate
from frostalert.model.official import OfficialAlert, OfficialWord, StationReport
from frostalert.physics.geo import distance_km
from frostalert.transport import HttpSession

_EVENT_CODE = re.compile(r"/O\.([A-Z]{3})\.([A-Z]{4})\.(FZ|FR|HZ)\.([WAY])\.(\d{4})\.")
_ENDED = frozenset({"CAN", "EXP", "UPG"})
_GRACE = timedelta(hours=3)
"""A renewal may come after what it renews has expired. Common practice, no source."""
_TRUSTED = frozenset({"V", "S", "C", "G", "Z"})
"""Marks of the service's own checks with which a value is used (MADIS quality control
flags)."""
_LOWEST_C, _HIGHEST_C = -60.0, 60.0
_OLD = timedelta(hours=2)
_FAR_KM = 60.0
_OK = 200
_ACCEPT = {"Accept": "application/geo+json"}
_OFFICIAL_NAME = re.compile(r"^[KPT][A-Z]{3}$")


def parse_alerts(body: str, now_utc: datetime) -> tuple[OfficialAlert, ...]:
    """Return the frost and freeze warnings in force, the latest word of each.

    Parameters
    ----------
    body : str
        Answer of `/alerts/active?point=`.
    now_utc : datetime
        The present moment.

    Returns
    -------
    tuple of OfficialAlert
        In the order of their onset.

    Raises
    ------
    ForecastFormatError
        If it is no such answer.
    """
    newest: dict[str, OfficialAlert] = {}
    for feature in _features(body):
        alert = _alert(feature.get("properties") or {}, now_utc)
        if alert is None:
            continue
        known = newest.get(alert.identity)
        if known is None or known.sent_utc < alert.sent_utc:
            newest[alert.identity] = alert
    return tuple(sorted(newest.values(), key=lambda item: item.onset_utc))


def parse_station(
    body: str, place: tuple[float, float]
) -> tuple[str, str, float] | None:
    """Return the nearest official station: identifier, name, distance. [km]

    Raises
    ------
    ForecastFormatError
        If it is no list of stations.
    """
    found = []
    for feature in _features(body):
        properties = feature.get("properties") or {}
        name = str(properties.get("stationIdentifier") or "")
        try:
            longitude, latitude = feature["geometry"]["coordinates"][:2]
            far = distance_km(place, (float(latitude), float(longitude)))
        except (KeyError, TypeError, ValueError):
            continue
        if _OFFICIAL_NAME.match(name) and far <= _FAR_KM:
            found.append((far, name, str(properties.get("name") or name)))
    if not found:
        return None
    far, name, title = min(found)
    return name, title, far


def parse_observations(body: str, now_utc: datetime) -> tuple[datetime, float] | None:
    """Return when and what air a station measured last. [degC]

    Raises
    ------
    ForecastFormatError
        If it is no list of observations.
    """
    found = []
    for feature in _features(body):
        properties = feature.get("properties") or {}
        air_c = _celsius(properties.get("temperature") or {})
        try:
            moment = parse_moment(properties.get("timestamp"))
        except ValueError:
            continue
        if air_c is not None and timedelta(0) <= now_utc - moment <= _OLD:
            found.append((moment, air_c))
    return max(found) if found else None


class NwsOfficial:
    """The weather service's own word for one place.

    Parameters
    ----------
    session : HttpSession
        How to ask.
    base_url : str
        Address of the service, without a slash at its end.
    place : tuple of float
        Latitude and longitude. [deg]
    """

    def __init__(
        self, session: HttpSession, base_url: str, place: tuple[float, float]
    ) -> None:
        self._session = session
        self._base_url = base_url
        self._place = place
        self._station: tuple[str, str, float] | None = None

    def ask(self, now_utc: datetime) -> OfficialWord:
        """Return what is in force and what the nearest station measured.

        Raises
        ------
        ForecastError
            If the warnings could not be had; without a station there is no report.
        """
        point = ",".join(coordinate(value) for value in self._place)
        alerts = parse_alerts(self._get(f"/alerts/active?point={point}"), now_utc)
        try:
            report = self._report(point, now_utc)
        except (ForecastUnavailableError, ForecastFormatError):
            # A warning in force is worth more than a second thermometer.
            report = None
        return OfficialWord(asked_utc=now_utc, alerts=alerts, report=report)

    def _report(self, point: str, now_utc: datetime) -> StationReport | None:
        """Return the nearest station's newest reading."""
        if self._station is None:
            listed = _stations_path(self._get(f"/points/{point}"))
            self._station = parse_station(self._get(listed), self._place)
        if self._station is None:
            return None
        name, title, far = self._station
        body = self._get(f"/stations/{name}/observations?limit=12")
        found = parse_observations(body, now_utc)
        if found is None:
            return None
        return StationReport(
            station=name, name=title, distance_km=far, at_utc=found[0], air_c=found[1]
        )

    def _get(self, path: str) -> str:
        """Return the body of an answer."""
        try:
            answer = self._session.get(self._base_url + path, _ACCEPT)
        except TransportError as error:
            raise ForecastUnavailableError(TITLE, error.problem) from error
        if answer.status != _OK:
            check_problem(answer.text, answer.status)
        return answer.text


def _celsius(given: dict[str, Any]) -> float | None:
    """Return a measured temperature, if it passed the checks. [degC]"""
    value, mark = given.get("value"), given.get("qualityControl", "Z")
    if not isinstance(value, int | float) or isinstance(value, bool):
        return None
    is_good = mark in _TRUSTED and str(given.get("unitCode")).endswith("degC")
    return float(value) if is_good and _LOWEST_C <= value <= _HIGHEST_C else None


def _features(body: str) -> list[dict[str, Any]]:
    """Return the entries of an answer."""
    try:
        content = json.loads(body)
        features = content["features"] or []
    except (ValueError, KeyError, TypeError) as error:
        raise ForecastFormatError(TITLE, "the answer has no list of entries") from error
    if not isinstance(features, list):
        raise ForecastFormatError(TITLE, "the answer has no list of entries")
    return [item for item in features if isinstance(item, dict)]


def _alert(properties: dict[str, Any], now_utc: datetime) -> OfficialAlert | None:
    """Return one warning, or none if it is no frost product or is over."""
    if properties.get("status") != "Actual" or properties.get("urgency") == "Past":
        return None
    codes = (properties.get("parameters") or {}).get("VTEC") or []
    matches = [found for code in codes if (found := _EVENT_CODE.search(str(code)))]
    live = [found for found in matches if found[1] not in _ENDED]
    if not live:
        return None
    try:
        sent = parse_moment(properties.get("sent"))
        ends = _ends(properties)
        onset = parse_moment(properties.get("onset") or properties.get("effective"))
    except ValueError:
        return None
    if ends <= now_utc:
        return None
    return OfficialAlert(
        identity=".".join(live[0].groups()[1:]),
        event=str(properties.get("event") or "Freeze product"),
        sender=str(properties.get("senderName") or TITLE),
        sent_utc=sent,
        onset_utc=onset,
        ends_utc=ends,
    )


def _ends(properties: dict[str, Any]) -> datetime:
    """Return when a warning is over."""
    if properties.get("ends"):
        return parse_moment(properties["ends"])
    return parse_moment(properties.get("expires")) + _GRACE


def _stations_path(body: str) -> str:
    """Return where the stations of a place are listed, on the server that was asked."""
    try:
        named = json.loads(body)["properties"]["observationStations"]
        path = str(urlsplit(named).path)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        problem = "the /points answer does not say where the stations are"
        raise ForecastFormatError(TITLE, problem) from error
    if not path.startswith("/gridpoints/"):
        problem = f"the /points answer names an odd list of stations: {path[:80]}"
        raise ForecastFormatError(TITLE, problem)
    return path
