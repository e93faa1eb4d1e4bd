"""How far the air still falls until sunrise on a clear calm night."""

import numpy as np
from numpy.typing import ArrayLike

from frostalert.model.forecast import FloatArray

PER_ROOT_HOUR_C = -0.1009
PER_DEPRESSION = 0.2204
PER_PAST_FALL = 0.7282
"""Fall over the square root of time: by itself [degC/sqrt(h)], for each degree between
air and dew point [1/sqrt(h)], and for each degree that the root curve since sunset
would give [1]. Fitted with `tests.evaluation.nowcast` to 199 nights of four
stations."""
_LEAST_H = 0.25


def coming_fall_c(
    depression_c: ArrayLike,
    fall_c: ArrayLike,
    since_sunset_h: ArrayLike,
    ahead_h: ArrayLike,
    *,
    coefficients: tuple[float, float, float] = (
        PER_ROOT_HOUR_C,
        PER_DEPRESSION,
        PER_PAST_FALL,
    ),
) -> FloatArray:
    """Return how far the air will fall in some hours of a clear calm night.

    Parameters
    ----------
    depression_c : array_like of float
        Air less dew point now. [degC] Zero or more.
    fall_c : array_like of float
        How far it fell since sunset. [degC]
    since_sunset_h, ahead_h : array_like of float
        Time since sunset, and time ahead. [h]
    coefficients : tuple of float
        See `PER_ROOT_HOUR_C`. [degC/sqrt(h), 1/sqrt(h), 1]

    Returns
    -------
    ndarray of float
        Fall. [degC] Zero or more.

    Notes
    -----
    A plain square-root curve is the third term alone with a coefficient of one. The
    drier the air, the less dew holds the fall up. Held out by month on Greensboro's 45
    clear calm nights of March to May, October and November: RMSE 0.93, 1.44 and 1.69
    degC from 2, 4 and 6 hours before sunrise.

    References
    ----------
    .. [1] Snyder and de Melo-Abreu, Frost Protection, vol. 1, FAO, 2005, ch. 5: the
       square root of time (from memory).
    .. [2] Savage, Int. J. Biometeorol., 2016, doi 10.1007/s00484-015-1017-7: RMSE of
       other curves, under 1 degC at 2 h and under 2.1 degC at 4 h.

    Examples
    --------
    >>> float(coming_fall_c(3.0, 6.0, 4.0, 5.0).round(2))
    2.74
    """
    since = np.maximum(np.asarray(since_sunset_h, dtype=np.float64), _LEAST_H)
    ahead = np.maximum(np.asarray(ahead_h, dtype=np.float64), 0.0)
    roots = np.sqrt(since + ahead) - np.sqrt(since)
    by_time, by_dryness, by_past = coefficients
    dryness = np.maximum(np.asarray(depression_c, dtype=np.float64), 0.0)
    past = np.asarray(fall_c, dtype=np.float64) / np.sqrt(since)
    fall = roots * (by_time + by_dryness * dryness + by_past * past)
    return np.asarray(np.maximum(fall, 0.0), dtype=np.float64)


def cooling_curve_c(
    air_c: float,
    dewpoint_c: float,
    *,
    fall_c: float,
    since_sunset_h: float,
    ahead_h: FloatArray,
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
    fall = coming_fall_c(air_c - dewpoint_c, fall_c, since_sunset_h, ahead_h)
    return np.asarray(air_c - fall, dtype=np.float64)
