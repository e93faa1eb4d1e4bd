"""Water on plants: what a wetted surface loses, the rate that makes up for it, ice.

Water that freezes gives off heat. As long as enough of it freezes, the surface stays
where that heat equals the loss; too little, and the surface falls towards the ice bulb,
below what the dry bud would have reached.
"""

import math

import numpy as np
from numpy.typing import ArrayLike

from frostalert.errors import PhysicsDomainError
from frostalert.model.crop import Organ
from frostalert.model.forecast import FloatArray
from frostalert.physics.bud import HALF_SKY, clear_sky_loss_wpm2, heat_exchange_wpm2k
from frostalert.physics.humidity import (
    PSYCHROMETER_ICE_PER_C,
    ice_vapour_pressure_hpa,
    vapour_pressure_hpa,
)

FUSION_J_PER_KG = 334_000.0
"""Heat of fusion of water. [J/kg] 80 cal/g in extension texts; this value from
memory."""
WPM2_PER_MM_PER_H = FUSION_J_PER_KG / 3600.0
"""Heat of one millimetre an hour, all of it freezing. [W/m2 per mm/h] 92.8."""
ICED_SIZE_M = 0.02
"""Width of a bud or leaf with ice on it. [m] Common practice, no source."""
OUTDOOR_TURBULENCE = 1.4
"""By how much gusts carry more heat than the smooth wind of a tunnel. [1] Campbell and
Norman, Environmental Biophysics, 2nd ed., 1998 (from memory)."""
SURFACE_PER_SHADOW = {Organ.BUD: math.pi, Organ.LEAF: 2.0}
"""Surface that loses heat over the ground that it catches water from: a round bud's is
pi times its shadow, a leaf has two sides. Geometry."""
FILM_MM = 0.1
"""Water that stays on a bud after wetting. [mm] Common practice, no source."""


def wetted_loss_wpm2(
    surface_c: ArrayLike,
    air_c: ArrayLike,
    dewpoint_c: ArrayLike,
    wind_2m_mps: ArrayLike,
    sky: ArrayLike,
    *,
    pressure_hpa: float,
    size_m: float = ICED_SIZE_M,
) -> FloatArray:
    """Return the heat that an iced surface loses: to the air, by vapour, to the sky.

    Parameters
    ----------
    surface_c : array_like of float
        Temperature at which the surface is held. [degC] At most 0.
    air_c, dewpoint_c : array_like of float
        Air temperature and dew point. [degC] NaN passes through.
    wind_2m_mps : array_like of float
        Wind at 2 m, not reduced for hidden calms. [m/s] NaN passes through.
    sky : array_like of float
        How far the sky is open, by night, 0 to 1.
    pressure_hpa : float
        Pressure at the site. [hPa]
    size_m : float
        Width that the air streams over. [m]

    Returns
    -------
    ndarray of float
        Loss of one square metre of surface. [W/m2] Negative where it gains.

    Notes
    -----
    hc [(Ts - Ta) + (ei(Ts) - e) / (A p)] plus the radiative part; the bracket is zero
    at the ice bulb by definition of that.

    References
    ----------
    .. [1] Derivation from the psychrometer equation (American Meteorological Society,
       "Psychrometric formula," Glossary of Meteorology).
    .. [2] Snyder and de Melo-Abreu, Frost Protection, vol. 1, FAO, 2005, p. 65: one
       part evaporated cancels 7.5 parts frozen.

    Examples
    --------
    >>> loss = wetted_loss_wpm2(0.0, -3.0, -7.7, 0.5, 1.0, pressure_hpa=1013.25)
    >>> 230.0 < float(loss) < 290.0
    True
    """
    surface, air = np.asarray(surface_c, np.float64), np.asarray(air_c, np.float64)
    dew, wind = np.asarray(dewpoint_c, np.float64), np.asarray(wind_2m_mps, np.float64)
    convective, radiative = heat_exchange_wpm2k(air, wind, size_m)
    lacking = ice_vapour_pressure_hpa(surface) - vapour_pressure_hpa(dew)
    by_vapour = lacking / (PSYCHROMETER_ICE_PER_C * pressure_hpa)
    to_sky = HALF_SKY * np.asarray(sky, np.float64) * clear_sky_loss_wpm2(air, dew)
    loss = (
        OUTDOOR_TURBULENCE * convective * ((surface - air) + by_vapour)
        + radiative * (surface - air)
        + to_sky
    )
    # What is unknown must not come out as calm.
    return np.asarray(np.where(np.isfinite(wind), loss, np.nan), dtype=np.float64)


def needed_rate_mm_per_h(
    loss_wpm2: ArrayLike, organ: Organ, catch_fraction: float
) -> FloatArray:
    """Return the rate over the ground that makes up for a loss.

    Parameters
    ----------
    loss_wpm2 : array_like of float
        As from `wetted_loss_wpm2`. [W/m2]
    organ : Organ
        What is wetted.
    catch_fraction : float
        Share of the water that lands on plants and freezes there, above 0, to 1. [1]

    Returns
    -------
    ndarray of float
        Rate. [mm/h] Zero where nothing is lost.

    Raises
    ------
    PhysicsDomainError
        If the share lies outside its range.

    References
    ----------
    .. [1] Derivation: heat of fusion 334 kJ/kg; 1 mm/h all of it frozen is 92.8 W/m2.

    Examples
    --------
    >>> float(needed_rate_mm_per_h(92.8, Organ.LEAF, 1.0).round(2))
    2.0
    """
    if not 0.0 < catch_fraction <= 1.0:
        message = "the share of water that lands on plants must lie between 0 and 1"
        raise PhysicsDomainError(message)
    loss = np.maximum(np.asarray(loss_wpm2, dtype=np.float64), 0.0)
    share = WPM2_PER_MM_PER_H * catch_fraction
    return np.asarray(loss * SURFACE_PER_SHADOW[organ] / share, dtype=np.float64)


def film_life_s(loss_wpm2: ArrayLike, film_mm: float = FILM_MM) -> FloatArray:
    """Return how long a film of water takes to freeze.

    Parameters
    ----------
    loss_wpm2 : array_like of float
        Heat that the surface loses. [W/m2]
    film_mm : float
        Thickness of the film. [mm]

    Returns
    -------
    ndarray of float
        Time. [s] Infinite where nothing is lost; NaN passes through.

    References
    ----------
    .. [1] Derivation: heat of fusion of the film over the loss. No interval for
       wetting by hand is published.

    Examples
    --------
    >>> float(film_life_s(200.0, 0.1).round())
    167.0
    """
    loss = np.asarray(loss_wpm2, dtype=np.float64)
    with np.errstate(divide="ignore"):
        life = film_mm * FUSION_J_PER_KG / np.maximum(loss, 0.0)
    return np.asarray(np.where(np.isnan(loss), np.nan, life), dtype=np.float64)


def ice_load_kg(rate_mm_per_h: float, hours_h: float, crown_m2: float) -> float:
    """Return the ice on one plant if all water on its crown stays there as ice.

    Parameters
    ----------
    rate_mm_per_h : float
        Rate of water over the ground. [mm/h]
    hours_h : float
        How long it runs. [h]
    crown_m2 : float
        Ground under the crown. [m2]

    Returns
    -------
    float
        Mass, an upper bound: much drips off. [kg]

    Examples
    --------
    >>> ice_load_kg(3.0, 8.0, 1.0)
    24.0
    """
    return rate_mm_per_h * hours_h * crown_m2
