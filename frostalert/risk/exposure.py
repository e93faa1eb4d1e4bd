"""How cold a curve gets and for how long, exact on straight lines between the hours.

All functions take many curves at once, one a row, on one hourly grid: without a gap, as
`stretches.lay` lays them, for a verdict would rest on what is missing.
"""

from dataclasses import dataclass
from functools import reduce

import numpy as np

from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import BoolArray, FloatArray
from frostalert.risk.items import Places

_STEP_H = 0.5
_LEVEL_C = 1e-12
"""Curves that fall and rise by less than this in an hour are level. [degC]"""


@dataclass(frozen=True, slots=True)
class Coldest:
    """Coldest mean of each curve.

    Attributes
    ----------
    mean_c : ndarray
        The mean. [degC] Shape (curves,).
    middle_h : ndarray
        Middle of its time, hours after the first value. [h] Shape (curves,).
    """

    mean_c: FloatArray
    middle_h: FloatArray


@dataclass(frozen=True, slots=True)
class Below:
    """Time that each curve spends at or below its limit.

    Attributes
    ----------
    hours : ndarray
        Total time. [h] Shape (curves,).
    first_h, last_h : ndarray
        First and last moment, hours after the first value; NaN if never. [h]
    """

    hours: FloatArray
    first_h: FloatArray
    last_h: FloatArray


def coldest_mean(curves_c: FloatArray, exposure_minutes: float) -> Coldest:
    """Return the coldest mean over the exposure time, for each curve.

    Parameters
    ----------
    curves_c : ndarray of float
        Hourly temperatures. [degC] Shape (curves, hours).
    exposure_minutes : float
        Length of the exposure, a whole number of half hours. [min]

    Returns
    -------
    Coldest
        Exact for straight lines between the hours. A curve shorter than the exposure
        gives its lowest value, which is never too warm.

    Raises
    ------
    PhysicsDomainError
        If the exposure is not as described.

    Notes
    -----
    The mean over a sliding window is least where the curve has the same value at both
    ends of the window, which is found in closed form: up to an hour about an hourly
    value that is lower than those beside it, beyond that on a half-hour grid.

    References
    ----------
    .. [1] 30 minutes is the exposure of the published kill temperatures: Ballard and
       Proebsting, WSU Extension Bulletin 634, 1978.

    Examples
    --------
    >>> valley = np.array([[2.0, 0.0, -2.0, 0.0, 2.0]])
    >>> coldest = coldest_mean(valley, 30.0)
    >>> coldest.mean_c.tolist(), coldest.middle_h.tolist()
    ([-1.75], [2.0])
    """
    steps = exposure_minutes / 60.0 / _STEP_H
    if steps < 1 or steps != int(steps):
        message = "exposure must be a whole number of half hours"
        raise PhysicsDomainError(message)
    width = int(steps)
    if 2 * curves_c.shape[1] - 1 <= width:
        where = np.argmin(curves_c, axis=1)
        lowest = np.take_along_axis(curves_c, where[:, None], axis=1)[:, 0]
        return Coldest(lowest, where.astype(np.float64))
    if width * _STEP_H <= 1.0:
        return _about_an_hour(curves_c, width * _STEP_H)
    mean, start = _window_minimum(_half_hours(curves_c), width)
    return Coldest(mean, (start + width / 2.0) * _STEP_H)


def _about_an_hour(curves_c: FloatArray, width_h: float) -> Coldest:
    """Return the coldest mean over no more than an hour.

    Such a window holds one hourly value. Where the line falls to it by a and rises from
    it by b, both ends of the window are as warm if it begins width b / (a + b) earlier;
    its mean is width a b / 2 (a + b) above the value.
    """
    fall, rise = curves_c[:, :-1] - curves_c[:, 1:], curves_c[:, 1:] - curves_c[:, :-1]
    before, after = fall[:, :-1], rise[:, 1:]
    above = before * after
    above /= np.maximum(before + after, _LEVEL_C)
    means = np.empty_like(curves_c)
    means[:, 1:-1] = np.where(np.minimum(before, after) < 0.0, np.inf, above)
    # At an end the window lies on the one side that is known.
    means[:, 0] = np.where(rise[:, 0] < 0.0, np.inf, rise[:, 0])
    means[:, -1] = np.where(fall[:, -1] < 0.0, np.inf, fall[:, -1])
    means *= width_h / 2.0
    means += curves_c
    best = np.argmin(means, axis=1)
    rows, last = np.arange(best.size), rise.shape[1]
    falls = np.where(best > 0, fall[rows, np.maximum(best - 1, 0)], np.inf)
    rises = np.where(best < last, rise[rows, np.minimum(best, last - 1)], 0.0)
    share = np.where(best < last, rises / np.maximum(falls + rises, _LEVEL_C), 1.0)
    return Coldest(means[rows, best], best + width_h * (0.5 - share))


def time_below(curves_c: FloatArray, limits_c: FloatArray) -> Below:
    """Return how long each curve is at or below its limit, and from when to when.

    Parameters
    ----------
    curves_c : ndarray of float
        Hourly temperatures. [degC] Shape (curves, hours).
    limits_c : ndarray of float
        One limit a curve. [degC] Shape (curves,).

    Returns
    -------
    Below
        Crossings are interpolated along straight lines between the hours.

    Examples
    --------
    >>> below = time_below(np.array([[1.0, -1.0, -1.0, 1.0]]), np.array([0.0]))
    >>> below.hours.tolist(), below.first_h.tolist(), below.last_h.tolist()
    ([2.0], [0.5], [2.5])
    """
    is_below = curves_c <= limits_c[:, None]
    return Below(
        _hours(curves_c, limits_c, is_below),
        _first(curves_c, limits_c, is_below),
        _last(curves_c, limits_c, is_below),
    )


def hours_below(curves_c: FloatArray, limits_c: FloatArray) -> FloatArray:
    """Return how long each curve is at or below its limit, as `time_below` does.

    Parameters
    ----------
    curves_c, limits_c : ndarray of float
        Curves, and one limit a curve. [degC]

    Returns
    -------
    ndarray of float
        Total time. [h] Shape (curves,).
    """
    return _hours(curves_c, limits_c, curves_c <= limits_c[:, None])


def first_below(curves_c: FloatArray, limits_c: FloatArray) -> FloatArray:
    """Return from when on each curve is at or below its limit, as `time_below` does.

    Parameters
    ----------
    curves_c, limits_c : ndarray of float
        Curves, and one limit a curve. [degC]

    Returns
    -------
    ndarray of float
        First moment, hours after the first value; NaN if never. [h] Shape (curves,).
    """
    return _first(curves_c, limits_c, curves_c <= limits_c[:, None])


def last_below(curves_c: FloatArray, limits_c: FloatArray) -> FloatArray:
    """Return until when each curve is at or below its limit, as `time_below` does.

    Parameters
    ----------
    curves_c, limits_c : ndarray of float
        Curves, and one limit a curve. [degC]

    Returns
    -------
    ndarray of float
        Last moment, hours after the first value; NaN if never. [h] Shape (curves,).
    """
    return _last(curves_c, limits_c, curves_c <= limits_c[:, None])


def _hours(
    curves_c: FloatArray, limits_c: FloatArray, is_below: BoolArray
) -> FloatArray:
    """Return the time at or below the limits. [h]"""
    before, after = is_below[:, :-1], is_below[:, 1:]
    whole = np.count_nonzero(before & after, axis=1)
    # Few lines cross: of those the share below is that of the end that is.
    row, hour = _places(before != after)
    start = np.abs(curves_c[row, hour] - limits_c[row])
    end = np.abs(curves_c[row, hour + 1] - limits_c[row])
    share = np.where(before[row, hour], start, end) / (start + end)
    return np.asarray(whole + np.bincount(row, weights=share, minlength=whole.size))


def _last(
    curves_c: FloatArray, limits_c: FloatArray, is_below: BoolArray
) -> FloatArray:
    """Return the last moment at or below the limit, NaN if there is none. [h]"""
    backwards = _first(curves_c[:, ::-1], limits_c, is_below[:, ::-1])
    return np.asarray(curves_c.shape[1] - 1.0 - backwards)


def _first(
    curves_c: FloatArray, limits_c: FloatArray, is_below: BoolArray
) -> FloatArray:
    """Return the first moment at or below the limit, NaN if there is none. [h]"""
    node = np.argmax(is_below, axis=1)
    rows = np.arange(node.size)
    # The line comes down from the hour before, unless the curve starts below.
    above = np.abs(curves_c[rows, np.maximum(node - 1, 0)] - limits_c)
    below = np.abs(curves_c[rows, node] - limits_c)
    span = above + below
    back = np.where(node > 0, below / np.where(span > 0.0, span, 1.0), 0.0)
    return np.where(is_below[rows, node], node - back, np.nan)


def _half_hours(curves_c: FloatArray) -> FloatArray:
    """Return the curves on a half-hour grid."""
    rows, hours = curves_c.shape
    fine = np.empty((2 * hours - 1, rows)).T
    fine[:, ::2] = curves_c
    fine[:, 1::2] = (curves_c[:, :-1] + curves_c[:, 1:]) / 2.0
    return fine


def _window_minimum(fine: FloatArray, width: int) -> tuple[FloatArray, FloatArray]:
    """Return each row's least window mean and where the window starts. [steps]"""
    halves = (fine[:, :-1] + fine[:, 1:]) / 2.0
    # In one order wherever it begins: of equal means the first must count.
    last = halves.shape[1] - width + 1
    means = (
        reduce(np.add, (halves[:, place : last + place] for place in range(width)))
        / width
    )
    rise = fine[:, width:] - fine[:, :-width]
    # Between two nodes the mean is a parabola; it has its foot inside if the rise
    # changes from falling to climbing there, as it does at few.
    row, node = _places((rise[:, :-1] < 0.0) & (rise[:, 1:] > 0.0))
    falls = rise[row, node]
    bend = rise[row, node + 1] - falls
    shift = -falls / bend
    means[row, node] += (falls * shift + bend * shift**2 / 2.0) / width
    best = np.argmin(means, axis=1)
    start = best.astype(np.float64)
    is_best = best[row] == node
    start[row[is_best]] += shift[is_best]
    return means[np.arange(best.size), best], start


def _places(where: BoolArray) -> tuple[Places, Places]:
    """Return row and column of what is true; of each row from left to right."""
    # The flat search is several times as fast. Curves are laid hour by hour.
    column, row = np.divmod(np.flatnonzero(where.T), where.shape[0])
    return row, column
