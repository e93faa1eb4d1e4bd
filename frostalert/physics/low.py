"""The night's low: the hours of a forecast brought into line with its night minimum.

Hourly grids smooth the trough away. On 45 of 105 recorded nights of the US National
Weather Service the separate night minimum was colder than every hour, by up to 4 degF,
and never warmer; so the lower of the two counts and the hours around it are bent.
"""

from dataclasses import dataclass

import numpy as np

from frostalert.errors import PhysicsDomainError
from frostalert.model.assessment import LowFrom
from frostalert.model.forecast import FloatArray

USUAL_DEFICIT_C = 0.56
"""How much colder than every hour of its own a night minimum usually is, where it is
colder at all. [degC] Median of 18 of the 47 nights that are whole in six recorded grids
of the US National Weather Service (2022 to 2026): one step of whole degF. On the other
29 it was their coldest hour."""


@dataclass(frozen=True, slots=True)
class BentNight:
    """Hours of one night after the night minimum was taken into account.

    Attributes
    ----------
    air_c, dewpoint_c : ndarray
        Shape (hours,). [degC]
    low_c : float
        The source's low. [degC]
    low_from : LowFrom
        Which of its values that was.
    """

    air_c: FloatArray
    dewpoint_c: FloatArray
    low_c: float
    low_from: LowFrom


@dataclass(frozen=True, slots=True, kw_only=True)
class NightShape:
    """Which of the hours from noon to noon are bent.

    Attributes
    ----------
    within : slice
        The hours that the minimum speaks of.
    night : ndarray of float
        How far each hour counts as night, 0 to 1, as from `physics.nights.darkness`.
    is_windy : bool
        Whether the night is windy.
    first_ahead : int
        The first hour that has not gone by. [1]
    open_ends : tuple of bool
        Whether the hours before the first, and after the last, are unknown.
    """

    within: slice
    night: FloatArray
    is_windy: bool
    first_ahead: int = 0
    open_ends: tuple[bool, bool] = (False, False)


def fit_to_minimum(
    air_c: FloatArray,
    dewpoint_c: FloatArray,
    minimum_c: float | None,
    shape: NightShape,
) -> BentNight:
    """Lower a night's hours so that their trough meets the source's night minimum.

    On a calm night the trough deepens and the evening stays: each side of the trough
    is stretched downwards between its own maximum and the minimum. On a windy night
    the air is mixed and every hour of it is as much too warm, so all are lowered alike.
    Hours of the day stay as they are. Hours gone by are bent as they were before: that
    time goes by moves neither the start of a harm nor what a reading is held against.

    Parameters
    ----------
    air_c, dewpoint_c : ndarray of float
        Hours from noon to noon. [degC] Shape (hours,); NaN is kept.
    minimum_c : float or None
        The source's night minimum. [degC] None if it gives none.
    shape : NightShape
        Which hours are bent.

    Returns
    -------
    BentNight
        With the low of the hours ahead, and dew points lowered to the air where the air
        falls below them.

    Raises
    ------
    PhysicsDomainError
        If no hour ahead has an air temperature.

    Notes
    -----
    With d = hourly low - minimum, T' = T - d (M - T) / (M - low), M the maximum of the
    side within the night. No hour is bent below the minimum.

    References
    ----------
    .. [1] Derivation; the counts of recorded nights are given in the module.

    Examples
    --------
    >>> hours = np.array([10.0, 4.0, 0.0, 4.0, 10.0])
    >>> shape = NightShape(within=slice(0, 5), night=np.ones(5), is_windy=False)
    >>> bent = fit_to_minimum(hours, hours - 3, -1.0, shape)
    >>> bent.air_c.tolist(), bent.low_from.value
    ([10.0, 3.4, -1.0, 3.4, 10.0], 'night minimum')
    """
    first_ahead = shape.first_ahead
    hourly_low_c = _lowest(air_c[first_ahead:])
    if np.isnan(hourly_low_c):
        message = "a night without any air temperature to come has no low"
        raise PhysicsDomainError(message)
    by_hours = BentNight(air_c, dewpoint_c, hourly_low_c, LowFrom.HOURS)
    if minimum_c is None:
        return by_hours
    low_c = min(hourly_low_c, minimum_c)
    source = LowFrom.NIGHT_MINIMUM if minimum_c < hourly_low_c else LowFrom.HOURS
    by_minimum = BentNight(air_c, dewpoint_c, low_c, source)
    trough = trough_of(air_c, shape.within)
    if trough is None:
        # No hour of its own period is known: it counts, and there is nothing to bend.
        return by_minimum
    deficit_c = float(air_c[trough]) - minimum_c
    if deficit_c <= 0.0:
        return by_hours
    # Where the trough has gone by, the low to come is that of the hours after it.
    is_ahead = trough >= first_ahead
    if not is_surrounded(air_c, trough, shape.open_ends):
        # At the edge of what is known the trough may lie beyond: its shape is not.
        return by_minimum if is_ahead else by_hours
    share = bending_share(air_c, trough, shape)
    bent = np.maximum(air_c - deficit_c * share, np.minimum(air_c, minimum_c))
    dew = np.where(np.isfinite(bent), np.minimum(dewpoint_c, bent), dewpoint_c)
    if is_ahead:
        return BentNight(bent, dew, low_c, source)
    return BentNight(bent, dew, _lowest(bent[first_ahead:]), LowFrom.HOURS)


def trough_of(air_c: FloatArray, within: slice) -> int | None:
    """Return the coldest of some hours; None where none is known.

    Parameters
    ----------
    air_c : ndarray of float
        Hours. [degC] Shape (hours,).
    within : slice
        Those that are looked at.

    Returns
    -------
    int or None
        Its place among all the hours.
    """
    inside = air_c[within]
    low_c = _lowest(inside)
    if np.isnan(low_c):
        return None
    return within.indices(air_c.size)[0] + int((inside == low_c).argmax())


def is_surrounded(air_c: FloatArray, place: int, open_ends: tuple[bool, bool]) -> bool:
    """Return whether what lies on both sides of an hour is known.

    Parameters
    ----------
    air_c : ndarray of float
        Hours. [degC] Shape (hours,).
    place : int
        The hour.
    open_ends : tuple of bool
        Whether the hours before the first, and after the last, are unknown.

    Returns
    -------
    bool
        False at the edge of what is known.
    """
    before = not open_ends[0] if place == 0 else np.isfinite(air_c[place - 1])
    is_last = place == air_c.size - 1
    after = not open_ends[1] if is_last else np.isfinite(air_c[place + 1])
    return bool(before and after)


def bending_share(air_c: FloatArray, trough: int, shape: NightShape) -> FloatArray:
    """Return the share of the deficit that each hour of a night takes.

    Parameters
    ----------
    air_c : ndarray of float
        Hours from noon to noon. [degC] Shape (hours,).
    trough : int
        Place of the coldest hour.
    shape : NightShape
        Which hours are bent.

    Returns
    -------
    ndarray of float
        Share, 0 to 1; zero by day.
    """
    of_night = shape.night.copy()
    of_night[shape.within] = 1.0
    is_bent = of_night > 0.0
    if shape.is_windy:
        return np.where(is_bent, of_night, 0.0)
    share = np.ones_like(air_c)
    inside = np.where(of_night > 0.0, air_c, np.nan)
    for side in (slice(0, trough + 1), slice(trough, None)):
        highest_c = -_lowest(-inside[side])
        span_c = highest_c - air_c[trough]
        if span_c > 0.0:
            share[side] = np.clip((highest_c - air_c[side]) / span_c, 0.0, 1.0)
    return np.where(is_bent, share, 0.0)


def _lowest(values: FloatArray) -> float:
    """Return the lowest known value; NaN where none is."""
    return float(np.fmin.reduce(values, initial=np.nan))
