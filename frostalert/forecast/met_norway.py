"""Answers of MET Norway's Locationforecast 2.0, the complete variant.

Documents: https://api.met.no/weatherapi/locationforecast/2.0/documentation. Data under
NLOD 2.0 and CC BY 4.0. `parse_timeseries` is pure; `MetNorwaySource` fetches.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from frostalert.errors import (
    ForecastFormatError,
    ForecastRejectedError,
    ForecastUnavailableError,
)
from frostalert.forecast.answer import (
    is_near,
    parse_json,
    read_height_m,
    read_place,
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
from frostalert.forecast.consistency import (
    checked_air,
    fitting_minimums,
    refuse_mostly_odd,
    refuse_out_of_season,
)
from frostalert.forecast.intervals import as_number, parse_moment
from frostalert.forecast.notes import Notes, shown
from frostalert.model.forecast import HOUR, FloatArray, ForecastRun, Hours, Period
from frostalert.physics.humidity import dewpoint_c

SOURCE = "met-norway"
TITLE = "MET Norway (CC BY 4.0)"

# provider's name -> what it may hold; units are fixed by the service
VARIABLE_MAP: dict[str, tuple[Limits, str]] = {
    "air_temperature": (AIR, "celsius"),
    "dew_point_temperature": (DEWPOINT, "celsius"),
    "relative_humidity": (SHARE, "%"),
    "wind_speed": (WIND, "m/s"),
    "wind_from_direction": (DIRECTION, "degrees"),
    "cloud_area_fraction": (SHARE, "%"),
    "cloud_area_fraction_low": (SHARE, "%"),
    "cloud_area_fraction_medium": (SHARE, "%"),
    "air_temperature_percentile_10": (AIR, "celsius"),
    "air_temperature_percentile_90": (AIR, "celsius"),
}
# Quantities that change smoothly enough to be drawn between steps of six hours.
_SMOOTH = (
    "air_temperature",
    "dew_point_temperature",
    "relative_humidity",
    "wind_speed",
    "cloud_area_fraction",
    "cloud_area_fraction_low",
    "cloud_area_fraction_medium",
)
_PERCENTILES_APART = 2.5631
"""Standard errors between the 10th and the 90th percentile of a normal. [1]"""
_LONGEST_STEP = timedelta(hours=6)
_MOST_WARMER_C = 5.0
"""Its minimums of six hours are not made of its hours: in a recorded answer of 2020
they lie up to 2.0 above the coldest of them. [degC]"""
_WET_WORDS = ("rain", "sleet", "snow", "fog", "thunder")


@dataclass(frozen=True, slots=True)
class _Step:
    """One time with what the service says of it."""

    moment: datetime
    instant: dict[str, Any]
    ahead: dict[str, Any]


def parse_timeseries(body: str, fetched_utc: datetime) -> ForecastRun:
    """Return the forecast in the text of an answer.

    Parameters
    ----------
    body : str
        The answer's text.
    fetched_utc : datetime
        When it was got.

    Returns
    -------
    ForecastRun
        Hourly as far as the service is; beyond, hours between its six-hourly steps are
        interpolated and the minimums of those six hours kept beside them.

    Raises
    ------
    ForecastFormatError
        If it is not such an answer.
    """
    properties, coordinates = _properties(body)
    notes = Notes()
    updated = _updated(properties)
    steps = _steps(properties, updated, notes)
    first = steps[0].moment.replace(minute=0, second=0, microsecond=0)
    places, count = places_of([step.moment for step in steps], first)
    units = _units(properties, notes)
    laid = {
        name: on_grid(_column(steps, name, units, notes), places, count)
        for name in VARIABLE_MAP
    }
    known = int(np.isfinite(laid["air_temperature"]).sum())
    if not known:
        raise _format("the answer has no air temperature")
    given = sum(step.instant.get("air_temperature") is not None for step in steps)
    refuse_mostly_odd(given, known, TITLE)
    _check(laid, notes)
    _bridge(laid, places, first, notes)
    hours = _hours(first, laid, steps, places)
    latitude, longitude = read_place(coordinates[1], coordinates[0], notes)
    refuse_out_of_season(hours.air_c, latitude, first, TITLE)
    return ForecastRun(
        source=SOURCE,
        source_title=TITLE,
        place="unnamed place" if latitude is None else f"{latitude},{longitude}",
        updated_utc=updated,
        fetched_utc=fetched_utc,
        elevation_m=read_height_m(coordinates[2], notes),
        latitude=latitude,
        longitude=longitude,
        hours=hours,
        night_minimums=fitting_minimums(
            _minimums(steps, notes),
            hours,
            "air_temperature_min",
            notes,
            most_warmer_c=_MOST_WARMER_C,
        ),
        precipitation_mm=tuple(_amounts(steps)),
        notes=tuple(notes.lines),
        doubts=tuple(notes.doubts),
        gives_minimums=True,
    )


def check_problem(status: int) -> None:
    """Raise what an error answer stands for; its body is no JSON.

    Raises
    ------
    ForecastRejectedError
        If the request itself is at fault.
    ForecastUnavailableError
        If it may work later.
    """
    reasons = {
        400: "the request was refused (400)",
        401: "the request was refused (401)",
        403: "forbidden (403): is contact under [forecast] set to a real address?",
        404: "no such address (404); is met_norway_url right?",
        422: "the place lies outside the area that is covered (422)",
    }
    if status in reasons:
        raise ForecastRejectedError(TITLE, reasons[status])
    raise ForecastUnavailableError(TITLE, f"the service answered {status}")


def _properties(body: str) -> tuple[dict[str, Any], tuple[object, object, object]]:
    """Return an answer's properties, and its longitude, latitude and height."""
    document = parse_json(body, TITLE)
    properties = document.get("properties") if isinstance(document, dict) else None
    if not isinstance(properties, dict) or not isinstance(
        properties.get("timeseries"), list
    ):
        raise _format("the answer has no timeseries")
    geometry = document.get("geometry")
    given = geometry.get("coordinates") if isinstance(geometry, dict) else None
    if not isinstance(given, list) or len(given) < 2:  # noqa: PLR2004 - longitude, latitude
        raise _format("the answer does not say for which place it is")
    return properties, (given[0], given[1], given[2] if len(given) > 2 else None)  # noqa: PLR2004


def _meta(properties: dict[str, Any]) -> dict[str, Any]:
    """Return what an answer says of itself."""
    meta = properties.get("meta")
    return meta if isinstance(meta, dict) else {}


def _units(properties: dict[str, Any], notes: Notes) -> dict[str, Any]:
    """Return the units that an answer states; the service's own where it does not."""
    units = _meta(properties).get("units")
    if isinstance(units, dict):
        return units
    notes.doubt("it states no units: those that the service documents are taken")
    return {}


def _steps(properties: dict[str, Any], updated: datetime, notes: Notes) -> list[_Step]:
    """Return the times that can be read and are of the forecast's time, in order."""
    steps, odd = {}, 0
    for entry in properties["timeseries"]:
        step = _step(entry)
        # What is said twice of one time is as little to be relied on.
        if step is None or not is_near(step.moment, updated) or step.moment in steps:
            odd += 1
        else:
            steps[step.moment] = step
    if not steps:
        raise _format("no time of the answer can be read, or lies near its update")
    if odd:
        notes.doubt(f"{odd} times left out: unreadable, twice, or far from its update")
    return [steps[moment] for moment in sorted(steps)]


def _step(entry: Any) -> _Step | None:
    """Return one time with its values, or none if it cannot be read."""
    try:
        moment = parse_moment(entry["time"])
        data = entry["data"]
        instant = data["instant"]["details"]
    except (KeyError, TypeError, ValueError):
        return None
    return _Step(moment, instant, data) if isinstance(instant, dict) else None


def _column(
    steps: list[_Step], name: str, units: dict[str, Any], notes: Notes
) -> FloatArray:
    """Return one quantity at the answer's times."""
    limits, unit = VARIABLE_MAP[name]
    given = units.get(name, unit)
    if given != unit:
        notes.doubt(f'{name}: left out, unknown unit "{shown(given)}"')
        return np.full(len(steps), np.nan)
    values = [step.instant.get(name) for step in steps]
    return read_column(values, len(steps), limits, name, notes)


def _check(laid: dict[str, FloatArray], notes: Notes) -> None:
    """Leave out, refuse or doubt what does not fit the rest, in place."""
    names = ("air_temperature", "dew_point_temperature")
    columns = (laid[names[0]], laid[names[1]], laid["relative_humidity"])
    laid[names[0]], laid[names[1]] = checked_air(columns, names, TITLE, notes)


def _bridge(
    laid: dict[str, FloatArray],
    places: "np.ndarray[Any, np.dtype[np.intp]]",
    first: datetime,
    notes: Notes,
) -> None:
    """Draw smooth quantities between steps of up to six hours, in place.

    Only beyond the last two steps that are an hour apart: a gap before is one.
    """
    apart = np.diff(places)
    hourly = np.flatnonzero(apart == 1)
    since = int(hourly[-1]) + 1 if hourly.size else 0
    wide = [
        place
        for place in range(since, apart.size)
        if 1 < apart[place] <= _LONGEST_STEP // HOUR
    ]
    if not wide:
        return
    for name in _SMOOTH:
        column = laid[name]
        for place in wide:
            start, end = int(places[place]), int(places[place + 1])
            # A missing end leaves all between missing.
            column[start : end + 1] = np.linspace(
                column[start], column[end], end - start + 1
            )
    moment = first + int(places[wide[0]]) * HOUR
    notes.note(
        f"from {moment:%d %b %H:%M} UTC on the service gives every sixth hour; those "
        "between are interpolated"
    )


def _hours(
    first: datetime,
    laid: dict[str, FloatArray],
    steps: list[_Step],
    places: "np.ndarray[Any, np.dtype[np.intp]]",
) -> Hours:
    """Return the columns in our own names."""
    air, dew = laid["air_temperature"], laid["dew_point_temperature"].copy()
    humidity = laid["relative_humidity"]
    lacking = np.isnan(dew) & np.isfinite(air) & (humidity > 0.0)
    dew[lacking] = dewpoint_c(air[lacking], humidity[lacking])
    low, middle = laid["cloud_area_fraction_low"], laid["cloud_area_fraction_medium"]
    apart = laid["air_temperature_percentile_90"]
    apart = apart - laid["air_temperature_percentile_10"]
    chances, wet = _ahead(steps, places, air.size)
    return Hours(
        first_utc=first,
        air_c=air,
        dewpoint_c=np.minimum(dew, air),
        wind_mps=laid["wind_speed"],
        wind_from_deg=laid["wind_from_direction"],
        cloud_pct=laid["cloud_area_fraction"],
        shutting_cloud_pct=100.0 - (100.0 - low) * (100.0 - middle) / 100.0,
        precipitation_probability_pct=chances,
        spread_c=np.where(apart >= 0.0, apart / _PERCENTILES_APART, np.nan),
        is_frost=np.zeros(air.size, dtype=np.bool_),
        is_wet_weather=wet,
    )


def _ahead(
    steps: list[_Step], places: "np.ndarray[Any, np.dtype[np.intp]]", count: int
) -> tuple[FloatArray, "np.ndarray[Any, np.dtype[np.bool_]]"]:
    """Return the chance of rain or snow and wet weather, hour by hour."""
    chances, wet = np.full(count, np.nan), np.zeros(count, dtype=np.bool_)
    for step, place in zip(steps, places, strict=True):
        found = _next(step)
        if found is None:
            continue
        hours, block = found
        part = slice(int(place), min(count, int(place) + hours))
        chance = as_number(_details(block).get("probability_of_precipitation"))
        if 0.0 <= chance <= 100.0:  # noqa: PLR2004 - percent
            chances[part] = chance
        summary = block.get("summary")
        symbol = summary.get("symbol_code") if isinstance(summary, dict) else None
        wet[part] = any(word in str(symbol or "") for word in _WET_WORDS)
    return chances, wet


def _next(step: _Step) -> tuple[int, dict[str, Any]] | None:
    """Return the shortest stretch ahead that a step speaks of, with its hours."""
    for hours in (1, 6):
        block = step.ahead.get(f"next_{hours}_hours")
        if isinstance(block, dict):
            return hours, block
    return None


def _details(block: dict[str, Any]) -> dict[str, Any]:
    """Return the details of a stretch."""
    details = block.get("details")
    return details if isinstance(details, dict) else {}


def _minimums(steps: list[_Step], notes: Notes) -> list[Period]:
    """Return the minimums of six hours that the service gives."""
    found, lost = [], 0
    for step, after in zip(steps, [*steps[1:], None], strict=True):
        block = step.ahead.get("next_6_hours")
        value = as_number(
            _details(block).get("air_temperature_min")
            if isinstance(block, dict)
            else None
        )
        if AIR.lowest <= value <= AIR.highest:
            found.append(
                Period(
                    start_utc=step.moment,
                    end_utc=step.moment + _LONGEST_STEP,
                    value=value,
                )
            )
        elif after is not None and after.moment - step.moment > HOUR:
            lost += 1
    # Without any the whole night is known to lack its minimum.
    if found and lost:
        notes.doubt(f"air_temperature_min: {lost} missing where hours are interpolated")
    return found


def _amounts(steps: list[_Step]) -> list[Period]:
    """Return the amounts of rain or snow, each for its own stretch."""
    found = []
    for step in steps:
        ahead = _next(step)
        if ahead is None:
            continue
        hours, block = ahead
        value = as_number(_details(block).get("precipitation_amount"))
        if DEPTH.lowest <= value <= DEPTH.highest:
            end = step.moment + hours * HOUR
            found.append(Period(start_utc=step.moment, end_utc=end, value=value))
    return found


def _updated(properties: dict[str, Any]) -> datetime:
    """Return when the forecast was made."""
    try:
        return parse_moment(_meta(properties).get("updated_at"))
    except ValueError as error:
        raise _format("the answer does not say when it was made") from error


def _format(problem: str) -> ForecastFormatError:
    """Return the error for an answer that is not as documented."""
    return ForecastFormatError(TITLE, problem)
