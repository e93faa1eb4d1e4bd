"""The wind that may forbid a method: in the hours that it is needed, at its height."""

from datetime import datetime, timedelta
from typing import assert_never

import numpy as np

from frostalert.model.forecast import BoolArray, FloatArray
from frostalert.model.method import Method, WindAt
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.dry_start import no_warmer_wet_bulb_c

BURN_OUT = timedelta(minutes=30)
"""What heat takes to burn out, so that no spark flies in the wind that comes. Common
practice, no source."""


def wind_mps(case: BlockAtRisk, method: Method, running: BoolArray) -> FloatArray:
    """Return the wind that a method is judged by, in the hours that it runs. [m/s]"""
    # As forecast, not reduced for hidden calms.
    where = method.wind_at
    match where:
        case WindAt.PLANTS:
            return case.hours.wind_2m_mps[running]
        case WindAt.FORECAST:
            return case.hours.wind_10m_mps[running]
        case _:
            assert_never(where)


def needed_hours(case: BlockAtRisk, method: Method, end_utc: datetime) -> BoolArray:
    """Return the hours ahead in which a method is needed; the coldest one at least.

    Water while the wet bulb is below freezing, to its stop; all else while buds are
    under their limit, and not after sunrise: calm until sunrise is calm. A freeze that
    begins by day has no such morning.
    """
    ahead = case.ahead(end_utc)
    hours = case.hours
    if method.wets_buds:
        needed = ahead & ~(no_warmer_wet_bulb_c(case) > 0.0)
    else:
        cold = ahead & ~(hours.dry_c > case.threshold.alarm_c)
        by_night = cold & _before_sunrise(case)
        needed = by_night if by_night.any() else cold
    if not needed.any():
        needed = np.zeros_like(ahead)
        needed[_coldest(np.where(ahead, hours.air_c, np.nan))] = True
    return needed


def _before_sunrise(case: BlockAtRisk) -> BoolArray:
    """Return which hours begin before the sun rises."""
    count = case.hours.air_c.size
    if case.sunrise_utc is None:
        return np.ones(count, dtype=np.bool_)
    moments = [case.hours.moment(place) for place in range(count)]
    return np.array([moment < case.sunrise_utc for moment in moments])


def _coldest(air_c: FloatArray) -> int:
    """Return the coldest hour; the first where none is known."""
    return int(np.nanargmin(air_c)) if np.isfinite(air_c).any() else 0


def hour_now(case: BlockAtRisk) -> BoolArray:
    """Return the hour that the present moment lies in."""
    count = case.hours.air_c.size
    place = (case.now_utc - case.hours.first_utc).total_seconds() // 3600.0
    inside = np.zeros(count, dtype=np.bool_)
    inside[int(min(max(place, 0), count - 1))] = True
    return inside


def calm_until_utc(
    case: BlockAtRisk, method: Method, since_utc: datetime
) -> datetime | None:
    """Return the first hour from a moment on whose wind forbids a method, if any."""
    every = np.ones(case.hours.air_c.size, dtype=np.bool_)
    wind = wind_mps(case, method, every)
    limit = method.most_wind_mps
    for place in np.flatnonzero(wind > (np.inf if limit is None else limit)):
        if case.hours.moment(int(place)) > since_utc:
            return case.hours.moment(int(place))
    return None
