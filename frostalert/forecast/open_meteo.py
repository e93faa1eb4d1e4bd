"""Answers of Open-Meteo (open-meteo.com), forecast and ensemble.

Documents: https://open-meteo.com/en/docs and /en/docs/ensemble-api. Data under
CC BY 4.0. `parse_*` is pure; `OpenMeteoSource` fetches.
"""

import re
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np

from frostalert.errors import (
    ForecastFormatError,
    ForecastRejectedError,
    ForecastUnavailableError,
)
from frostalert.forecast.answer import (
    parse_json,
    read_height_m,
    read_place,
)
from frostalert.forecast.columns import (
    AIR,
    DEPTH,
    DEWPOINT,
    DIRECTION,
    LONGEST_HOURS,
    SHARE,
    WIND,
    Limits,
    on_grid,
    places_of,
    read_column,
)
from frostalert.forecast.consistency import (
    checked_air,
    refuse_mostly_odd,
    refuse_out_of_season,
)
from frostalert.forecast.intervals import as_number
from frostalert.forecast.notes import Notes, shown
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
_NUMBERED = frozenset({"weather_code"})
"""What needs no unit."""
_LONGEST = timedelta(hours=LONGEST_HOURS)
_MOST_OFFSET_S = 14 * 3600


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
    return read_forecast(open_document(body), fetched_utc)


def read_forecast(document: dict[str, Any], fetched_utc: datetime) -> ForecastRun:
    """Return the forecast in an answer that has been parsed.

    Raises
    ------
    ForecastFormatError
        If it is no forecast of air temperature for one place.
    """
    notes = Notes()
    notes.note("the service does not say when its models ran")
    times = _times(document, notes)
    first = times.moments[0].replace(minute=0, second=0, microsecond=0)
    places, count = places_of(times.moments, first)
    units = _units(document, notes)
    laid = {
        name: on_grid(_column(document, name, units, times, notes), places, count)
        for name in VARIABLE_MAP
    }
    known = int(np.isfinite(laid["temperature_2m"]).sum())
    if not known:
        raise _format("the answer has no air temperature (temperature_2m)")
    values = document["hourly"]["temperature_2m"]
    given = sum(values[place] is not None for place in times.kept)
    refuse_mostly_odd(given, known, TITLE)
    _check(laid, notes)
    place = document.get("latitude"), document.get("longitude")
    latitude, longitude = read_place(*place, notes)
    refuse_out_of_season(laid["temperature_2m"], latitude, first, TITLE)
    return ForecastRun(
        source=SOURCE,
        source_title=TITLE,
        place="unnamed place" if latitude is None else f"{latitude},{longitude}",
        updated_utc=fetched_utc,
        fetched_utc=fetched_utc,
        elevation_m=read_height_m(document.get("elevation"), notes),
        latitude=latitude,
        longitude=longitude,
        hours=_hours(first, laid),
        night_minimums=(),
        precipitation_mm=_amounts(first, laid["precipitation"]),
        notes=tuple(notes.lines),
        doubts=tuple(notes.doubts),
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
    document = open_document(body)
    notes = Notes()
    times = _times(document, notes)
    members = [
        read_column(values, times.given, AIR, shown(name), notes)[times.kept]
        for name, values in document["hourly"].items()
        if _MEMBER.match(name) or name.startswith("temperature_2m")
    ]
    if len(members) < _LEAST_MEMBERS:
        return run
    together = np.stack(members)
    known = np.isfinite(together).sum(axis=0) >= _LEAST_MEMBERS
    spread = np.full(len(times.moments), np.nan)
    spread[known] = np.nanstd(together[:, known], axis=0, ddof=1)
    places, _ = places_of(times.moments, run.hours.first_utc)
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


def open_document(body: str) -> dict[str, Any]:
    """Return an answer as parsed, or raise what it is instead.

    Raises
    ------
    ForecastError
        If it is an error answer, or not for one place.
    """
    document = parse_json(body, TITLE)
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
        document = parse_json(body, TITLE)
    except ForecastFormatError:
        return None
    reason = document.get("reason") if isinstance(document, dict) else None
    return str(reason)[:200] if reason else None


@dataclass(frozen=True, slots=True)
class _Times:
    """The hours of an answer: how many it gives, and those that are used, in UTC."""

    given: int
    kept: list[int]
    moments: list[datetime]


def _times(document: dict[str, Any], notes: Notes) -> _Times:
    """Return the hours of an answer without those that lie far from the others."""
    hourly = document.get("hourly")
    values = hourly.get("time") if isinstance(hourly, dict) else None
    if not isinstance(values, list) or not values:
        raise _format("the answer has no hourly times")
    offset_s = as_number(document.get("utc_offset_seconds", 0))
    if not abs(offset_s) <= _MOST_OFFSET_S:
        raise _format("a time cannot be read: its distance from UTC is none")
    offset = timedelta(seconds=offset_s)
    moments = [_moment(value, offset) for value in values]
    readable = sorted(moment for moment in moments if moment is not None)
    if not readable:
        raise _format(f"a time cannot be read: {shown(values[0])}")
    middle = readable[len(readable) // 2]
    near = {
        place: moment
        for place, moment in enumerate(moments)
        if moment is not None and abs(moment - middle) <= _LONGEST
    }
    if len(near) < len(values):
        lost = len(values) - len(near)
        notes.doubt(f"{lost} times left out, unreadable or far from the others")
    used = list(near.values())
    if any(later <= earlier for earlier, later in pairwise(used)):
        raise _format("the hours are not in order")
    return _Times(given=len(values), kept=list(near), moments=used)


def _moment(value: object, offset: timedelta) -> datetime | None:
    """Return one time: seconds since 1970, or local time without an offset."""
    try:
        if isinstance(value, int):
            return datetime.fromtimestamp(value, UTC)
        return datetime.fromisoformat(str(value)).replace(tzinfo=UTC) - offset
    except (ValueError, OverflowError, OSError):
        return None


def _units(document: dict[str, Any], notes: Notes) -> dict[str, str]:
    """Return the unit of each variable; where none is stated the one asked for."""
    given = document.get("hourly_units")
    stated = given if isinstance(given, dict) else {}
    asked = {name: unit for name, (_, unit) in VARIABLE_MAP.items()}
    lacking = [
        name
        for name in asked
        if document["hourly"].get(name) is not None
        and stated.get(name) is None
        and name not in _NUMBERED
    ]
    if lacking:
        notes.doubt(f"{', '.join(lacking)}: no unit is stated, the usual one is taken")
    return {
        name: asked[name] if stated.get(name) is None else shown(stated[name])
        for name in asked
    }


def _column(
    document: dict[str, Any],
    name: str,
    units: dict[str, str],
    times: _Times,
    notes: Notes,
) -> FloatArray:
    """Return one variable in our unit, unless its own is none that is known."""
    values = document["hourly"].get(name)
    limits, unit = VARIABLE_MAP[name]
    factor = 1.0
    if values is not None and units[name] != unit:
        if (unit, units[name]) not in _OTHER_UNITS:
            notes.doubt(f'{name}: left out, unknown unit "{units[name]}"')
            return np.full(len(times.kept), np.nan)
        factor = _OTHER_UNITS[unit, units[name]]
        limits = Limits(lowest=limits.lowest, highest=limits.highest / factor)
    return read_column(values, times.given, limits, name, notes)[times.kept] * factor


def _check(laid: dict[str, FloatArray], notes: Notes) -> None:
    """Leave out, refuse or doubt what does not fit the rest, in place."""
    names = ("temperature_2m", "dew_point_2m")
    columns = (laid[names[0]], laid[names[1]], laid["relative_humidity_2m"])
    laid[names[0]], laid[names[1]] = checked_air(columns, names, TITLE, notes)


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


def _format(problem: str) -> ForecastFormatError:
    """Return the error for an answer that is not as documented."""
    return ForecastFormatError(TITLE, problem)
