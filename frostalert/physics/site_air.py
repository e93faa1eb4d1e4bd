"""From the grid cell's air to the air among one block's plants, term by term."""

import numpy as np

from frostalert.model.forecast import FloatArray

LAPSE_C_PER_M = -0.0065
"""Temperature change with height in mixed air. [degC/m] ICAO Standard Atmosphere."""
GROUND_HEIGHT_M = 0.5
"""Plants no taller than this are ground crops. [m] Common practice, no source."""
GROUND_DELTA_C = -2.0
"""Air among ground crops against air at head height, clear and calm. [degC] Common
practice, no source; a Vermont comparison of 3 inches with 5 feet averaged 4 degF
(Fairbanks Museum, 12 May 2024)."""
QUESTIONED_DELTA_C = 4.0
"""A total correction beyond this is shown as doubtful. [degC] Common practice,
no source."""


def lapse_delta_c(
    site_elevation_m: float, grid_elevation_m: float | None, weight: FloatArray
) -> FloatArray:
    """Return the correction for the height of the site above its grid cell.

    Only mixed air follows a lapse rate; on clear calm nights the cold-spot offset
    speaks instead, so the two are never counted together in full.

    Parameters
    ----------
    site_elevation_m : float
        Height of the site. [m]
    grid_elevation_m : float or None
        Mean height of the cell. [m] None gives no correction.
    weight : ndarray of float
        Clear-and-calm weight, 0 to 1. Shape (hours,).

    Returns
    -------
    ndarray of float
        Difference to add. [degC] Shape (hours,).

    References
    ----------
    .. [1] ICAO Standard Atmosphere, 6.5 degC per km.
    """
    if grid_elevation_m is None:
        return np.zeros_like(weight)
    return LAPSE_C_PER_M * (site_elevation_m - grid_elevation_m) * (1.0 - weight)


def ground_delta_c(height_m: float, *, is_measured_at_height: bool) -> float:
    """Return the allowance for plants that grow near the ground, clear and calm.

    Parameters
    ----------
    height_m : float
        Height of the flowering part. [m]
    is_measured_at_height : bool
        Whether the block's offset was measured there, which already holds it.

    Returns
    -------
    float
        Difference at full weight. [degC] Zero or negative.

    References
    ----------
    .. [1] Fairbanks Museum, 12 May 2024: 3 inches averaged 4 degF below 5 feet.
    """
    if is_measured_at_height or height_m > GROUND_HEIGHT_M:
        return 0.0
    return GROUND_DELTA_C


def shifted_dewpoint_c(dewpoint_c: FloatArray, air_c: FloatArray) -> FloatArray:
    """Return the dew point after the air was corrected.

    Cooled air cannot keep more vapour than it holds; warming adds none.

    Parameters
    ----------
    dewpoint_c : ndarray of float
        Dew point before. [degC] Broadcasts against `air_c`.
    air_c : ndarray of float
        Air after the correction. [degC]

    Returns
    -------
    ndarray of float
        Dew point, never above the air. [degC] NaN passes through.
    """
    return np.minimum(dewpoint_c, air_c)
