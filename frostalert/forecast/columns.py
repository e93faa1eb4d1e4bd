"""Parallel lists of hourly values, checked one by one; what is odd is missing."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from frostalert.forecast.intervals import as_number
from frostalert.forecast.notes import Notes
from frostalert.model.forecast import HOUR, FloatArray

LONGEST_HOURS = 16 * 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a column may hold; values outside are taken as missing."""

    lowest: float
    highest: float


AIR = Limits(lowest=-60.0, highest=60.0)
DEWPOINT = Limits(lowest=-90.0, highest=40.0)
SHARE = Limits(lowest=0.0, highest=100.0)
WIND = Limits(lowest=0.0, highest=70.0)
DIRECTION = Limits(lowest=0.0, highest=360.0)
DEPTH = Limits(lowest=0.0, highest=1000.0)


def read_column(
    values: object, count: int, limits: Limits, name: str, notes: Notes
) -> FloatArray:
    """Return a list of values as an array of a given length, odd ones as NaN.

    Parameters
    ----------
    values : object
        The list as parsed from JSON; anything else counts as missing throughout.
    count : int
        How many there must be.
    limits : Limits
        What they may be.
    name : str
        For the notes.
    notes : Notes
        Gets a line for everything that was left out.

    Returns
    -------
    ndarray of float
        Shape (count,).
    """
    column = np.full(count, np.nan)
    if not isinstance(values, list):
        if values is not None:
            notes.doubt(f"{name}: left out, it is no list of values")
        return column
    if len(values) != count:
        notes.doubt(f"{name}: left out, {len(values)} values for {count} hours")
        return column
    odd = 0
    for place, value in enumerate(values):
        number = as_number(value)
        if limits.lowest <= number <= limits.highest:
            column[place] = number
        elif value is not None:
            odd += 1
    if odd:
        # A cloud of 101 % is nothing to call anybody for.
        say = notes.doubt if limits in (AIR, DEWPOINT) else notes.note
        say(f"{name}: {odd} values left out, unreadable or out of range")
    return column


def places_of(
    moments: list[datetime], first_utc: datetime
) -> tuple[np.ndarray[Any, np.dtype[np.intp]], int]:
    """Return the place of each moment on an hourly grid, and the grid's length."""
    places = np.array([(m - first_utc) // HOUR for m in moments], dtype=np.intp)
    return places, min(int(places.max()) + 1, LONGEST_HOURS)


def on_grid(
    column: FloatArray, places: np.ndarray[Any, np.dtype[np.intp]], count: int
) -> FloatArray:
    """Return a column laid on an hourly grid; hours without a value are NaN."""
    laid = np.full(count, np.nan)
    inside = (places >= 0) & (places < count)
    laid[places[inside]] = column[inside]
    return laid
