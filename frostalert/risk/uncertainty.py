"""How far the predicted bud low may be off."""

from datetime import timedelta

import numpy as np
from numpy.typing import ArrayLike

from frostalert.model.forecast import FloatArray
from frostalert.model.site import Rules

FRESH = timedelta(hours=8)
STALE = timedelta(hours=14)
UNUSABLE = timedelta(hours=24)
"""Ages of a forecast by its own update time; common practice, no source. Offices of
the US National Weather Service reissue several times a day."""
_DAY_H = 24.0


def low_sigma_c(
    lead_h: FloatArray,
    rules: Rules,
    *,
    spread_c: ArrayLike = np.nan,
    source_disagreement_c: ArrayLike = 0.0,
) -> FloatArray:
    """Return the standard error of predicted bud lows against their thresholds.

    Parameters
    ----------
    lead_h : ndarray of float
        From the forecast's own update to each low, so that an old forecast is less
        sure. [h] NaN passes through.
    rules : Rules
        Holds the error on the first day and its growth. [degC]
    spread_c : array_like of float
        The source's own standard error at each low, from an ensemble or percentiles.
        [degC] A lower bound: models do not resolve hollows. NaN where there is none.
    source_disagreement_c : array_like of float
        What the disagreement of sources adds, in quadrature. [degC]

    Returns
    -------
    ndarray of float
        Error of the forecast and of the thresholds together. [degC]

    References
    ----------
    .. [1] Defaults are common practice, no source. For comparison: RMSE 2.0 to 2.7
       degC for minimum temperatures of days 1-8 in Alpine valleys (Bhakare et al.,
       Atmosphere 16(1):38, 2025, abstract).

    Examples
    --------
    >>> low_sigma_c(np.array([15.0, 72.0]), Rules()).round(2).tolist()
    [2.62, 3.1]
    """
    days_beyond_first = np.maximum(0.0, lead_h / _DAY_H - 1.0)
    forecast_c = rules.sigma_c + rules.sigma_per_day_c * days_beyond_first
    forecast_c = np.fmax(forecast_c, np.asarray(spread_c, dtype=np.float64))
    apart = np.asarray(source_disagreement_c, dtype=np.float64)
    sigma_c = np.hypot(np.hypot(forecast_c, apart), rules.threshold_sigma_c)
    return np.asarray(sigma_c, dtype=np.float64)


def age_word(age: timedelta) -> str:
    """Return what an age of a forecast is worth.

    References
    ----------
    .. [1] Common practice, no source.

    Examples
    --------
    >>> age_word(timedelta(hours=9))
    'ageing'
    """
    if age <= FRESH:
        return "fresh"
    if age <= STALE:
        return "ageing"
    return "stale" if age <= UNUSABLE else "too old"
