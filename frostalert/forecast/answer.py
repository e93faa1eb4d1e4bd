"""The parts of an answer that every service has: JSON, numbers, a place, a height."""

import json
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from frostalert.errors import ForecastFormatError
from frostalert.forecast.intervals import as_number
from frostalert.forecast.notes import Notes
from frostalert.model.forecast import ForecastRun
from frostalert.physics.geo import distance_km
from frostalert.risk.remarks import FARTHEST_KM

LONGEST = timedelta(days=12)
"""How far ahead of its update a forecast speaks at most. Open-Meteo's, which may be
longer, does not say when it was made."""
LONGEST_PAST = timedelta(days=2)
_LOWEST_CELL_M, _HIGHEST_CELL_M = -500.0, 6000.0
_MOST_LATITUDE, _MOST_LONGITUDE = 90.0, 180.0


def parse_json(body: str, title: str) -> Any:
    """Return what a text of JSON holds.

    Raises
    ------
    ForecastFormatError
        If it is not JSON, or nested as no forecast is.
    """
    try:
        return json.loads(body)
    except ValueError as error:
        raise ForecastFormatError(title, "the answer is not JSON") from error
    except RecursionError as error:
        problem = "the answer is nested too deeply to be a forecast"
        raise ForecastFormatError(title, problem) from error


def is_near(moment: datetime, updated: datetime) -> bool:
    """Return whether a forecast that was made at one moment can speak of another."""
    try:
        return updated - LONGEST_PAST <= moment <= updated + LONGEST
    except OverflowError:
        return False


def read_height_m(value: object, notes: Notes) -> float | None:
    """Return the mean height of a cell, if it can be one. [m]"""
    height = as_number(value)
    if _LOWEST_CELL_M <= height <= _HIGHEST_CELL_M:
        return height
    notes.doubt("the height of its cell cannot be read: no difference is reckoned")
    return None


def read_place(
    latitude: object, longitude: object, notes: Notes
) -> tuple[float, float] | tuple[None, None]:
    """Return latitude and longitude of a cell, if they are on the earth. [deg]"""
    north, east = as_number(latitude), as_number(longitude)
    if abs(north) <= _MOST_LATITUDE and abs(east) <= _MOST_LONGITUDE:
        return north, east
    notes.doubt("where its cell lies cannot be read")
    return None, None


def refuse_other_place(
    run: ForecastRun, latitude: float, longitude: float, title: str
) -> None:
    """Raise if an answer is for another place than was asked for.

    Raises
    ------
    ForecastFormatError
        If its cell lies too far away.
    """
    if run.latitude is None or run.longitude is None:
        return
    far = distance_km((latitude, longitude), (run.latitude, run.longitude))
    if far > FARTHEST_KM:
        problem = f"the answer is for a cell {far:.0f} km away ({run.place})"
        raise ForecastFormatError(title, problem)


def middle_of(polygons: object) -> tuple[object, object]:
    """Return latitude and longitude of the middle of a cell's first ring.

    A cell may be a polygon, or several of them, of which the first is taken.
    """
    try:
        ring: Any = polygons
        while isinstance(ring[0][0], list):
            ring = ring[0]
        points = np.array(ring[:-1] or ring, dtype=np.float64)
        longitude, latitude = points[:, :2].mean(axis=0)
    except (TypeError, KeyError, IndexError, ValueError, OverflowError):
        return None, None
    return float(latitude), float(longitude)
