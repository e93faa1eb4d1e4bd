"""Nights in local time, and the sun that bounds them.

A night is named by the date of its evening and runs from local noon to local noon, so
that no freeze is cut in two at midnight and both clock changes fall inside one night.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
from astral import Observer
from astral.sun import sunrise, sunset

from frostalert.model.forecast import HOUR, FloatArray
from frostalert.model.hours import NightWindow

NOON = time(12, 0)
COOLS_BEFORE = timedelta(hours=1)
"""How long before sunset surfaces begin to lose more heat than they gain; as long after
it the loss is full. Common practice, no source: net radiation turns negative about an
hour before sunset (FAO, Frost Protection, vol. 1, ch. 2, from memory)."""
_DAY = timedelta(days=1)


def night_of(moment_utc: datetime, zone: ZoneInfo) -> date:
    """Return the night that a moment belongs to.

    Parameters
    ----------
    moment_utc : datetime
        Aware moment.
    zone : ZoneInfo
        The site's time zone.

    Returns
    -------
    date
        Date of the evening. A morning belongs to the evening before.

    Examples
    --------
    >>> night_of(datetime(2026, 4, 13, 13, 30, tzinfo=UTC), ZoneInfo("America/Denver"))
    datetime.date(2026, 4, 12)
    """
    local = moment_utc.astimezone(zone)
    return local.date() if local.time() >= NOON else local.date() - timedelta(days=1)


@lru_cache(maxsize=256)
def night_window(night: date, zone: ZoneInfo) -> NightWindow:
    """Return the hours of a night, right across both clock changes.

    Parameters
    ----------
    night : date
        Date of the evening.
    zone : ZoneInfo
        The site's time zone.

    Returns
    -------
    NightWindow
        23, 24 or 25 hours long.

    Examples
    --------
    >>> window = night_window(date(2026, 3, 7), ZoneInfo("America/New_York"))
    >>> (window.end_utc - window.start_utc).total_seconds() / 3600
    23.0
    """
    start = datetime.combine(night, NOON, tzinfo=zone).astimezone(UTC)
    end = datetime.combine(night + timedelta(days=1), NOON, tzinfo=zone)
    return NightWindow(night, start, end.astimezone(UTC))


@lru_cache(maxsize=4096)
def night_sun(
    window: NightWindow, latitude: float, longitude: float
) -> tuple[datetime | None, datetime | None]:
    """Return sunset and sunrise of a night.

    Parameters
    ----------
    window : NightWindow
        The night.
    latitude, longitude : float
        Position. [deg]

    Returns
    -------
    tuple of datetime or None
        Sunset and sunrise in UTC, each None where the sun does not cross the horizon
        that night, as near the poles.

    Notes
    -----
    The library gives one event for each UTC date. Where events move across midnight UTC
    two fall on one date, and it never gives the other: Denver has no sunset on 29
    October 2026, Shimla no sunrise on 9 May. The nights before and after then give it;
    between them an event moves by a few minutes at most.

    References
    ----------
    .. [1] NOAA Global Monitoring Laboratory, solar calculation details (through
       astral).
    """
    observer = Observer(latitude=latitude, longitude=longitude)
    return (
        _crossing(window, observer, sunset),
        _crossing(window, observer, sunrise),
    )


def _crossing(
    window: NightWindow, observer: Observer, event: Callable[..., datetime]
) -> datetime | None:
    """Return the moment of a sun event in the night, or the mean of its neighbours'."""
    own = _within(window.start_utc, window.end_utc, observer, event)
    if own is not None:
        return own
    before = _within(window.start_utc - _DAY, window.end_utc - _DAY, observer, event)
    after = _within(window.start_utc + _DAY, window.end_utc + _DAY, observer, event)
    if before is None or after is None:
        return None
    return before + (after - before) / 2


def _within(
    start_utc: datetime,
    end_utc: datetime,
    observer: Observer,
    event: Callable[..., datetime],
) -> datetime | None:
    """Return the moment of a sun event between two moments.

    The library names an event by a UTC date, which need not be the local one: the date
    of the middle is tried first, then those beside it.
    """
    middle = start_utc + (end_utc - start_utc) / 2
    for offset in (0, 1, -1):
        try:
            moment = event(observer, date=middle.date() + timedelta(days=offset))
        except ValueError:
            continue
        if start_utc <= moment < end_utc:
            return moment.astimezone(UTC)
    return None


# The sources of a site share their nights, and most of them their grid.
@lru_cache(maxsize=256)
def darkness(
    first_utc: datetime,
    hours: int,
    sunset_utc: datetime | None,
    sunrise_utc: datetime | None,
) -> FloatArray:
    """Return how far each hour counts as night, from 0 by day to 1.

    Surfaces begin to cool while the sun is still low, and cold air needs time to gather
    and to be stirred up: the value rises and falls over some hours, without a step.

    Parameters
    ----------
    first_utc : datetime
        The first hour.
    hours : int
        How many hours. [1]
    sunset_utc, sunrise_utc : datetime or None
        The night's sunset and sunrise. Where one is not known, the hours on its side
        count as night: unknown is not mild.

    Returns
    -------
    ndarray of float
        Shape (hours,), 0 to 1: rises from an hour before sunset to an hour after, and
        falls over the hour after sunrise.

    References
    ----------
    .. [1] The lengths of the ramps are common practice, no source.
    """
    dark = np.ones(hours)
    hour = np.arange(hours, dtype=np.float64)
    if sunset_utc is not None:
        begins = (sunset_utc - COOLS_BEFORE - first_utc) / HOUR
        evening = (hour - begins) / (2.0 * (COOLS_BEFORE / HOUR))
        dark = np.minimum(dark, evening)
    if sunrise_utc is not None:
        morning = (sunrise_utc - first_utc) / HOUR + 1.0 - hour
        dark = np.minimum(dark, morning)
    found = np.maximum(dark, 0.0)
    found.setflags(write=False)
    return found


def last_night_over(
    moment_utc: datetime, zone: ZoneInfo, place: tuple[float, float]
) -> date:
    """Return the last night whose sun has risen.

    Parameters
    ----------
    moment_utc : datetime
        Aware moment.
    zone : ZoneInfo
        The site's time zone.
    place : tuple of float
        Latitude and longitude. [deg]

    Returns
    -------
    date
        Date of its evening. Where the sun does not rise the night ends at noon.

    Examples
    --------
    >>> morning = datetime(2026, 4, 13, 17, 40, tzinfo=UTC)
    >>> last_night_over(morning, ZoneInfo("America/Los_Angeles"), (47.7, -117.4))
    datetime.date(2026, 4, 12)
    """
    present = night_of(moment_utc, zone)
    window = night_window(present, zone)
    sunrise = night_sun(window, *place)[1] or window.end_utc
    return present if moment_utc >= sunrise else present - timedelta(days=1)
