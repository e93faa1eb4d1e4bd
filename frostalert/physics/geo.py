"""Distances on the earth."""

import math
from functools import lru_cache

_EARTH_KM = 6371.0


@lru_cache(maxsize=64)
def distance_km(here: tuple[float, float], there: tuple[float, float]) -> float:
    """Return the distance of two places along a great circle.

    Parameters
    ----------
    here, there : tuple of float
        Latitude and longitude. [deg]

    Returns
    -------
    float
        Distance. [km]

    References
    ----------
    .. [1] Haversine formula on a sphere of 6371 km.

    Examples
    --------
    >>> round(distance_km((46.0, -119.0), (47.0, -119.0)))
    111
    """
    (lat1, lon1), (lat2, lon2) = (
        (math.radians(lat), math.radians(lon)) for lat, lon in (here, there)
    )
    half = (
        math.sin((lat2 - lat1) / 2) ** 2
        + math.cos(lat1) * math.cos(lat2) * math.sin((lon2 - lon1) / 2) ** 2
    )
    return 2 * _EARTH_KM * math.asin(math.sqrt(min(1.0, half)))
