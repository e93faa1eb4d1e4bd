"""Share of buds that a temperature kills, and its mean over the error of a forecast."""

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import BoolArray, FloatArray

_LN_81 = math.log(81.0)
_LARGEST_EXPONENT = 700.0
"""Beyond it a double has no exponential; the share is 1e-304 there. [1]"""
ERROR_NODES = np.linspace(-6.0, 6.0, 81)
ERROR_WEIGHTS = np.exp(-(ERROR_NODES**2) / 2.0)
ERROR_WEIGHTS /= ERROR_WEIGHTS.sum()
"""Places in the error of a low, in standard errors, and their shares of the mean."""
CURVE_LOWEST_PCT, CURVE_HIGHEST_PCT = 10.0, 90.0


def kill_pct(temp_c: ArrayLike, t10_c: ArrayLike, t90_c: ArrayLike) -> FloatArray:
    """Return the share of buds killed, by a logistic curve through T10 and T90.

    Parameters
    ----------
    temp_c : array_like of float
        Tissue temperature, coldest mean over 30 minutes. [degC]
    t10_c, t90_c : array_like of float
        Temperatures that kill 10 % and 90 %. [degC] T90 below T10.

    Returns
    -------
    ndarray of float
        Share killed. [%] Outside 10 to 90 it goes beyond the published points and is
        to be shown as "under 10 %" or "over 90 %".

    Raises
    ------
    PhysicsDomainError
        If a T90 is not below its T10.

    Notes
    -----
    f = 1 / (1 + exp(ln 81 / (T10 - T90) * (T - (T10 + T90) / 2))), a derivation that
    returns the two published points exactly. No source prescribes a form: Miranda et
    al. (HortScience 40:357-361, 2005) fitted straight lines, Katz, Murphy and Winkler
    (1982) logistic curves.

    References
    ----------
    .. [1] Ballard and Proebsting, WSU Extension Bulletin 634, 1978 (the points).

    Examples
    --------
    >>> kill_pct([27.0, 25.5, 24.0], 27.0, 24.0).round(1).tolist()
    [10.0, 50.0, 90.0]
    """
    steep, middle = _steepness_and_middle(t10_c, t90_c)
    return _killed_pct(np.asarray(steep * (np.asarray(temp_c, np.float64) - middle)))


def _steepness_and_middle(
    t10_c: ArrayLike, t90_c: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return the two numbers of the logistic curve through T10 and T90. [1/K, degC]"""
    warm, cold = np.asarray(t10_c, np.float64), np.asarray(t90_c, np.float64)
    if np.any(cold >= warm):
        message = "T90 must be colder than T10"
        raise PhysicsDomainError(message)
    return np.asarray(_LN_81 / (warm - cold)), np.asarray((warm + cold) / 2.0)


def _killed_pct(exponent: FloatArray) -> FloatArray:
    """Return the logistic share of an exponent, in the exponent's place. [%]

    Of every block at every node of an error there are many: what fits into one array
    is not spread over five.
    """
    np.minimum(exponent, _LARGEST_EXPONENT, out=exponent)
    np.exp(exponent, out=exponent)
    exponent += 1.0
    return np.divide(100.0, exponent, out=exponent)


def kills_at_nodes(
    low_c: ArrayLike, sigma_c: ArrayLike, t10_c: ArrayLike, t90_c: ArrayLike
) -> FloatArray:
    """Return the share killed at every node of the error of a low.

    Parameters
    ----------
    low_c : array_like of float
        Expected bud low. [degC] Shape (blocks,).
    sigma_c : array_like of float
        Its standard error. [degC] Zero or more.
    t10_c, t90_c : array_like of float
        Temperatures that kill 10 % and 90 %. [degC]

    Returns
    -------
    ndarray of float
        Share killed at `ERROR_NODES`. [%] Shape (blocks, nodes).

    Raises
    ------
    PhysicsDomainError
        If a T90 is not below its T10.
    """
    low, sigma, warm, cold = np.broadcast_arrays(low_c, sigma_c, t10_c, t90_c)
    steep, middle = _steepness_and_middle(warm, cold)
    exponent = np.asarray((steep * sigma)[..., None] * ERROR_NODES)
    exponent += (steep * (low - middle))[..., None]
    return _killed_pct(exponent)


def mean_over_error(at_nodes: FloatArray | BoolArray) -> FloatArray:
    """Return the mean of what is known at every node of a normal error.

    Parameters
    ----------
    at_nodes : ndarray of float or bool
        Values at `ERROR_NODES`, or whether something holds there. Any unit. Shape
        (blocks, nodes).

    Returns
    -------
    ndarray of float
        Means, or chances. [unit of the values, 0..1] Shape (blocks,).

    References
    ----------
    .. [1] Trapezoidal rule, which for a smooth function that dies away on both sides
       converges exponentially: Trefethen and Weideman, SIAM Review 56(3), 2014. With 81
       nodes over six errors each way it is exact to 0.01 %; a Gauss-Hermite rule of 41
       nodes is off by 1 % where the curve is steep and the error large.

    Examples
    --------
    >>> float(mean_over_error(kills_at_nodes(25.5, 2.0, 27.0, 24.0)).round(1))
    50.0
    """
    return np.asarray(at_nodes @ ERROR_WEIGHTS, dtype=np.float64)


def crop_loss_pct(kill: ArrayLike, left: ArrayLike, needed: ArrayLike) -> FloatArray:
    """Return the share of a full crop that a kill takes.

    A tree sets many more blossoms than it can ripen: as long as those that live are
    enough for a full crop, nothing is lost but thinning.

    Parameters
    ----------
    kill : array_like of float
        Share of the living buds killed. [%]
    left : array_like of float
        Share of the season's buds alive before. [%]
    needed : array_like of float
        Share of the season's buds that makes a full crop. [%] Above 0.

    Returns
    -------
    ndarray of float
        Share of a full crop lost, beyond what was lost before. [%]

    References
    ----------
    .. [1] Shares needed: Utah State University Extension, IPM-012, 2011. The straight
       line between "enough" and "none" is a derivation.

    Examples
    --------
    >>> crop_loss_pct(40.0, 100.0, [15.0, 100.0]).tolist()
    [0.0, 40.0]
    """
    full = np.asarray(left, np.float64) / np.asarray(needed, np.float64)
    # In one array, as above: first what is killed, then what lives, then what is lost.
    lost = np.asarray(np.asarray(kill, np.float64) * (full / 100.0))
    np.subtract(full, lost, out=lost)
    np.minimum(lost, 1.0, out=lost)
    np.subtract(np.minimum(full, 1.0), lost, out=lost)
    return np.multiply(100.0, lost, out=lost)


def reach_probability(
    low_c: ArrayLike, sigma_c: ArrayLike, limit_c: ArrayLike
) -> FloatArray:
    """Return the chance that the low is at or below a limit.

    Parameters
    ----------
    low_c : array_like of float
        Expected low. [degC]
    sigma_c : array_like of float
        Its standard error, above zero. [degC]
    limit_c : array_like of float
        The limit. [degC]

    Returns
    -------
    ndarray of float
        Chance, 0 to 1.

    Examples
    --------
    >>> float(reach_probability(1.0, 2.0, -2.0).round(4))
    0.0668
    """
    low, sigma = np.asarray(low_c, np.float64), np.asarray(sigma_c, np.float64)
    return np.asarray(ndtr((np.asarray(limit_c, np.float64) - low) / sigma))


def reached_share(lows_c: FloatArray, limit_c: float) -> float:
    """Return the chance that a low is at or below a limit, by its value at each node.

    Parameters
    ----------
    lows_c : ndarray of float
        Lows at `ERROR_NODES`, none below the one before it. [degC] Shape (nodes,).
    limit_c : float
        The limit. [degC]

    Returns
    -------
    float
        Chance, 0 to 1: along a straight line between the nodes on both sides of the
        limit, so that lows that nothing changes give what `reach_probability` gives.

    Examples
    --------
    >>> chance = reached_share(1.0 + 2.0 * ERROR_NODES, -2.0)
    >>> round(chance, 4)
    0.0668
    """
    count = int(np.count_nonzero(lows_c <= limit_c))
    if count in (0, lows_c.size):
        return float(count > 0)
    before_c, after_c = float(lows_c[count - 1]), float(lows_c[count])
    share = (limit_c - before_c) / (after_c - before_c)
    step = ERROR_NODES[count] - ERROR_NODES[count - 1]
    return float(ndtr(ERROR_NODES[count - 1] + share * step))
