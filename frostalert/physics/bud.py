"""Temperature of buds and leaves, dry and wet, from the air around them.

Published kill temperatures are those of the tissue. Under a clear calm sky a dry bud
runs about a degree below the air, a leaf about two; a wet one follows the wet bulb,
or the ice bulb once there is ice on it, and loses some heat to the sky besides.
"""

import numpy as np

from frostalert.model.crop import Organ
from frostalert.model.forecast import FloatArray
from frostalert.physics.humidity import vapour_pressure_hpa

_STEFAN_BOLTZMANN = 5.670374e-8
_ZERO_C_K = 273.15
_MOLAR_HEAT_J_PER_MOL_K = 29.3
ORGAN_SIZE_M = {Organ.BUD: 0.006, Organ.LEAF: 0.03}
"""Width that the air streams over. [m] Chosen so that a bud in still air runs 1 degC
below it and a leaf 2; common practice, no source."""
_STILL_AIR_MPS = 0.5
"""Even calm air moves by its own buoyancy. [m/s] Common practice, no source."""
HALF_SKY = 0.5
"""A bud sees as much sky above as warm ground below."""
WET_SHARE = 0.6
"""Share of the dry deficit that a wet bud keeps; common practice, no source."""
_WATER_SLOPE_PER_GAMMA = 0.6
"""Slope of the vapour curve over the psychrometer constant just below 0 degC: what
the heat of deposition adds to the heat exchange. FAO-56 formulas at -2 degC give
0.58 (computed)."""


def clear_sky_loss_wpm2(air_c: FloatArray, dewpoint_c: FloatArray) -> FloatArray:
    """Return the net long-wave loss of a flat surface under a clear sky.

    Parameters
    ----------
    air_c, dewpoint_c : ndarray of float
        Air temperature and dew point. [degC] One shape; NaN passes through.

    Returns
    -------
    ndarray of float
        Loss, positive upwards. [W/m2] Where humidity is missing, that of dry air.

    References
    ----------
    .. [1] Allen et al., FAO Irrigation and Drainage Paper 56, 1998, eq. 39: sigma T^4
       (0.34 - 0.14 sqrt(e)), e in kPa (coefficients from memory).
    """
    vapour_kpa = vapour_pressure_hpa(dewpoint_c) / 10.0
    humid = np.where(np.isfinite(vapour_kpa), vapour_kpa, 0.2)
    # Powers as products: numpy's own take four times as long.
    black_body = _STEFAN_BOLTZMANN * np.square(np.square(air_c + _ZERO_C_K))
    return np.asarray(black_body * (0.34 - 0.14 * np.sqrt(humid)), dtype=np.float64)


def dry_deficit_c(
    air_c: FloatArray,
    dewpoint_c: FloatArray,
    wind_2m_mps: FloatArray,
    sky: FloatArray,
    size_m: float | FloatArray,
) -> FloatArray:
    """Return how far dry tissue is below the air, before any dew forms on it.

    Parameters
    ----------
    air_c, dewpoint_c : ndarray of float
        Air temperature and dew point. [degC] One shape.
    wind_2m_mps : ndarray of float
        Wind at 2 m. [m/s] Unknown counts as still.
    sky : ndarray of float
        How far the sky is open, times how far it is night, 0 to 1.
    size_m : float or ndarray of float
        Width of the tissue, see `ORGAN_SIZE_M`. [m]

    Returns
    -------
    ndarray of float
        Deficit, zero or more. [degC]

    Notes
    -----
    Half the clear-sky loss over the sum of the convective and radiative exchange, the
    convective one as 0.135 sqrt(u/d) mol/m2/s: about 1 degC for a bud of 6 mm in still
    air and 0.5 at 2 m/s, twice that for a leaf.

    References
    ----------
    .. [1] Campbell and Norman, An Introduction to Environmental Biophysics, 2nd ed.,
       1998, table 7.6 (from memory).
    .. [2] Leuning and Cremer, Agric. For. Meteorol. 42, 1988, 121-133: leaves 1-3 degC
       below the air under a clear sky.
    """
    loss = HALF_SKY * sky * clear_sky_loss_wpm2(air_c, dewpoint_c)
    convective, radiative = heat_exchange_wpm2k(air_c, wind_2m_mps, size_m)
    return np.asarray(loss / (convective + radiative), dtype=np.float64)


def dry_bud_c(
    air_c: FloatArray,
    saturation_c: FloatArray,
    deficit_c: FloatArray,
    wind_2m_mps: FloatArray,
    size_m: float | FloatArray,
) -> FloatArray:
    """Return the temperature of tissue that was dry at nightfall.

    Where it falls below the dew or frost point, dew or hoar forms on it and gives off
    heat: the deficit shrinks below that point and never vanishes.

    Parameters
    ----------
    air_c : ndarray of float
        Air among the plants. [degC]
    saturation_c : ndarray of float
        Dew point, or frost point below 0 degC. [degC] NaN where humidity is missing:
        then nothing forms.
    deficit_c : ndarray of float
        As from `dry_deficit_c`. [degC]
    wind_2m_mps : ndarray of float
        Wind at 2 m. [m/s]
    size_m : float or ndarray of float
        Width of the tissue, see `ORGAN_SIZE_M`. [m]

    Returns
    -------
    ndarray of float
        Tissue temperature, at most the air's. [degC]

    References
    ----------
    .. [1] Derivation from the heat balance of a surface with condensation.
    """
    convective, radiative = heat_exchange_wpm2k(air_c, wind_2m_mps, size_m)
    shrink = (convective + radiative) / (
        convective * (1.0 + _WATER_SLOPE_PER_GAMMA) + radiative
    )
    until_dew_c = np.maximum(air_c - saturation_c, 0.0)
    with_dew_c = until_dew_c + (deficit_c - until_dew_c) * shrink
    has_dew = np.isfinite(until_dew_c) & (deficit_c > until_dew_c)
    return air_c - np.where(has_dew, with_dew_c, deficit_c)


def wet_bud_c(
    wet_bulb_c: FloatArray, ice_bulb_c: FloatArray, deficit_c: FloatArray
) -> FloatArray:
    """Return the temperature of tissue with water or ice on it.

    Parameters
    ----------
    wet_bulb_c, ice_bulb_c : ndarray of float
        Over water and over ice. [degC] The ice bulb counts once the wet bulb is at or
        below 0 degC.
    deficit_c : ndarray of float
        Deficit of the dry tissue. [degC]

    Returns
    -------
    ndarray of float
        Tissue temperature. [degC] NaN where humidity is missing.

    References
    ----------
    .. [1] Derivation: a wet surface loses to the sky what a dry one does and exchanges
       heat faster; the share is common practice, no source.
    """
    has_ice = (wet_bulb_c <= 0.0) & np.isfinite(ice_bulb_c)
    return np.where(has_ice, ice_bulb_c, wet_bulb_c) - WET_SHARE * deficit_c


def heat_exchange_wpm2k(
    air_c: FloatArray, wind_2m_mps: FloatArray, size_m: float | FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the convective and the radiative heat exchange of small surfaces.

    Parameters
    ----------
    air_c : ndarray of float
        Air temperature. [degC]
    wind_2m_mps : ndarray of float
        Wind at 2 m. [m/s] Unknown counts as still.
    size_m : float or ndarray of float
        Width that the air streams over. [m]

    Returns
    -------
    tuple of ndarray
        Both for one square metre of surface. [W/m2/K]

    References
    ----------
    .. [1] Campbell and Norman, An Introduction to Environmental Biophysics, 2nd ed.,
       1998, table 7.6: 0.135 sqrt(u/d) mol/m2/s (from memory).
    """
    wind = np.where(np.isfinite(wind_2m_mps), wind_2m_mps, 0.0)
    speed = np.maximum(wind, _STILL_AIR_MPS)
    convective = _MOLAR_HEAT_J_PER_MOL_K * 0.135 * np.sqrt(speed / size_m)
    kelvin = air_c + _ZERO_C_K
    radiative = 4.0 * _STEFAN_BOLTZMANN * (kelvin * kelvin * kelvin)
    return convective, radiative
