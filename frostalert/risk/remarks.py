"""What a reader must know about a forecast before believing the numbers."""

from datetime import datetime, timedelta

from frostalert.model.forecast import ForecastRun
from frostalert.model.site import Site
from frostalert.physics.geo import distance_km

FARTHEST_KM = 10.0
"""A grid cell whose middle is farther off than this is not the site's. [km]"""
MOST_HEIGHT_M = 300.0
"""A site this much above or below its cell is doubtful. [m] Common practice,
no source."""
_SLACK = timedelta(minutes=10)


def forecast_remarks(site: Site, run: ForecastRun, now_utc: datetime) -> list[str]:
    """Return what is odd about a forecast for a site at a moment.

    References
    ----------
    .. [1] The limits are common practice, no source.
    """
    remarks = []
    if run.latitude is not None and run.longitude is not None:
        here = (site.latitude, site.longitude)
        distance = distance_km(here, (run.latitude, run.longitude))
        if distance > FARTHEST_KM:
            remarks.append(
                f"this forecast is for a place {distance:.0f} km from {site.name}"
            )
    if run.updated_utc > now_utc + _SLACK:
        remarks.append("this forecast was made after the moment that it is judged at")
    if run.hours.end_utc <= now_utc:
        remarks.append("this forecast ends before the moment that it is judged at")
    return remarks


def is_for_site(site: Site, run: ForecastRun) -> bool:
    """Return whether a forecast can be for a site; an unnamed place counts as one.

    References
    ----------
    .. [1] The limit is common practice, no source.
    """
    if run.latitude is None or run.longitude is None:
        return True
    here = (site.latitude, site.longitude)
    return distance_km(here, (run.latitude, run.longitude)) <= FARTHEST_KM


def height_remarks(site: Site, run: ForecastRun) -> tuple[str, ...]:
    """Return that a cell lies much higher or lower than a site, if it does.

    References
    ----------
    .. [1] The limit is common practice, no source.
    """
    if run.elevation_m is None:
        return ()
    height = site.elevation_m - run.elevation_m
    if abs(height) <= MOST_HEIGHT_M:
        return ()
    side = "above" if height > 0 else "below"
    return (f"the site lies {abs(height):.0f} m {side} its grid cell",)
