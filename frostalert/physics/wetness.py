"""How likely it is that buds are wet, hour by hour: rain or snow that has not dried."""

import numpy as np
from scipy.special import ndtr

from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import BoolArray, FloatArray

FILM_MM = 0.1
"""Water that stays on a bud after rain. [mm] Common practice, no source."""
DEWPOINT_SIGMA_C = 1.5
"""Standard error of dew point against bud temperature. [degC] Common practice,
no source."""
SNOW_WET_BULB_C = 1.0
"""Wet bulb at and below which what falls is taken for snow. [degC] Common practice,
no source: flakes melt in air that is warmer than that."""
_DRYING_MM_PER_H_PER_HPA = 0.09
"""Drying of a film for each hPa between its own vapour and the air's, in still air, at
the exchange of a bud of 6 mm (derivation): 0.1 mm lasts some 20 minutes in dry wind and
hours when it is calm and humid."""


def rain_wet_probability(
    rain_probability: FloatArray,
    drying_mm_per_h: FloatArray,
) -> FloatArray:
    """Return the chance that buds are wet from rain or snow, until the film is dry.

    Parameters
    ----------
    rain_probability : ndarray of float
        Chance of rain or snow in each hour, 0 to 1. Shape (hours,), no NaN.
    drying_mm_per_h : ndarray of float
        Drying in each hour. [mm/h] Shape (hours,), no NaN.

    Returns
    -------
    ndarray of float
        Chance, 0 to 1. Shape (hours,).

    Raises
    ------
    PhysicsDomainError
        If a value is NaN: unknown rain is not dry, and the caller must say so.

    References
    ----------
    .. [1] Derivation; the film is common practice, no source.

    Examples
    --------
    >>> rain = np.array([0.8, 0.0, 0.0])
    >>> rain_wet_probability(rain, np.array([0.02, 0.02, 0.3])).tolist()
    [0.8, 0.8, 0.0]
    """
    if np.isnan(rain_probability).any() or np.isnan(drying_mm_per_h).any():
        message = "rain and drying must be known for every hour"
        raise PhysicsDomainError(message)
    chance = []
    film_mm = carried = 0.0
    hours = zip(rain_probability.tolist(), drying_mm_per_h.tolist(), strict=True)
    for fresh, drying in hours:
        film_mm = max(film_mm - drying, 0.0)
        if film_mm == 0.0:
            carried = 0.0
        if fresh > 0.0 and fresh >= carried:
            film_mm, carried = FILM_MM, fresh
        chance.append(carried)
    return np.array(chance)


def drying_mm_per_h(
    surface_vapour_hpa: FloatArray, air_vapour_hpa: FloatArray, wind_2m_mps: FloatArray
) -> FloatArray:
    """Return how fast a film of water dries from a bud.

    Parameters
    ----------
    surface_vapour_hpa : ndarray of float
        Vapour pressure at the wet surface. [hPa]
    air_vapour_hpa : ndarray of float
        Vapour pressure of the air. [hPa]
    wind_2m_mps : ndarray of float
        Wind at 2 m. [m/s]

    Returns
    -------
    ndarray of float
        Drying, zero or more. [mm/h]

    References
    ----------
    .. [1] Derivation from the mass exchange 0.147 sqrt(u/d) mol/m2/s (Campbell and
       Norman 1998, table 7.6, from memory).
    """
    speed = np.sqrt(np.maximum(wind_2m_mps, 0.5) / 0.5)
    lacking = np.maximum(surface_vapour_hpa - air_vapour_hpa, 0.0)
    return np.asarray(_DRYING_MM_PER_H_PER_HPA * speed * lacking, dtype=np.float64)


def dew_probability(bud_c: FloatArray, saturation_c: FloatArray) -> FloatArray:
    """Return the chance that dew or hoar has formed on a bud.

    Parameters
    ----------
    bud_c : ndarray of float
        Temperature of the dry bud. [degC]
    saturation_c : ndarray of float
        Dew point, or frost point below 0 degC. [degC]

    Returns
    -------
    ndarray of float
        Chance, 0 to 1; one half where the two are equal. NaN where either is missing.

    References
    ----------
    .. [1] Normal error of the difference; its size is common practice, no source.
    """
    return np.asarray(ndtr((saturation_c - bud_c) / DEWPOINT_SIGMA_C), dtype=np.float64)


def wet_weather_chance(
    precipitation_probability_pct: FloatArray, is_wet_weather: BoolArray
) -> FloatArray:
    """Return the chance of rain or snow in each hour.

    Parameters
    ----------
    precipitation_probability_pct : ndarray of float
        The source's own chance. [%] Shape (hours,); NaN where it gives none.
    is_wet_weather : ndarray of bool
        Whether its weather text speaks of rain or snow. Shape (hours,).

    Returns
    -------
    ndarray of float
        Chance, 0 to 1; where the chance is unknown, 0.5 in wet weather, else 0.

    References
    ----------
    .. [1] Common practice, no source.
    """
    known = precipitation_probability_pct / 100.0
    return np.where(np.isfinite(known), known, np.where(is_wet_weather, 0.5, 0.0))


def snow_chance(wet_weather: FloatArray, wet_bulb_c: FloatArray) -> FloatArray:
    """Return the chance of snow in each hour.

    Parameters
    ----------
    wet_weather : ndarray of float
        Chance of rain or snow, 0 to 1. Shape (hours,).
    wet_bulb_c : ndarray of float
        Wet bulb near the ground. [degC] Shape (hours,); NaN where unknown.

    Returns
    -------
    ndarray of float
        Chance, 0 to 1; 0 where it is too warm, or not known.

    Examples
    --------
    >>> snow_chance(np.array([0.9, 0.9, 0.2]), np.array([4.0, 0.5, -2.0])).tolist()
    [0.0, 0.9, 0.2]
    """
    return np.where(wet_bulb_c <= SNOW_WET_BULB_C, wet_weather, 0.0)
