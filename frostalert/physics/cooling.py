"""How far the air still falls until sunrise on a clear calm night."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from frostalert.model.forecast import FloatArray

_LEAST_H = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooling:
    """How steeply the air falls over the square root of time.

    Attributes
    ----------
    per_root_hour_c : float
        By itself. [degC/sqrt(h)]
    per_depression : float
        For each degree between air and dew point. [1/sqrt(h)]
    per_past_fall : float
        For each degree that the square-root curve since sunset would give. [1]
    """

    per_root_hour_c: float
    per_depression: float
    per_past_fall: float


FITTED = Cooling(per_root_hour_c=0.468, per_depression=0.126, per_past_fall=0.605)
"""Fitted with `tests.evaluation.nowcast` to five places, each counting as much."""
SQUARE_ROOT = Cooling(per_root_hour_c=0.0, per_depression=0.0, per_past_fall=1.0)
"""The plain square-root curve."""


def root_hours(since_sunset_h: ArrayLike, ahead_h: ArrayLike) -> FloatArray:
    """Return how far the square root of the time since sunset still grows.

    Parameters
    ----------
    since_sunset_h, ahead_h : array_like of float
        Time since sunset, and time ahead. [h]

    Returns
    -------
    ndarray of float
        Growth. [sqrt(h)] Zero or more.

    Examples
    --------
    >>> float(root_hours(4.0, 5.0))
    1.0
    """
    since = np.maximum(np.asarray(since_sunset_h, dtype=np.float64), _LEAST_H)
    ahead = np.maximum(np.asarray(ahead_h, dtype=np.float64), 0.0)
    return np.asarray(np.sqrt(since + ahead) - np.sqrt(since), dtype=np.float64)


def fall_terms(
    depression_c: ArrayLike,
    fall_c: ArrayLike,
    since_sunset_h: ArrayLike,
    ahead_h: ArrayLike,
) -> FloatArray:
    """Return what the coming fall of a clear calm night is made of.

    Parameters
    ----------
    depression_c : array_like of float
        Air less dew point now. [degC] Less than zero counts as zero.
    fall_c : array_like of float
        How far the air fell since sunset. [degC]
    since_sunset_h, ahead_h : array_like of float
        Time since sunset, and time ahead. [h]

    Returns
    -------
    ndarray of float
        In the last axis: time by itself, dryness, and the plain square-root curve,
        each to be multiplied with its coefficient. [sqrt(h), degC sqrt(h), degC]

    Examples
    --------
    >>> fall_terms(3.0, 6.0, 4.0, 5.0).tolist()
    [1.0, 3.0, 3.0]
    """
    roots = root_hours(since_sunset_h, ahead_h)
    since = np.maximum(np.asarray(since_sunset_h, dtype=np.float64), _LEAST_H)
    dryness = np.maximum(np.asarray(depression_c, dtype=np.float64), 0.0)
    past = np.asarray(fall_c, dtype=np.float64) / np.sqrt(since)
    return np.stack(np.broadcast_arrays(roots, roots * dryness, roots * past), axis=-1)


def coming_fall_c(
    depression_c: ArrayLike,
    fall_c: ArrayLike,
    since_sunset_h: ArrayLike,
    ahead_h: ArrayLike,
    *,
    cooling: Cooling = FITTED,
) -> FloatArray:
    """Return how far the air will fall in some hours of a clear calm night.

    Parameters
    ----------
    depression_c : array_like of float
        Air less dew point now. [degC] Less than zero counts as zero.
    fall_c : array_like of float
        How far it fell since sunset. [degC]
    since_sunset_h, ahead_h : array_like of float
        Time since sunset, and time ahead. [h]
    cooling : Cooling
        How steeply.

    Returns
    -------
    ndarray of float
        Fall. [degC] Zero or more.

    Notes
    -----
    The drier the air, the less dew holds the fall up; and air that wind has kept from
    falling so far falls nevertheless when the wind drops. What the three terms are
    worth, held out by station: `tests.evaluation.nowcast`.

    References
    ----------
    .. [1] Snyder and de Melo-Abreu, Frost Protection, vol. 1, FAO, 2005, ch. 5: the
       square root of time (from memory).
    .. [2] Savage, Int. J. Biometeorol., 2016, doi 10.1007/s00484-015-1017-7: RMSE of
       other curves, under 1 degC at 2 h and under 2.1 degC at 4 h.

    Examples
    --------
    >>> float(coming_fall_c(3.0, 6.0, 4.0, 5.0).round(2))
    2.66
    """
    parts = fall_terms(depression_c, fall_c, since_sunset_h, ahead_h)
    steepness = np.array(
        [cooling.per_root_hour_c, cooling.per_depression, cooling.per_past_fall]
    )
    return np.asarray(np.maximum(parts @ steepness, 0.0))


def cooling_curve_c(
    air_c: float,
    dewpoint_c: float,
    *,
    fall_c: float,
    since_sunset_h: float,
    ahead_h: FloatArray,
    cooling: Cooling = FITTED,
) -> FloatArray:
    """Return the air in the coming hours of a clear calm night.

    Parameters
    ----------
    air_c, dewpoint_c : float
        Now. [degC]
    fall_c : float
        How far the air fell since sunset. [degC]
    since_sunset_h : float
        Time since sunset. [h]
    ahead_h : ndarray of float
        Times ahead. [h]
    cooling : Cooling
        How steeply.

    Returns
    -------
    ndarray of float
        Air. [degC] The shape of `ahead_h`.

    Examples
    --------
    >>> cooling_curve_c(3.0, 0.0, fall_c=6.0, since_sunset_h=4.0,
    ...                 ahead_h=np.array([0.0, 5.0])).round(1).tolist()
    [3.0, 0.3]
    """
    fall = coming_fall_c(
        air_c - dewpoint_c, fall_c, since_sunset_h, ahead_h, cooling=cooling
    )
    return np.asarray(air_c - fall, dtype=np.float64)
