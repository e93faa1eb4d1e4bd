"""Dew point, frost point, wet bulb and ice bulb, for whole arrays at once.

The wet bulb is that of the psychrometer equation, with MetPy's saturation pressures:
it is what a wetted thermometer shows and what a wet bud tends to, and it is what the
published start and stop tables for irrigation were made from. MetPy's own
`wet_bulb_temperature` follows the adiabatic definition, up to half a degree colder
above freezing, and iterates value by value; the tests use it as a cross-check.
"""

import numpy as np
from numpy.typing import ArrayLike

from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import FloatArray
from frostalert.physics.inputs import as_floats, refuse_outside
from frostalert.physics.psychrometer import bulb_c
from frostalert.physics.saturation import (
    ICE,
    WATER,
    ZERO_C_K,
    saturation_curve,
    saturation_hpa,
)

PSYCHROMETER_WATER_PER_C = 6.60e-4
"""Psychrometer coefficient of a wet bulb. [1/degC] AMS Glossary of Meteorology."""
PSYCHROMETER_ICE_PER_C = 5.82e-4
"""Psychrometer coefficient of an iced bulb. [1/degC] AMS Glossary of Meteorology."""

LOWEST_C, HIGHEST_C = -70.0, 60.0
LOWEST_DEWPOINT_C = -100.0
LOWEST_HPA, HIGHEST_HPA = 400.0, 1100.0
_SATURATED_PCT = 100.0
_LAST_STEP_C = 1e-3
"""A step no larger than this is the last on the way to a dew or frost point. [degC]
Steps are Newton's on a curve that is nearly straight: the error left is its square over
the kelvin, below 1e-8 degC."""
_MOST_STEPS = 40
_MAGNUS = {WATER: (17.62, 243.12), ICE: (22.46, 272.62)}
"""Magnus' two numbers over water and over ice. [1, degC] Sonntag, Z. Meteorol. 70,
1990 (from memory): a first guess, of which nothing is left in what is returned."""


def wet_bulb_c(
    temp_c: ArrayLike, dewpoint_c: ArrayLike, pressure_hpa: ArrayLike
) -> FloatArray:
    """Return the wet-bulb temperature over water, by the psychrometer equation.

    Parameters
    ----------
    temp_c : array_like of float
        Air temperature. [degC] -70 to 60.
    dewpoint_c : array_like of float
        Dew point over water, not above the air temperature. [degC]
    pressure_hpa : array_like of float
        Station pressure. [hPa] 400 to 1100.

    Returns
    -------
    ndarray of float
        Wet-bulb temperature. [degC] Broadcast shape; NaN where an input is NaN.

    Raises
    ------
    PhysicsDomainError
        If an input lies outside its range or a dew point is above its air.

    Notes
    -----
    Solves e(Td) = es(Tw) - A p (T - Tw) with A = 6.60e-4 per degC, to 1e-7 degC. Other
    definitions differ: see the module.

    References
    ----------
    .. [1] American Meteorological Society, "Psychrometric formula," Glossary of
       Meteorology.
    .. [2] Ambaum, "Accurate, simple equation for saturated vapour pressure over water
       and ice," Q. J. R. Meteorol. Soc., 2020, doi 10.1002/qj.3899 (through MetPy).

    Examples
    --------
    >>> float(wet_bulb_c(10.0, 1.0, 1013.25).round(2))
    5.92
    """
    return bulb_c(
        *_checked(temp_c, dewpoint_c, pressure_hpa),
        phase=WATER,
        coefficient_per_c=PSYCHROMETER_WATER_PER_C,
    )


def ice_bulb_c(
    temp_c: ArrayLike, dewpoint_c: ArrayLike, pressure_hpa: ArrayLike
) -> FloatArray:
    """Return the ice-bulb temperature: that of a surface with ice on it.

    Parameters
    ----------
    temp_c, dewpoint_c, pressure_hpa : array_like of float
        As for `wet_bulb_c`. [degC, degC, hPa]

    Returns
    -------
    ndarray of float
        Ice-bulb temperature. [degC] At most the air temperature: air near saturation
        over water is supersaturated over ice. NaN where it would lie above 0 degC,
        since there is no ice then, and where an input is NaN.

    Raises
    ------
    PhysicsDomainError
        If an input lies outside its range or a dew point is above its air.

    Notes
    -----
    Solves e(Td) = ei(Ti) - A p (T - Ti) with A = 5.82e-4 per degC.

    References
    ----------
    .. [1] American Meteorological Society, "Psychrometric formula," Glossary of
       Meteorology.

    Examples
    --------
    >>> float(ice_bulb_c(0.0, -3.0, 1013.25).round(2))
    -1.13
    >>> bool(np.isnan(ice_bulb_c(10.0, 5.0, 1013.25)))
    True
    """
    bulb = bulb_c(
        *_checked(temp_c, dewpoint_c, pressure_hpa),
        phase=ICE,
        coefficient_per_c=PSYCHROMETER_ICE_PER_C,
    )
    np.copyto(bulb, np.nan, where=bulb > 0.0)
    return bulb


def dewpoint_c(temp_c: ArrayLike, relative_humidity_pct: ArrayLike) -> FloatArray:
    """Return the dew point from relative humidity over water.

    Parameters
    ----------
    temp_c : array_like of float
        Air temperature. [degC] -70 to 60.
    relative_humidity_pct : array_like of float
        Relative humidity over water, as stations and forecasts give it. [%]
        Above 0 and at most 100.

    Returns
    -------
    ndarray of float
        Dew point. [degC] NaN where an input is NaN.

    Raises
    ------
    PhysicsDomainError
        If an input lies outside its range.

    References
    ----------
    .. [1] WMO-No. 8, Guide to Instruments and Methods of Observation: humidity is
       reported over water at all temperatures (from memory).

    Examples
    --------
    >>> float(dewpoint_c(0.0, 60.0).round(1))
    -6.8
    """
    air, humidity = np.broadcast_arrays(
        as_floats(temp_c, "temp_c"),
        as_floats(relative_humidity_pct, "relative_humidity_pct"),
    )
    refuse_outside(air, LOWEST_C, HIGHEST_C, "air temperature", "degC")
    if np.any((humidity <= 0.0) | (humidity > _SATURATED_PCT)):
        message = "relative humidity must be above 0 and at most 100 %"
        raise PhysicsDomainError(message)
    vapour = saturation_hpa(air, WATER) * humidity / 100.0
    dew = _saturation_temperature(WATER, vapour)
    return np.asarray(np.minimum(dew, air), dtype=np.float64)


def frost_point_c(dewpoint_c: ArrayLike) -> FloatArray:
    """Return the frost point that goes with a dew point.

    Parameters
    ----------
    dewpoint_c : array_like of float
        Dew point over water. [degC] -100 to 60.

    Returns
    -------
    ndarray of float
        Temperature at which the vapour is saturated over ice. [degC] NaN where it
        would lie above 0 degC, and where the input is NaN.

    Raises
    ------
    PhysicsDomainError
        If an input lies outside its range.

    References
    ----------
    .. [1] Ambaum, Q. J. R. Meteorol. Soc., 2020, doi 10.1002/qj.3899 (through MetPy).

    Examples
    --------
    >>> float(frost_point_c(-12.0).round(1))
    -10.7
    """
    dew = as_floats(dewpoint_c, "dewpoint_c")
    refuse_outside(dew, LOWEST_DEWPOINT_C, HIGHEST_C, "dew point", "degC")
    frost = _saturation_temperature(ICE, saturation_hpa(dew, WATER))
    return np.asarray(np.where(dew <= 0.0, frost, np.nan), dtype=np.float64)


def vapour_pressure_hpa(dewpoint_c: ArrayLike) -> FloatArray:
    """Return the vapour pressure that goes with a dew point over water.

    Parameters
    ----------
    dewpoint_c : array_like of float
        Dew point. [degC] NaN passes through.

    Returns
    -------
    ndarray of float
        Vapour pressure. [hPa]

    Raises
    ------
    PhysicsDomainError
        If an input lies outside its range.

    References
    ----------
    .. [1] Ambaum, Q. J. R. Meteorol. Soc., 2020, doi 10.1002/qj.3899 (through MetPy).
    """
    dew = as_floats(dewpoint_c, "dewpoint_c")
    refuse_outside(dew, LOWEST_DEWPOINT_C, HIGHEST_C, "dew point", "degC")
    return saturation_hpa(dew, WATER)


def ice_vapour_pressure_hpa(temp_c: ArrayLike) -> FloatArray:
    """Return the vapour pressure over ice at a temperature.

    Parameters
    ----------
    temp_c : array_like of float
        Temperature of the ice. [degC] At most 0; NaN passes through.

    Returns
    -------
    ndarray of float
        Vapour pressure. [hPa]

    References
    ----------
    .. [1] Ambaum, "Accurate, simple equation for saturated vapour pressure over water
       and ice," Q. J. R. Meteorol. Soc. 146, 2020, as MetPy has it.

    Examples
    --------
    >>> float(ice_vapour_pressure_hpa(-5.0).round(2))
    4.02
    """
    return saturation_hpa(np.asarray(temp_c, dtype=np.float64), ICE)


def _checked(
    temp_c: ArrayLike, dewpoint_c: ArrayLike, pressure_hpa: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the inputs as arrays of one shape, within their ranges."""
    air, dew, pressure = (
        as_floats(temp_c, "temp_c"),
        as_floats(dewpoint_c, "dewpoint_c"),
        as_floats(pressure_hpa, "pressure_hpa"),
    )
    refuse_outside(air, LOWEST_C, HIGHEST_C, "air temperature", "degC")
    refuse_outside(dew, LOWEST_DEWPOINT_C, HIGHEST_C, "dew point", "degC")
    refuse_outside(pressure, LOWEST_HPA, HIGHEST_HPA, "pressure", "hPa")
    if np.any(dew > air + 1e-6):
        worst = float(np.nanmax(dew - air))
        message = f"a dew point lies {worst:.2f} degC above its air temperature"
        raise PhysicsDomainError(message)
    air, dew, pressure = np.broadcast_arrays(air, dew, pressure)
    return air, dew, pressure


def _saturation_temperature(phase: str, vapour_hpa: FloatArray) -> FloatArray:
    """Return the temperature at which a vapour pressure is saturated. [degC]"""
    curve = saturation_curve(phase)
    log = np.log(vapour_hpa)
    # Magnus' inverse is within 0.3 degC; Newton on the logarithm does the rest.
    factor, shift_c = _MAGNUS[phase]
    above = log - np.log(6.112)
    kelvin = np.asarray(shift_c * above / (factor - above) + ZERO_C_K, np.float64)
    for _ in range(_MOST_STEPS):
        reached, slope, _ = curve.log_and_slopes(kelvin)
        step = (reached - log) / slope
        kelvin = kelvin - step
        if not np.any(np.abs(step) > _LAST_STEP_C):
            return kelvin - ZERO_C_K
    message = "no saturation temperature was found"
    raise PhysicsDomainError(message)
