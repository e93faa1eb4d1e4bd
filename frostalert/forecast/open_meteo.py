"""Answers of Open-Meteo (open-meteo.com), forecast and ensemble.

Documents: https://open-meteo.com/en/docs and /en/docs/ensemble-api. Data under
CC BY 4.0. `parse_*` is pure; `OpenMeteoSource` fetches.
"""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from frostalert.errors import (
    ForecastFormatError,
    ForecastRejectedError,
    ForecastUnavailableError,
)
from frostalert.forecast.columns import (
    AIR,
    DEPTH,
    DEWPOINT,
    DIRECTION,
    SHARE,
    WIND,
    Limits,
    on_grid,
    places_of,
    read_column,
)
from frostalert.forecast.intervals import as_number
from frostalert.model.forecast import HOUR, FloatArray, ForecastRun, Hours, Period
from frostalert.physics.humidity import dewpoint_c

SOURCE = "open-meteo"
TITLE = "Open-Meteo (open-meteo.com, CC BY 4.0)"

# provider's variable -> (what it may hold, unit that is asked for)
VARIABLE_MAP: dict[str, tuple[Limits, str]] = {
    "temperature_2m": (AIR, "°C"),
    "dew_point_2m": (DEWPOINT, "°C"),
    "relative_humidity_2m": (SHARE, "%"),
    "wind_speed_10m": (WIND, "m/s"),
    "wind_direction_10m": (DIRECTION, "°"),
    "cloud_cover": (SHARE, "%"),
    "cloud_cover_low": (SHARE, "%"),
    "cloud_cover_mid": (SHARE, "%"),
    "precipitation_probability": (SHARE, "%"),
    "precipitation": (DEPTH, "mm"),
    "temperature_80m": (AIR, "°C"),
    "weather_code": (Limits(lowest=0.0, highest=99.0), "wmo code"),
}
# Units that an answer may have in place of those asked for, with their factor.
_OTHER_UNITS = {("m/s", "km/h"): 1.0 / 3.6}
# WMO 4677 as the service groups it: fog; drizzle, rain, snow, showers, thunder.
_FOG_CODES = frozenset({45, 48})
_WET_FROM_CODE = 51
_MEMBER = re.compile(r"^temperature_2m_member\d+(_.+)?$")
_LEAST_MEMBERS = 5


def parse_forecast(body: str, fetched_utc: datetime) -> ForecastRun:
    """Return the forecast in the text of an answer.

    The service does not say when its models ran: the time of the fetch stands for it.

    Parameters
    ----------
    body : str
        The answer's text.
    fetched_utc : datetime
        When it was got.

    Returns
    -------
    ForecastRun
        Missing hours as NaN; what was left out is in its notes.

    Raises
    ------
    ForecastFormatError
        If it is no forecast of air temperature for one place.
    ForecastRejectedError, ForecastUnavailableError
        If it is one of the service's own error answers.
    """
    document = _document(body)
    notes: list[str] = ["the service does not say when its models ran"]
    moments = _moments(document)
    first = moments[0].replace(minute=0, second=0, microsecond=0)
    places, count = places_of(moments, first)
    laid = {
        name: on_grid(
            _column(document, name, len(moments), notes) * _factor(document, name),
            places,
            count,
        )
        for name in VARIABLE_MAP
    }
    if not np.isfinite(laid["temperature_2m"]).any():
        raise _format("the answer has no air temperature (temperature_2m)")
    return ForecastRun(
        source=SOURCE,
        source_title=TITLE,
        place=_place(document),
        updated_utc=fetched_utc,
        fetched_utc=fetched_utc,
        elevation_m=_number(document, "elevation"),
        latitude=_number(document, "latitude"),
        longitude=_number(document, "longitude"),
        hours=_hours(first, laid),
        night_minimums=(),
        precipitation_mm=_amounts(first, laid["precipitation"]),
        notes=tuple(notes),
    )


def parse_spread(body: str, run: ForecastRun) -> ForecastRun:
    """Return a run with the spread of an ensemble's members laid beside its hours.

    Parameters
    ----------
    body : str
        The ensemble answer's text.
    run : ForecastRun
        The forecast that it belongs to.

    Returns
    -------
    ForecastRun
        With `hours.spread_c`; unchanged where there are too few members. Members do
        not resolve valleys: the spread is a lower bound.

    Raises
    ------
    ForecastError
        As `parse_forecast`.
    """
    document = _document(body)
    moments = _moments(document)
    hourly = document["hourly"]
    notes: list[str] = []
    members = [
        read_column(values, len(moments), AIR, name, notes)
        for name, values in hourly.items()
        if _MEMBER.match(name) or name.startswith("temperature_2m")
    ]
    if len(members) < _LEAST_MEMBERS:
        return run
    together = np.stack(members)
    known = np.isfinite(together).sum(axis=0) >= _LEAST_MEMBERS
    spread = np.full(len(moments), np.nan)
    spread[known] = np.nanstd(together[:, known], axis=0, ddof=1)
    places, _ = places_of(moments, run.hours.first_utc)
    laid = on_grid(spread, places, run.hours.count)
    return replace(run, hours=replace(run.hours, spread_c=laid))


def check_problem(body: str, status: int) -> None:
    """Raise what an error answer stands for.

    Raises
    ------
    ForecastRejectedError
        If the request itself is at fault.
    ForecastUnavailableError
        If it may work later.
    """
    reason = _reason(body) or f"the service answered {status}"
    if status in (400, 401, 403, 404):
        raise ForecastRejectedError(TITLE, reason)
    raise ForecastUnavailableError(TITLE, reason)


def _document(body: str) -> dict[str, Any]:
    """Return an answer as parsed, or raise what it is instead."""
    try:
        document = json.loads(body)
    except ValueError as error:
        raise _format("the answer is not JSON") from error
    if isinstance(document, list):
        raise _format("the answer is for several places; one is needed")
    if not isinstance(document, dict):
        raise _format("the answer is not an object")
    if document.get("error"):
        status = 429 if "limit" in str(document.get("reason", "")).lower() else 400
        check_problem(body, status)
    return document


def _reason(body: str) -> str | None:
    """Return the reason in an error answer."""
    try:
        document = json.loads(body)
    except ValueError:
        return None
    reason = document.get("reason") if isinstance(document, dict) else None
    return str(reason)[:200] if reason else None


def _moments(document: dict[str, Any]) -> list[datetime]:
    """Return the hours of an answer in UTC."""
    hourly = document.get("hourly")
    times = hourly.get("time") if isinstance(hourly, dict) else None
    if not isinstance(times, list) or not times:
        raise _format("the answer has no hourly times")
    offset = timedelta(seconds=_number(document, "utc_offset_seconds") or 0.0)
    try:
        moments = [_moment(value, offset) for value in times]
    except (ValueError, TypeError, OverflowError) as error:
        raise _format(f"a time cannot be read: {error}") from error
    if moments != sorted(moments):
        raise _format("the hours are not in order")
    return moments


def _moment(value: object, offset: timedelta) -> datetime:
    """Return one time: seconds since 1970, or local time without an offset."""
    if isinstance(value, int):
        return datetime.fromtimestamp(value, UTC)
    return datetime.fromisoformat(str(value)).replace(tzinfo=UTC) - offset


def _column(
    document: dict[str, Any], name: str, count: int, notes: list[str]
) -> FloatArray:
    """Return one variable, unless its unit is another than any that is known."""
    values = document["hourly"].get(name)
    limits, unit = VARIABLE_MAP[name]
    given = document.get("hourly_units", {}).get(name, unit)
    if values is not None and given != unit and (unit, given) not in _OTHER_UNITS:
        notes.append(f'{name}: left out, unknown unit "{given}"')
        return np.full(count, np.nan)
    if (unit, given) in _OTHER_UNITS:
        highest = limits.highest / _OTHER_UNITS[unit, given]
        limits = Limits(lowest=limits.lowest, highest=highest)
    return read_column(values, count, limits, name, notes)


def _factor(document: dict[str, Any], name: str) -> float:
    """Return the factor from the answer's unit to the one used inside."""
    unit = VARIABLE_MAP[name][1]
    given = document.get("hourly_units", {}).get(name, unit)
    return _OTHER_UNITS.get((unit, given), 1.0)


def _hours(first: datetime, laid: dict[str, FloatArray]) -> Hours:
    """Return the columns in our own names."""
    air = laid["temperature_2m"]
    low, mid = laid["cloud_cover_low"], laid["cloud_cover_mid"]
    codes = np.nan_to_num(laid["weather_code"]).astype(int)
    return Hours(
        first_utc=first,
        air_c=air,
        dewpoint_c=_dewpoint(air, laid["dew_point_2m"], laid["relative_humidity_2m"]),
        wind_mps=laid["wind_speed_10m"],
        wind_from_deg=laid["wind_direction_10m"],
        cloud_pct=laid["cloud_cover"],
        # Layers overlap: what either leaves open is open to both.
        shutting_cloud_pct=100.0 - (100.0 - low) * (100.0 - mid) / 100.0,
        precipitation_probability_pct=laid["precipitation_probability"],
        aloft_delta_c=laid["temperature_80m"] - air,
        is_frost=np.zeros(air.size, dtype=np.bool_),
        is_wet_weather=np.isin(codes, list(_FOG_CODES)) | (codes >= _WET_FROM_CODE),
    )


def _dewpoint(air: FloatArray, given: FloatArray, humidity: FloatArray) -> FloatArray:
    """Return the dew point, from humidity where it is not given."""
    dew = given.copy()
    lacking = np.isnan(dew) & np.isfinite(air) & (humidity > 0.0)
    dew[lacking] = dewpoint_c(air[lacking], humidity[lacking])
    return np.minimum(dew, air)


def _amounts(first: datetime, amounts: FloatArray) -> tuple[Period, ...]:
    """Return the amounts, each for the hour before its time."""
    return tuple(
        Period(
            start_utc=first + (place - 1) * HOUR,
            end_utc=first + place * HOUR,
            value=float(value),
        )
        for place, value in enumerate(amounts)
        if np.isfinite(value)
    )


def _place(document: dict[str, Any]) -> str:
    """Return a name for the cell."""
    return f"{_number(document, 'latitude')},{_number(document, 'longitude')}"


def _number(document: dict[str, Any], name: str) -> float | None:
    """Return a number of the document, or none."""
    number = as_number(document.get(name))
    return number if np.isfinite(number) else None


def _format(problem: str) -> ForecastFormatError:
    """Return the error for an answer that is not as documented."""
    return ForecastFormatError(TITLE, problem)
