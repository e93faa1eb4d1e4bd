"""Pressure at a height, where a source does not give it."""

import numpy as np
from numpy.typing import ArrayLike

from frostalert.model.forecast import FloatArray
from frostalert.physics.inputs import as_floats, refuse_outside


def standard_pressure_hpa(elevation_m: ArrayLike) -> FloatArray:
    """Return the pressure of the standard atmosphere at a height.

    Parameters
    ----------
    elevation_m : array_like of float
        Height above sea level. [m] -500 to 6000.

    Returns
    -------
    ndarray of float
        Pressure. [hPa] Real pressure differs by up to some 3 %, which moves a wet bulb
        near freezing by less than 0.05 degC.

    Raises
    ------
    PhysicsDomainError
        If a height lies outside its range.

    References
    ----------
    .. [1] ICAO Standard Atmosphere: p = 1013.25 (1 - 2.25577e-5 h)^5.25588, as in the
       ASHRAE Handbook of Fundamentals 2017, ch. 1, eq. 3.

    Examples
    --------
    >>> float(standard_pressure_hpa(1000.0).round(1))
    898.7
    """
    height = as_floats(elevation_m, "elevation_m")
    refuse_outside(height, -500.0, 6000.0, "elevation", "m")
    pressure = 1013.25 * (1.0 - 2.25577e-5 * height) ** 5.25588
    return np.asarray(pressure, dtype=np.float64)
