"""What a thermometer reads when water must start: the wet bulb turned round."""

import numpy as np
from numpy.typing import ArrayLike

from frostalert.model.forecast import FloatArray
from frostalert.physics.humidity import PSYCHROMETER_WATER_PER_C, vapour_pressure_hpa

START_WET_BULB_C = 0.5
"""Wet bulb at which water is started. [degC] Common practice, no source: above freezing
by what the first wetting may cost."""
LIT_ABOVE_ALARM_C = 1.0
"""What warms runs while buds are this far above the alarm temperature. [degC] Common
practice, no source."""
STOP_WET_BULB_C = 0.0
"""Measured wet bulb above which water may stop, if ice melts freely as well. [degC]
UF/IFAS (Jackson, Parsons and Martsolf), after Circular 348: 32 degF."""


def start_air_c(
    wet_bulb_c: ArrayLike, dewpoint_c: ArrayLike, pressure_hpa: ArrayLike
) -> FloatArray:
    """Return the air temperature at which the wet bulb has a given value.

    Parameters
    ----------
    wet_bulb_c : array_like of float
        The wet bulb. [degC]
    dewpoint_c : array_like of float
        Dew point. [degC] NaN passes through.
    pressure_hpa : array_like of float
        Pressure at the site. [hPa]

    Returns
    -------
    ndarray of float
        Air temperature. [degC] Where the dew point is above the wet bulb, the wet bulb
        itself: such air cannot be.

    Raises
    ------
    PhysicsDomainError
        If a temperature lies outside what the formulas hold for.

    References
    ----------
    .. [1] American Meteorological Society, "Psychrometric formula," Glossary of
       Meteorology, solved for the air temperature: T = Tw + (es(Tw) - e(Td)) / (A p).
    .. [2] Snyder and de Melo-Abreu, Frost Protection, vol. 1, FAO, 2005, p. 168: the
       procedure of starting and stopping by air temperature and dew point.

    Examples
    --------
    >>> float(start_air_c(0.0, -4.0, 1013.25).round(1))
    2.3
    """
    wet = np.asarray(wet_bulb_c, dtype=np.float64)
    lacking = vapour_pressure_hpa(wet) - vapour_pressure_hpa(dewpoint_c)
    slope = PSYCHROMETER_WATER_PER_C * np.asarray(pressure_hpa, dtype=np.float64)
    return np.asarray(wet + np.maximum(lacking, 0.0) / slope, dtype=np.float64)
