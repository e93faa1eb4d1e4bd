"""How far an hour is clear and calm: the weight of everything that a hollow does."""

import numpy as np

from frostalert.model.forecast import FloatArray

WIND_2M_PER_10M = 0.7
"""Wind at 2 m over wind at 10 m; common practice, no source."""
HIDDEN_CALM_MPS = 3.5
"""Wind at 10 m up to which a grid counts as calm. [m/s] Common practice, no source: a
grid's wind is the mean of a cell, in some in whole knots, and hardly ever shows a
calm."""
CALM_2M_MPS = 1.0
"""Wind at 2 m up to which the air counts as calm. [m/s] Common practice, no source."""
MIXED_2M_MPS = 4.0
"""Wind at 2 m from which nothing pools. [m/s] Common practice, no source; an inversion
is unlikely above 2.5 m/s (FAO, Frost Protection, vol. 1, p. 160), the middle."""
TOTAL_CLOUD_SHARE = 0.5
"""Most that total cloud alone takes away, since it may be high and thin; common
practice, no source."""


def wind_at_2m_mps(wind_10m_mps: FloatArray) -> FloatArray:
    """Return the wind at 2 m from the wind at 10 m.

    Parameters
    ----------
    wind_10m_mps : ndarray of float
        Wind at 10 m. [m/s] Shape (hours,); NaN passes through.

    Returns
    -------
    ndarray of float
        Wind at 2 m. [m/s]

    References
    ----------
    .. [1] Common practice, no source; the FAO-56 wind profile over short grass gives
       0.75 (from memory).
    """
    return WIND_2M_PER_10M * wind_10m_mps


def calm_weight(wind_10m_mps: FloatArray, *, hides_calm: bool) -> FloatArray:
    """Return how calm the air is, from 0 (mixed) to 1 (calm), without a step.

    Parameters
    ----------
    wind_10m_mps : ndarray of float
        Wind at 10 m. [m/s] Shape (hours,).
    hides_calm : bool
        Whether the source never shows a calm.

    Returns
    -------
    ndarray of float
        Weight, 0 to 1; 1 where the wind is unknown, since unknown is not mild.

    References
    ----------
    .. [1] Snyder and de Melo-Abreu, Frost Protection, vol. 1, FAO, 2005, p. 160.
    """
    calm_mps = WIND_2M_PER_10M * HIDDEN_CALM_MPS if hides_calm else CALM_2M_MPS
    wind = wind_at_2m_mps(wind_10m_mps)
    weight = np.clip((MIXED_2M_MPS - wind) / (MIXED_2M_MPS - calm_mps), 0.0, 1.0)
    return np.where(np.isfinite(wind), weight, 1.0)


def bud_wind_mps(wind_10m_mps: FloatArray, *, hides_calm: bool) -> FloatArray:
    """Return the wind at 2 m that carries heat to buds.

    Where a source never shows a calm, light wind stands for one with calm spells in it,
    and it is in those that buds cool.

    Parameters
    ----------
    wind_10m_mps : ndarray of float
        Wind at 10 m. [m/s] Shape (hours,).
    hides_calm : bool
        Whether the source never shows a calm.

    Returns
    -------
    ndarray of float
        Wind at 2 m. [m/s] Zero up to the hidden calm, rising to the full wind without a
        step; NaN passes through.

    References
    ----------
    .. [1] Common practice, no source.
    """
    wind = wind_at_2m_mps(wind_10m_mps)
    if not hides_calm:
        return wind
    return wind * (1.0 - calm_weight(wind_10m_mps, hides_calm=True))


def open_sky(cloud_pct: FloatArray, shutting_cloud_pct: FloatArray) -> FloatArray:
    """Return how far the sky is open to loss of heat, from 0 to 1.

    Parameters
    ----------
    cloud_pct : ndarray of float
        Total cloud. [%] Shape (hours,).
    shutting_cloud_pct : ndarray of float
        Low and middle cloud, or all that is opaque. [%] Shape (hours,); NaN where
        unknown.

    Returns
    -------
    ndarray of float
        Share, 0 to 1; 1 where cloud is unknown, since unknown is not mild.

    References
    ----------
    .. [1] Common practice, no source: low and middle cloud radiate nearly as the
       ground does, high cloud hardly.
    """
    by_total = 1.0 - TOTAL_CLOUD_SHARE * np.clip(cloud_pct, 0.0, 100.0) / 100.0
    by_layers = 1.0 - np.clip(shutting_cloud_pct, 0.0, 100.0) / 100.0
    share = np.where(np.isfinite(by_layers), by_layers, by_total)
    return np.where(np.isfinite(share), share, 1.0)
