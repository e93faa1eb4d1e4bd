"""The raw forecast grid of the US National Weather Service (api.weather.gov).

Documents: https://www.weather.gov/documentation/services-web-api. `parse_grid` is pure
and reads a recorded answer as well as a fresh one; `NwsSource` fetches.
"""

import json
from datetime import datetime, time, timedelta
from typing import Any

import numpy as np

from frostalert.errors import (
    ForecastFormatError,
    ForecastRejectedError,
    ForecastUnavailableError,
)
from frostalert.forecast.answer import (
    LONGEST,
    is_near,
    middle_of,
    read_height_m,
    read_place,
)
from frostalert.forecast.consistency import (
    checked_air,
    fitting_minimums,
    refuse_mostly_odd,
    refuse_out_of_season,
)
from frostalert.forecast.intervals import parse_interval, parse_moment
from frostalert.forecast.layers import (
    LayerRule,
    count_given,
    doubt_overlaps,
    first_start,
    lay_out,
    lay_out_weather,
    read_periods,
    spanning_grid,
)
from frostalert.forecast.notes import Notes, shown
from frostalert.model.forecast import FloatArray, ForecastRun, Hours, Period
from frostalert.physics.humidity import dewpoint_c

SOURCE = "nws"
TITLE = "US National Weather Service"
UNNAMED = "unnamed cell"

# provider's layer -> what it may hold
LAYER_RULES = {
    "temperature": LayerRule("temperature", -60.0, 60.0),
    "dewpoint": LayerRule("temperature", -90.0, 40.0),
    "minTemperature": LayerRule("temperature", -60.0, 60.0),
    "relativeHumidity": LayerRule("share", 0.5, 100.0),
    "skyCover": LayerRule("share", 0.0, 100.0),
    "windSpeed": LayerRule("speed", 0.0, 250.0 / 3.6),
    "windDirection": LayerRule("direction", 0.0, 360.0),
    "probabilityOfPrecipitation": LayerRule("share", 0.0, 100.0),
    "quantitativePrecipitation": LayerRule("depth", 0.0, 1000.0),
}
FROST_WORDS = frozenset({"frost", "freezing_fog", "ice_fog"})
WET_WORDS = frozenset(
    {
        "rain",
        "rain_showers",
        "drizzle",
        "snow",
        "snow_showers",
        "sleet",
        "freezing_rain",
        "freezing_drizzle",
        "freezing_spray",
        "thunderstorms",
        "fog",
        "freezing_fog",
    }
)
_BEGIN_TOGETHER = ("temperature", "dewpoint", "windSpeed", "skyCover")
_FIRST_NIGHT = timedelta(hours=27)
_WHOLE_NIGHT = timedelta(hours=12)
_MORNING, _EVENING = time(9), time(21)
"""By the sun the middle of its nights lies between midnight and six."""
_DEWPOINT_EXCESS_C = 0.6
_MOST_WARMER_C = 1.2
"""A night minimum is never above the coldest hour of its own period in recorded grids;
this is two steps of whole degF. [degC]"""
_TRANSIENT_PROBLEMS = frozenset(
    {
        "UnexpectedProblem",
        "ForecastGridExpired",
        "ForecastMissingData",
        "UnavailableWebService",
    }
)


def parse_grid(body: str, fetched_utc: datetime) -> ForecastRun:
    """Return the forecast in the text of a grid answer.

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
        If it is not a grid answer, or has no air temperature or no update time.
    ForecastRejectedError, ForecastUnavailableError
        If it is one of the service's own error answers.
    """
    properties, geometry = _properties(_document(body))
    notes = Notes()
    updated = _updated(properties)
    layers = _layers(properties, updated, notes)
    latitude, longitude = _centre(geometry, notes)
    hours = _hours(layers, properties, notes)
    refuse_out_of_season(hours.air_c, latitude, hours.first_utc, TITLE)
    _doubt_times(properties, layers["minTemperature"], longitude, notes)
    minimums = fitting_minimums(
        layers["minTemperature"],
        hours,
        "minTemperature",
        notes,
        most_warmer_c=_MOST_WARMER_C,
    )
    return ForecastRun(
        source=SOURCE,
        source_title=TITLE,
        place=_place(properties, notes),
        updated_utc=updated,
        fetched_utc=fetched_utc,
        elevation_m=_elevation_m(properties, notes),
        latitude=latitude,
        longitude=longitude,
        hours=hours,
        night_minimums=minimums,
        precipitation_mm=tuple(layers["quantitativePrecipitation"]),
        notes=tuple(notes.lines),
        doubts=tuple(notes.doubts),
        gives_minimums=True,
    )


def check_problem(body: str, status: int) -> None:
    """Raise the error that an unsuccessful answer stands for.

    Raises
    ------
    ForecastUnavailableError
        If another try may help.
    ForecastRejectedError
        If it will not.
    """
    problem, detail = _problem(body)
    words = f"{problem or 'error'} ({status}): {detail or 'no detail given'}"
    if problem in _TRANSIENT_PROBLEMS or status >= 500 or status == 429:  # noqa: PLR2004
        raise ForecastUnavailableError(TITLE, words)
    if status == 403:  # noqa: PLR2004 - forbidden
        blocked = (
            "the request was blocked (403); set [forecast] contact to an address "
            "of yours and wait some minutes"
        )
        raise ForecastUnavailableError(TITLE, blocked)
    if problem == "InvalidPoint":
        outside = (
            f"{words}. The place lies outside what this service covers; "
            "check latitude and longitude"
        )
        raise ForecastRejectedError(TITLE, outside)
    raise ForecastRejectedError(TITLE, words)


def _document(body: str) -> dict[str, Any]:
    """Return the answer as an object, or raise saying what it is instead."""
    if body.lstrip()[:1] == "<":
        raise ForecastUnavailableError(
            TITLE, "a web page came instead of a forecast (blocked, or a login page)"
        )
    try:
        document = json.loads(body)
    except ValueError as error:
        raise ForecastUnavailableError(
            TITLE, "the answer is not JSON, or was cut off"
        ) from error
    except RecursionError as error:
        raise _format("the answer is nested too deeply to be a forecast") from error
    if not isinstance(document, dict):
        raise _format("the answer is not a GeoJSON feature")
    return document


def _properties(document: dict[str, Any]) -> tuple[dict[str, Any], object]:
    """Return properties and geometry of a grid answer."""
    kind, status = document.get("type"), document.get("status")
    if isinstance(status, int) and isinstance(kind, str) and "roblem" in kind:
        check_problem(json.dumps(document), status)
    if "@graph" in document or ("temperature" in document and kind != "Feature"):
        raise _format("the answer is JSON-LD; ask for application/geo+json")
    properties = document.get("properties")
    if not isinstance(properties, dict):
        raise _format(f"not a grid answer but {_what_it_is(document)}")
    if "temperature" not in properties or "validTimes" not in properties:
        raise _format(f"not a grid answer but {_what_it_is(document)}")
    return properties, document.get("geometry")


def _what_it_is(document: dict[str, Any]) -> str:
    """Return what another document of the service is, in words."""
    properties = document.get("properties")
    if isinstance(properties, dict) and "forecastGridData" in properties:
        return "a /points answer; its forecastGridData says where the grid is"
    if isinstance(properties, dict) and "barometricPressure" in properties:
        return "an observation"
    if isinstance(properties, dict) and "periods" in properties:
        return "a worded forecast; the raw grid is needed"
    if document.get("type") == "FeatureCollection":
        return "a list of features (observations or alerts)"
    return "something else: it has no temperature layer"


def _layers(
    properties: dict[str, Any], updated: datetime, notes: Notes
) -> dict[str, list[Period]]:
    """Return the layers, as far as they can be read and are of the forecast's time."""
    layers = {
        name: read_periods(properties.get(name), rule, name, notes)
        for name, rule in LAYER_RULES.items()
    }
    if not layers["temperature"]:
        raise _format("the answer has no air temperature layer that can be read")
    given = count_given(properties["temperature"])
    refuse_mostly_odd(given, len(layers["temperature"]), TITLE)
    layers = {
        name: _near(periods, updated, name, notes) for name, periods in layers.items()
    }
    if not layers["temperature"]:
        raise _format("no air temperature lies near the time of its update")
    for name in ("temperature", "dewpoint"):
        doubt_overlaps(layers[name], name, notes)
    return layers


def _hours(
    layers: dict[str, list[Period]], properties: dict[str, Any], notes: Notes
) -> Hours:
    """Return the layers hour by hour."""
    grid = spanning_grid(layers["temperature"], LONGEST)
    laid = {name: lay_out(periods, grid) for name, periods in layers.items()}
    humidity = laid["relativeHumidity"]
    columns = (laid["temperature"], laid["dewpoint"], humidity)
    air, dew = checked_air(columns, ("temperature", "dewpoint"), TITLE, notes)
    return Hours(
        first_utc=grid.first_utc,
        air_c=air,
        dewpoint_c=_dewpoint(air, dew, humidity, notes),
        wind_mps=laid["windSpeed"],
        wind_from_deg=laid["windDirection"],
        cloud_pct=laid["skyCover"],
        # Its sky cover is opaque cloud: thin cirrus is not in it (Meteorological
        # Development Laboratory, sky cover notes of 2007).
        shutting_cloud_pct=laid["skyCover"],
        precipitation_probability_pct=laid["probabilityOfPrecipitation"],
        is_frost=lay_out_weather(properties.get("weather"), grid, FROST_WORDS),
        is_wet_weather=lay_out_weather(properties.get("weather"), grid, WET_WORDS),
    )


def _near(
    periods: list[Period], updated: datetime, name: str, notes: Notes
) -> list[Period]:
    """Return the periods that a forecast of that time can speak of."""
    near = [period for period in periods if is_near(period.start_utc, updated)]
    if len(near) < len(periods):
        count = len(periods) - len(near)
        notes.doubt(f"{name}: {count} values left out, far from the time of its update")
    return near


def _doubt_times(
    properties: dict[str, Any],
    minimums: list[Period],
    longitude: float | None,
    notes: Notes,
) -> None:
    """Say which layers lie elsewhere in time than the whole forecast.

    Hours begin with it; minimums in its first day, and each is of a night.
    """
    try:
        start, _ = parse_interval(properties["validTimes"])
    except ValueError:
        notes.doubt("it does not say for what times it holds")
        return
    for name in _BEGIN_TOGETHER:
        first_utc = first_start(properties.get(name))
        if first_utc is not None and abs(first_utc - start) >= timedelta(hours=1):
            notes.doubt(f"{name}: does not begin when the whole forecast does")
    first_utc = first_start(properties.get("minTemperature"))
    if first_utc is not None and not timedelta(0) <= first_utc - start <= _FIRST_NIGHT:
        notes.doubt("minTemperature: does not begin with the first night")
    by_day = sum(_is_by_day(period, longitude) for period in minimums)
    if by_day:
        notes.doubt(f"minTemperature: {by_day} values are of days, not of nights")


def _is_by_day(period: Period, longitude: float | None) -> bool:
    """Return whether the middle of a whole period lies in the day, by the sun."""
    length = period.end_utc - period.start_utc
    if longitude is None or length < _WHOLE_NIGHT:
        return False
    middle = period.start_utc + length / 2 + timedelta(hours=longitude / 15.0)
    return _MORNING < middle.time() < _EVENING


def _dewpoint(
    air: FloatArray, given: FloatArray, humidity: FloatArray, notes: Notes
) -> FloatArray:
    """Return the dew point, from humidity where it is missing, never above the air."""
    excess = given - air
    impossible = excess > _DEWPOINT_EXCESS_C
    if impossible.any():
        count = int(impossible.sum())
        notes.doubt(f"dewpoint: {count} hours left out, far above the air")
    dew = np.where(impossible, np.nan, np.minimum(given, air))
    from_humidity = np.isnan(dew) & np.isfinite(humidity) & np.isfinite(air)
    if from_humidity.any():
        dew[from_humidity] = dewpoint_c(air[from_humidity], humidity[from_humidity])
        count = int(from_humidity.sum())
        notes.note(f"dewpoint: {count} hours taken from relative humidity")
    return dew


def _place(properties: dict[str, Any], notes: Notes) -> str:
    """Return the name of the cell; its numbers come as text or as integers."""
    names = [properties.get(key) for key in ("gridId", "gridX", "gridY")]
    if None in names:
        notes.doubt("it does not name its cell")
        return UNNAMED
    return name_of_cell(*names)


def name_of_cell(office: object, x: object, y: object) -> str:
    """Return a cell's name from its parts.

    Examples
    --------
    >>> name_of_cell("TST", "1", 2)
    'TST 1,2'
    """
    return f"{shown(office)} {shown(x)},{shown(y)}"


def _updated(properties: dict[str, Any]) -> datetime:
    """Return when the forecast says it was made."""
    try:
        return parse_moment(properties.get("updateTime"))
    except ValueError as error:
        raise _format("the answer has no update time, so its age is unknown") from error


def _elevation_m(properties: dict[str, Any], notes: Notes) -> float | None:
    """Return the mean height of the cell. [m]"""
    elevation = properties.get("elevation")
    given = elevation if isinstance(elevation, dict) else {}
    is_metres = str(given.get("unitCode", "")).rpartition(":")[2] == "m"
    return read_height_m(given.get("value") if is_metres else None, notes)


def _centre(geometry: object, notes: Notes) -> tuple[float | None, float | None]:
    """Return latitude and longitude of the middle of the cell. [deg]"""
    given = geometry if isinstance(geometry, dict) else {}
    return read_place(*middle_of(given.get("coordinates")), notes)


def _problem(body: str) -> tuple[str | None, str | None]:
    """Return name and detail of one of the service's error answers."""
    try:
        document = json.loads(body)
    except ValueError:
        return None, None
    if not isinstance(document, dict):
        return None, None
    name = str(document.get("type", "")).replace(":", "/").rpartition("/")[2]
    detail = document.get("detail")
    return name or None, str(detail)[:300] if detail else None


def _format(problem: str) -> ForecastFormatError:
    """Return the error for an answer that is not what the service documents."""
    return ForecastFormatError(TITLE, problem)
