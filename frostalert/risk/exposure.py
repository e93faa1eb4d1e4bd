"""How cold a curve gets and for how long, exact on straight lines between the hours.

All functions take many curves at once, one a row, on one hourly grid.
"""

from dataclasses import dataclass

import numpy as np

from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import BoolArray, FloatArray

_STEP_H = 0.5


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
        Hourly temperatures. [degC] Shape (curves, hours), no NaN.
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
        If a value is NaN, there are no hours, or the exposure is not as described.

    Notes
    -----
    The mean over a sliding window is least where the curve has the same value at both
    ends of the window; on a half-hour grid that place is found in closed form.

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
    refuse_gaps(curves_c)
    steps = exposure_minutes / 60.0 / _STEP_H
    if steps < 1 or steps != int(steps):
        message = "exposure must be a whole number of half hours"
        raise PhysicsDomainError(message)
    width = int(steps)
    fine = _half_hours(curves_c)
    if fine.shape[1] <= width:
        where = np.argmin(curves_c, axis=1)
        lowest = np.take_along_axis(curves_c, where[:, None], axis=1)[:, 0]
        return Coldest(lowest, where.astype(np.float64))
    mean, start = _window_minimum(fine, width)
    return Coldest(mean, (start + width / 2.0) * _STEP_H)


def time_below(curves_c: FloatArray, limits_c: FloatArray) -> Below:
    """Return how long each curve is at or below its limit, and from when to when.

    Parameters
    ----------
    curves_c : ndarray of float
        Hourly temperatures. [degC] Shape (curves, hours), no NaN.
    limits_c : ndarray of float
        One limit a curve. [degC] Shape (curves,).

    Returns
    -------
    Below
        Crossings are interpolated along straight lines between the hours.

    Raises
    ------
    PhysicsDomainError
        If a value is NaN or there are no hours.

    Examples
    --------
    >>> below = time_below(np.array([[1.0, -1.0, -1.0, 1.0]]), np.array([0.0]))
    >>> below.hours.tolist(), below.first_h.tolist(), below.last_h.tolist()
    ([2.0], [0.5], [2.5])
    """
    refuse_gaps(curves_c)
    excess = curves_c - limits_c[:, None]
    is_below = excess <= 0.0
    before, after = excess[:, :-1], excess[:, 1:]
    spans = np.abs(before) + np.abs(after)
    crosses = is_below[:, :-1] != is_below[:, 1:]
    # Where a line crosses, the share below is that of its lower end.
    lower = np.minimum(before, after)
    share = np.where(
        crosses,
        np.abs(lower) / np.where(spans > 0.0, spans, 1.0),
        (is_below[:, :-1] & is_below[:, 1:]).astype(np.float64),
    )
    return Below(
        share.sum(axis=1),
        _first(is_below, excess, spans),
        curves_c.shape[1]
        - 1.0
        - _first(is_below[:, ::-1], excess[:, ::-1], spans[:, ::-1]),
    )


def _first(is_below: BoolArray, excess: FloatArray, spans: FloatArray) -> FloatArray:
    """Return the first moment at or below the limit, NaN if there is none. [h]"""
    node = np.argmax(is_below, axis=1)
    rows = np.arange(node.size)
    previous = np.maximum(node - 1, 0)
    span = spans[rows, previous] if spans.shape[1] else np.ones(node.size)
    # The line comes down from the hour before, unless the curve starts below.
    back = np.abs(excess[rows, node]) / np.where(span > 0.0, span, 1.0)
    moment = node - np.where(node > 0, back, 0.0)
    return np.where(is_below.any(axis=1), moment, np.nan)


def _half_hours(curves_c: FloatArray) -> FloatArray:
    """Return the curves on a half-hour grid."""
    rows, hours = curves_c.shape
    fine = np.empty((rows, 2 * hours - 1))
    fine[:, ::2] = curves_c
    fine[:, 1::2] = (curves_c[:, :-1] + curves_c[:, 1:]) / 2.0
    return fine


def _window_minimum(fine: FloatArray, width: int) -> tuple[FloatArray, FloatArray]:
    """Return each row's least window mean and where the window starts. [steps]"""
    areas = (fine[:, :-1] + fine[:, 1:]) / 2.0
    total = np.concatenate(
        [np.zeros((fine.shape[0], 1)), np.cumsum(areas, axis=1)], axis=1
    )
    at_nodes = (total[:, width:] - total[:, :-width]) / width
    rise = fine[:, width:] - fine[:, :-width]
    bend = rise[:, 1:] - rise[:, :-1]
    # Between two nodes the mean is a parabola; it has its foot inside if the rise
    # changes from falling to climbing there.
    inside = (rise[:, :-1] < 0.0) & (rise[:, 1:] > 0.0)
    shift = np.where(inside, -rise[:, :-1] / np.where(inside, bend, 1.0), 0.0)
    gain = (rise[:, :-1] * shift + bend * shift**2 / 2.0) / width
    means = at_nodes.copy()
    means[:, :-1] += np.where(inside, gain, 0.0)
    best = np.argmin(means, axis=1)
    rows = np.arange(best.size)
    shifts = np.concatenate([shift, np.zeros((fine.shape[0], 1))], axis=1)
    return means[rows, best], best + shifts[rows, best]


def refuse_gaps(curves_c: FloatArray) -> None:
    """Raise if a verdict would rest on a missing value."""
    if curves_c.ndim != 2 or curves_c.shape[1] == 0:  # noqa: PLR2004 - two dimensions
        message = "curves must have the shape (curves, hours) with at least one hour"
        raise PhysicsDomainError(message)
    if np.isnan(curves_c).any():
        message = "a curve with missing hours cannot be judged"
        raise PhysicsDomainError(message)
