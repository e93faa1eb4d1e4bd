"""Pool what several sources say of one low into one normal distribution.

Sources that agree make each other surer, sources that differ make the low less sure,
and far apart they count nearer to the colder. Nothing here corrects a low: lows come in
as they are believed, each with its own source's bias taken off.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import BoolArray, FloatArray

_TOMORROW, _DAY_3 = 1.0, 2.0
"""Nights ahead up to which the errors of the first two, and of the third day, hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolRules:
    """Constants of pooling.

    Attributes
    ----------
    near_c, day_3_c, later_c : float
        Standard error of the centre of sources that agree: tonight and tomorrow, on the
        third day, later. [degC]
    alone_near_c, alone_day_3_c, alone_later_c : float
        Standard error of one source alone, on the same days. [degC]
    spread_share : float
        Share of the members' mean squared deviation that is added to the variance. [1]
    lean_from_c, lean_full_c : float
        Coldest to warmest member: where the centre begins to leave the mean for the
        colder side, and where it has arrived. [degC]
    lean_share : float
        Where it arrives: this share of the way from the coldest member up to the
        warmest. [1]

    Notes
    -----
    Judged by `python -m tests.evaluation.hindcast` on November to May of 2025-26 at
    eight US airports: lows of Open-Meteo and of the US National Weather Service,
    corrected by what the nights before had taught, against the analysed low, 1,691
    nights one day and as many three days ahead. Chosen for each airport by the log
    score of the seven others, the errors come out as 1.1 to 1.2 and 1.4 to 1.5 degC,
    the share as 0.7, the lean from 3 or 4 degC on to a fifth of the way. The round
    values kept here score alike; they were known before, so that their own score is not
    held out. One source alone was off by 1.7 and by 1.9 to 2.1 degC, on nights forecast
    under 8 degC by 1.8 to 1.9 and by 2.1. All that holds after the third day is common
    practice, no source.
    """

    near_c: float = 1.2
    day_3_c: float = 1.6
    later_c: float = 2.0
    alone_near_c: float = 1.8
    alone_day_3_c: float = 2.2
    alone_later_c: float = 2.8
    spread_share: float = 0.7
    lean_from_c: float = 3.0
    lean_full_c: float = 6.0
    lean_share: float = 1.0 / 3.0


POOL = PoolRules()


@dataclass(frozen=True, slots=True)
class PooledLow:
    """One normal for each low, without the error of site and thresholds.

    Attributes
    ----------
    low_c, sigma_c : ndarray of float
        Centre and standard error. [degC] NaN where no member is known.
    spread_c : ndarray of float
        From the coldest member to the warmest. [degC] Zero for one alone.
    members : ndarray of int
        How many sources it rests on.
    """

    low_c: FloatArray
    sigma_c: FloatArray
    spread_c: FloatArray
    members: np.ndarray[tuple[int, ...], np.dtype[np.int_]]


def pool_lows(
    lows_c: ArrayLike,
    nights_ahead: ArrayLike,
    *,
    weights: ArrayLike = 1.0,
    own_sigma_c: ArrayLike = np.nan,
    least_sigma_c: ArrayLike = np.nan,
    rules: PoolRules = POOL,
) -> PooledLow:
    """Return the pooled low of several sources and its standard error.

    The site's own unknown and the error of the thresholds are not in it: the caller
    adds them, once, in quadrature.

    Parameters
    ----------
    lows_c : array_like of float
        Corrected lows. [degC] Members first: shape (members, ...). A member that is NaN
        is ignored.
    nights_ahead : array_like of float
        0 for tonight, 1 for tomorrow night, 2 on the third day. Shape (...) or scalar.
    weights : array_like of float, default 1.0
        Zero or more; a member of weight zero is ignored. Shape (members,) or that of
        the lows.
    own_sigma_c : array_like of float, default NaN
        Standard error of each member by itself, counted where it is the only one.
        [degC] Shape (members,) or that of the lows; NaN stands for that of the rules.
    least_sigma_c : array_like of float, default NaN
        What percentiles or an ensemble say, a lower bound. [degC] Shape (...) or
        scalar; NaN where there is none.
    rules : PoolRules
        The constants.

    Returns
    -------
    PooledLow
        Arrays of shape (...).

    Raises
    ------
    PhysicsDomainError
        If a weight is negative or NaN.

    Notes
    -----
    The variance is s0^2 + share * mean squared deviation; both moments are weighted.
    The centre never leaves the mean for the warmer side, and moves without a jump.

    References
    ----------
    .. [1] Equal weights are hard to beat by few pairs: Clemen, "Combining forecasts,"
       Int. J. Forecasting 5, 1989, 559-583.
    .. [2] Spread as a measure of the error: Whitaker and Loughe, Mon. Wea. Rev. 126,
       1998, 3292-3302. The share, and the lean to the colder, are our own.

    Examples
    --------
    Two that agree, one alone, and two far apart:

    >>> found = pool_lows([[0.0, 0.0, 3.0], [0.0, np.nan, -5.0]], 0)
    >>> found.low_c.round(2).tolist(), found.sigma_c.round(2).tolist()
    ([0.0, 0.0, -2.33], [1.2, 1.8, 3.56])
    """
    lows = np.asarray(lows_c, dtype=np.float64)
    shares = _by_member(weights, lows)
    if not np.all(shares >= 0.0):
        message = "a source's weight must be zero or more"
        raise PhysicsDomainError(message)
    is_known = ~np.isnan(lows) & (shares > 0.0)
    members = np.count_nonzero(is_known, axis=0)
    mean, deviation = _moments(lows, np.where(is_known, shares, 0.0))
    coldest = np.where(members, np.where(is_known, lows, np.inf).min(axis=0), np.nan)
    warmest = np.where(members, np.where(is_known, lows, -np.inf).max(axis=0), np.nan)
    ahead = np.asarray(nights_ahead, dtype=np.float64)
    agreed = _by_lead(ahead, rules.near_c, rules.day_3_c, rules.later_c)
    pooled_c = np.sqrt(agreed**2 + rules.spread_share * deviation)
    alone_c = _alone_c(is_known, _by_member(own_sigma_c, lows), ahead, rules)
    sigma_c = np.where(members > 1, pooled_c, np.where(members, alone_c, np.nan))
    return PooledLow(
        low_c=_leant(mean, coldest, warmest - coldest, rules),
        sigma_c=np.where(members, np.fmax(sigma_c, least_sigma_c), np.nan),
        spread_c=np.asarray(warmest - coldest),
        members=np.asarray(members),
    )


def _by_member(values: ArrayLike, lows: FloatArray) -> FloatArray:
    """Return one value a member, or one a low, in the shape of the lows."""
    given = np.asarray(values, dtype=np.float64)
    if given.ndim == 1:
        given = given.reshape(-1, *(1,) * (lows.ndim - 1))
    return np.broadcast_to(given, lows.shape)


def _moments(lows: FloatArray, shares: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the weighted mean and mean squared deviation. [degC, degC2]"""
    total = shares.sum(axis=0)
    divisor = np.where(total > 0.0, total, np.nan)
    counted = np.where(shares > 0.0, lows, 0.0)
    mean = (shares * counted).sum(axis=0) / divisor
    return mean, (shares * (counted - mean) ** 2).sum(axis=0) / divisor


def _leant(
    mean: FloatArray, coldest: FloatArray, spread: FloatArray, rules: PoolRules
) -> FloatArray:
    """Return the centre: the mean, nearer to the colder the farther members differ."""
    way = (spread - rules.lean_from_c) / (rules.lean_full_c - rules.lean_from_c)
    goal = coldest + rules.lean_share * spread
    # Where most members are cold the mean lies below the goal already.
    return np.asarray(mean + np.clip(way, 0.0, 1.0) * np.minimum(0.0, goal - mean))


def _alone_c(
    is_known: BoolArray, own_c: FloatArray, ahead: FloatArray, rules: PoolRules
) -> FloatArray:
    """Return the error of the only member: its own, else that of the rules. [degC]"""
    usual = _by_lead(
        ahead, rules.alone_near_c, rules.alone_day_3_c, rules.alone_later_c
    )
    own = np.where(is_known & ~np.isnan(own_c), own_c, 0.0).max(axis=0)
    return np.where(own > 0.0, own, usual)


def _by_lead(
    ahead: FloatArray, near_c: float, day_3_c: float, later_c: float
) -> FloatArray:
    """Return the value of each lead. [degC]"""
    far = np.where(ahead <= _DAY_3, day_3_c, later_c)
    known = np.where(ahead <= _TOMORROW, near_c, far)
    return np.where(np.isnan(ahead), np.nan, known)
