"""What the values of one document say against each other.

A second source shows more, but a lone one must not be believed blindly: an hour that
jumps where no air does is left out, temperatures that fit their own humidity only when
they are read in another unit are refused, and what else does not fit is said.
"""

import math
from collections.abc import Sequence
from datetime import datetime

import numpy as np

from frostalert.errors import ForecastFormatError
from frostalert.forecast.notes import Notes
from frostalert.model.forecast import HOUR, FloatArray, Hours, Period
from frostalert.physics.humidity import vapour_pressure_hpa

MOST_JUMP_C = 12.0
"""One hour farther than this from both its neighbours is not air. [degC] Common
practice, no source."""
MOST_MISFIT_PCT = 12.0
"""Relative humidity that a service gives, less that of its own air and dew point: in
recorded answers of three services (2022 to 2026) hardly ever more than 5. [%]"""
_MOST_AT_A_SEAM_H = 6
"""Where a service passes from one model to another it is more for some hours (4 of 176
answers of Open-Meteo). [h]"""
_FITS_PCT, _DOES_NOT_FIT_PCT = 1.5, 3.5
"""Medians of that over a document. As it should be: up to 1.0. Degrees Fahrenheit taken
for Celsius: 5 to 14, and up to 1.0 once they are converted. [%]"""
_HOTTEST_MEAN_C, _MILDEST_MEAN_C = 45.0, 20.0
"""What some days in a row can be at most, under the highest sun and in the darkest
winter. [degC] The hottest month that was measured had a mean of 42.5 (Death Valley,
July 2024: 108.5 degF, US National Weather Service); the rest is common practice, no
source."""
_LOWER_SUN_DEG, _COLDER_PER_DEG_C = 20.0, 0.45
"""How far from overhead the sun of a month before may stand at noon before the hottest
mean falls, and by how much it does then. [deg, degC/deg] Common practice, no source."""
_LAG_DAYS = 30
_LEAST_GOOD = 0.75
_STILL_H = 24
_LEAST_HOURS = 12
_LEAST_DAYS_H = 48


def without_jumps(column: FloatArray, name: str, notes: Notes) -> FloatArray:
    """Return hours of a temperature without those that stand out from both neighbours.

    Only where the hours on both sides are known; the steps of a service that gives
    every sixth hour alone are no neighbours. [degC]
    """
    starts = np.flatnonzero(np.diff(column, prepend=np.nan) != 0.0)
    steps = np.abs(np.diff(column[starts]))
    # Hours of one interval are one value.
    stands_out = np.zeros(starts.size, dtype=np.bool_)
    stands_out[1:-1] = np.minimum(steps[:-1], steps[1:]) > MOST_JUMP_C
    jumps = np.repeat(stands_out, np.diff(starts, append=column.size))
    if not jumps.any():
        return column
    count = int(jumps.sum())
    notes.doubt(
        f"{name}: {_hours(count)} left out, more than {MOST_JUMP_C:.0f} C "
        f"({MOST_JUMP_C * 1.8:.0f} F) from the hours before and after"
    )
    return np.where(jumps, np.nan, column)


def refuse_mostly_odd(given: int, known: int, title: str) -> None:
    """Refuse air of which much was left out: what is left may be the warm part.

    Raises
    ------
    ForecastFormatError
        If more than a quarter of the values that are given is none.
    """
    if known < _LEAST_GOOD * given:
        problem = f"{given - known} of its {given} air temperatures are none"
        raise ForecastFormatError(title, problem)


def doubt_stillness(column: FloatArray, name: str, notes: Notes) -> None:
    """Say when a temperature does not move for a day."""
    starts = np.flatnonzero(np.diff(column, prepend=np.nan) != 0.0)
    longest = int(np.diff(starts, append=column.size).max(initial=0))
    if longest >= _STILL_H:
        notes.doubt(f"{name}: the same for {longest} hours")


def refuse_out_of_season(
    air_c: FloatArray, latitude: float | None, first_utc: datetime, title: str
) -> None:
    """Refuse air that is hotter than any place of that latitude and season.

    Raises
    ------
    ForecastFormatError
        If the mean of some days is.
    """
    known = air_c[np.isfinite(air_c)]
    if latitude is None or known.size < _LEAST_DAYS_H:
        return
    mean_c = float(known.mean())
    if mean_c > hottest_mean_c(latitude, first_utc.timetuple().tm_yday):
        problem = (
            f"its temperatures have a mean of {mean_c:.0f} C, hotter than any place "
            "there and then: are they degF?"
        )
        raise ForecastFormatError(title, problem)


def hottest_mean_c(latitude: float, day_of_year: int) -> float:
    """Return above what the mean of some days is not believed. [degC]

    Examples
    --------
    >>> round(hottest_mean_c(36.0, 200)), round(hottest_mean_c(46.0, 102))
    (45, 32)
    """
    turn = 2.0 * math.pi * (day_of_year + 10 - _LAG_DAYS) / 365.25
    from_overhead = abs(latitude + 23.44 * math.cos(turn))
    lower = max(0.0, from_overhead - _LOWER_SUN_DEG)
    return max(_MILDEST_MEAN_C, _HOTTEST_MEAN_C - _COLDER_PER_DEG_C * lower)


def refuse_fahrenheit(
    air_c: FloatArray, dewpoint_c: FloatArray, humidity_pct: FloatArray, title: str
) -> None:
    """Refuse temperatures in degF that are said to be in degC.

    Raises
    ------
    ForecastFormatError
        If they fit their own humidity in degF alone.
    """
    known = _all_known(air_c, dewpoint_c, humidity_pct)
    if known is None or _misfit_pct(*known) <= _DOES_NOT_FIT_PCT:
        return
    air, dew, given = known
    celsius = _from_fahrenheit(air)
    if (
        min(
            _misfit_pct(celsius, dew, given),
            _misfit_pct(celsius, _from_fahrenheit(dew), given),
        )
        <= _FITS_PCT
    ):
        problem = (
            "its temperatures fit its own humidity only when they are read as degF, "
            "though they are said to be degC"
        )
        raise ForecastFormatError(title, problem)


def is_dewpoint_fahrenheit(
    air_c: FloatArray, dewpoint_c: FloatArray, humidity_pct: FloatArray
) -> bool:
    """Return whether dew points alone fit only when they are read as degF."""
    known = _all_known(air_c, dewpoint_c, humidity_pct)
    if known is None or _misfit_pct(*known) <= _DOES_NOT_FIT_PCT:
        return False
    air, dew, given = known
    return _misfit_pct(air, _from_fahrenheit(dew), given) <= _FITS_PCT


def doubt_humidity(
    air_c: FloatArray, dewpoint_c: FloatArray, humidity_pct: FloatArray, notes: Notes
) -> None:
    """Say in how many hours air, dew point and humidity contradict each other."""
    known = np.isfinite(air_c) & np.isfinite(dewpoint_c) & np.isfinite(humidity_pct)
    if not known.any():
        return
    apart = np.abs(_humidity_pct(air_c[known], dewpoint_c[known]) - humidity_pct[known])
    count = int((apart > MOST_MISFIT_PCT).sum())
    if not count:
        return
    say = notes.doubt if count > _MOST_AT_A_SEAM_H else notes.note
    say(
        f"{_hours(count)} in which air temperature, dew point and relative humidity "
        "do not fit each other"
    )


def fitting_minimums(
    minimums: Sequence[Period],
    hours: Hours,
    name: str,
    notes: Notes,
    *,
    most_warmer_c: float,
) -> tuple[Period, ...]:
    """Return minimums without those that are colder than the air can have been.

    One that is warmer than the hours of its own period by more than the service's ever
    are changes nothing, but is said.
    """
    apart = _apart(minimums, hours)
    too_cold, too_warm = apart < -MOST_JUMP_C, apart > most_warmer_c
    if too_cold.any():
        notes.doubt(
            f"{name}: {_values(int(too_cold.sum()))} left out, more than "
            f"{MOST_JUMP_C:.0f} C ({MOST_JUMP_C * 1.8:.0f} F) colder than every hour"
        )
    if too_warm.any():
        notes.doubt(
            f"{name}: {_values(int(too_warm.sum()))} warmer than hours of the same time"
        )
    return tuple(
        item for item, is_odd in zip(minimums, too_cold, strict=True) if not is_odd
    )


def _apart(minimums: Sequence[Period], hours: Hours) -> FloatArray:
    """Return each minimum less the coldest of its hours, NaN unless all are known."""
    found = np.full(len(minimums), np.nan)
    for place, item in enumerate(minimums):
        start = -((hours.first_utc - item.start_utc) // HOUR)
        stop = -((hours.first_utc - item.end_utc) // HOUR)
        inside = hours.air_c[max(0, start) : max(0, stop)]
        if start >= 0 and inside.size == stop - start and inside.size:
            found[place] = item.value - inside.min()
    return found


def _all_known(
    air_c: FloatArray, dewpoint_c: FloatArray, humidity_pct: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Return the hours of which all is known; None where they are too few to tell."""
    known = np.isfinite(air_c) & np.isfinite(dewpoint_c) & np.isfinite(humidity_pct)
    if known.sum() < _LEAST_HOURS:
        return None
    return air_c[known], dewpoint_c[known], humidity_pct[known]


def _misfit_pct(air_c: FloatArray, dew_c: FloatArray, given_pct: FloatArray) -> float:
    """Return the median difference of given humidity and that of air and dew point."""
    return float(np.median(np.abs(_humidity_pct(air_c, dew_c) - given_pct)))


def _humidity_pct(air_c: FloatArray, dew_c: FloatArray) -> FloatArray:
    """Return the relative humidity over water of some air and its dew point. [%]"""
    share: FloatArray = vapour_pressure_hpa(dew_c) / vapour_pressure_hpa(air_c)
    return 100.0 * share


def _from_fahrenheit(values: FloatArray) -> FloatArray:
    """Return what numbers are in degC if they are degF."""
    return (values - 32.0) / 1.8


def _hours(count: int) -> str:
    """Return a number of hours in words."""
    return "1 hour" if count == 1 else f"{count} hours"


def _values(count: int) -> str:
    """Return a number of values in words."""
    return "1 value" if count == 1 else f"{count} values"


def checked_air(
    columns: tuple[FloatArray, FloatArray, FloatArray],
    names: tuple[str, str],
    title: str,
    notes: Notes,
) -> tuple[FloatArray, FloatArray]:
    """Return air and dew point with what does not fit the rest left out or doubted.

    Parameters
    ----------
    columns : tuple of ndarray
        Air, dew point and relative humidity. [degC, degC, %] Shape (hours,) each.
    names : tuple of str
        What the source calls air and dew point.
    title : str
        The source's title.
    notes : Notes
        Where doubts are put down.

    Returns
    -------
    tuple of ndarray
        Air and dew point. [degC]

    Raises
    ------
    ForecastFormatError
        If the air is in degrees Fahrenheit.
    """
    air_name, dew_name = names
    air = without_jumps(columns[0], air_name, notes)
    dew = without_jumps(columns[1], dew_name, notes)
    humidity = columns[2]
    doubt_stillness(air, air_name, notes)
    refuse_fahrenheit(air, dew, humidity, title)
    if is_dewpoint_fahrenheit(air, dew, humidity):
        notes.doubt(f"{dew_name}: left out, it fits the rest only when read as degF")
        dew = np.full(air.size, np.nan)
    doubt_humidity(air, dew, humidity, notes)
    return air, dew
