"""The low of each night, from what a thermometer, a station or a model has of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.model.forecast import HOUR, FloatArray, ForecastRun
from frostalert.model.site import Site
from frostalert.physics.nights import night_of, night_sun, night_window
from frostalert.risk.learning import low_of

Lows = dict[date, float]

_SPARSE = timedelta(hours=6)
_BEFORE_DAWN = timedelta(hours=4)
_LEAST_LATE = 4
_LEAST_DAYS = 30
_CLEARLY = 0.85
_SLACK_C = 0.5
_DAY = timedelta(days=1)


def lows_of_readings(
    readings: Sequence[tuple[datetime, float]],
    mornings: Mapping[date, float],
    site: Site,
) -> Lows:
    """Return the lows of nights from a thermometer's file.

    Parameters
    ----------
    readings : sequence of (datetime, float)
        Moments and air. [degC]
    mornings : mapping of date to float
        Minimums that have a date and no hour: read in that day's morning. [degC]
    site : Site
        The place.

    Returns
    -------
    dict of date to float
        By the evening's date. [degC] A thermometer that was read every few hours counts
        on nights whose last hours before dawn it covers, and there its second lowest; a
        file of lows alone counts on nights for which a low came after midnight.
    """
    zone = ZoneInfo(site.time_zone)
    nights: dict[date, list[tuple[datetime, float]]] = {}
    for moment, air_c in sorted(readings):
        nights.setdefault(night_of(moment, zone), []).append((moment, air_c))
    is_sparse = _is_sparse(sorted(moment for moment, _ in readings))
    found = {day - _DAY: low for day, low in mornings.items()}
    for night, own in nights.items():
        low = _of_lows(night, own, zone) if is_sparse else _of_course(night, own, site)
        if low is not None:
            found[night] = low
    return found


def _is_sparse(moments: Sequence[datetime]) -> bool:
    """Return whether a file holds lows, not a course of readings."""
    steps = [b - a for a, b in pairwise(moments)]
    return not steps or sorted(steps)[len(steps) // 2] > _SPARSE


def _of_lows(
    night: date, own: list[tuple[datetime, float]], zone: ZoneInfo
) -> float | None:
    """Return the low of a night of which lows were noted with their hours."""
    midnight = datetime.combine(night + _DAY, time(0), tzinfo=zone).astimezone(UTC)
    # A low of the evening says nothing of the morning's.
    if not any(moment >= midnight for moment, _ in own):
        return None
    return min(value for _, value in own)


def _of_course(
    night: date, own: list[tuple[datetime, float]], site: Site
) -> float | None:
    """Return the low of a night that was read through."""
    window = night_window(night, ZoneInfo(site.time_zone))
    dusk, dawn = night_sun(window, site.latitude, site.longitude)
    if dusk is None or dawn is None:
        return None
    dark = [item for item in own if dusk <= item[0] <= dawn + HOUR]
    late = [moment for moment, _ in dark if moment >= dawn - _BEFORE_DAWN]
    if len(late) < _LEAST_LATE:
        return None
    return low_of([value for _, value in dark])


def lows_of_hours(run: ForecastRun, site: Site, nights: Sequence[date]) -> Lows:
    """Return the lows of nights by hours without a gap.

    Parameters
    ----------
    run : ForecastRun
        The hours.
    site : Site
        The place.
    nights : sequence of date
        The nights.

    Returns
    -------
    dict of date to float
        Between sunset and an hour past sunrise. [degC]
    """
    zone = ZoneInfo(site.time_zone)
    found = {}
    for night in nights:
        window = night_window(night, zone)
        dusk, dawn = night_sun(window, site.latitude, site.longitude)
        air = _between(run, dusk or window.start_utc, (dawn or window.end_utc) + HOUR)
        if air.size and np.isfinite(air).all():
            found[night] = float(air.min())
    return found


@dataclass(frozen=True, slots=True)
class DayEnd:
    """When a station's day ends: the hours that its daily minimum is of.

    Attributes
    ----------
    begins_h, ends_h : int
        Hours from the local midnight with which its date begins.
    """

    words: str
    begins_h: int
    ends_h: int


MIDNIGHT = DayEnd("at midnight", 0, 24)
DAY_ENDS = (
    MIDNIGHT,
    DayEnd("at 7 in the morning of its date", -17, 7),
    DayEnd("at 5 in the afternoon of its date", -7, 17),
    DayEnd("in the morning after its date", 7, 31),
)
"""How stations date a minimum. Common practice of observers, no source."""


def day_end(
    minimums: Mapping[date, float], latest: Sequence[ForecastRun], zone: ZoneInfo
) -> DayEnd:
    """Return when a station's day ends, by the hours at the site.

    Parameters
    ----------
    minimums : mapping of date to float
        A station's daily minimums, by its own dates. [degC]
    latest : sequence of ForecastRun
        Hours at the site, as they were forecast last.
    zone : ZoneInfo
        Local time.

    Returns
    -------
    DayEnd
        Midnight, unless another end fits the minimums clearly better.

    References
    ----------
    .. [1] The share by which it must fit better is common practice, no source.
    """
    misfit = {end: _misfit_c(minimums, latest, zone, end) for end in DAY_ENDS}
    best = min(DAY_ENDS, key=lambda end: misfit[end])
    is_clear = misfit[best] < _CLEARLY * misfit[MIDNIGHT]
    return best if is_clear and np.isfinite(misfit[MIDNIGHT]) else MIDNIGHT


def lows_of_station(
    minimums: Mapping[date, float],
    latest: Sequence[ForecastRun],
    zone: ZoneInfo,
    end: DayEnd,
) -> tuple[Lows, int]:
    """Return the lows of nights from a station's daily minimums.

    Parameters
    ----------
    minimums : mapping of date to float
        By the station's own dates. [degC]
    latest : sequence of ForecastRun
        Hours at the site, which tell when a day was coldest.
    zone : ZoneInfo
        Local time.
    end : DayEnd
        When its day ends.

    Returns
    -------
    tuple of (dict of date to float, int)
        By the evening's date [degC], and how many minimums were left out because their
        day was coldest at another time than in that night.
    """
    found: Lows = {}
    left_out = 0
    for day, value in minimums.items():
        night = day if end.begins_h > 0 else day - _DAY
        if _is_of_night(day, night, latest, zone, end):
            found[night] = value
        else:
            left_out += 1
    return found, left_out


def misfit_c(
    lows: Mapping[date, float], forecast: Mapping[date, float]
) -> tuple[float, int]:
    """Return how far lows and forecast lows go apart from night to night.

    Parameters
    ----------
    lows, forecast : mapping of date to float
        By the evening's date. [degC]

    Returns
    -------
    tuple of (float, int)
        Standard deviation of their difference [degC], and nights compared. Whether one
        is the warmer throughout is no matter.
    """
    both = [lows[night] - forecast[night] for night in lows if night in forecast]
    return (float(np.std(both)) if both else float("nan")), len(both)


def _misfit_c(
    minimums: Mapping[date, float],
    latest: Sequence[ForecastRun],
    zone: ZoneInfo,
    end: DayEnd,
) -> float:
    """Return how far minimums and the hours' lows go apart by one end of the day."""
    differences = [
        value - float(air.min())
        for day, value in minimums.items()
        if (air := _of_day(latest, day, zone, end)).size and np.isfinite(air).all()
    ]
    return (
        float(np.std(differences)) if len(differences) >= _LEAST_DAYS else float("inf")
    )


def _is_of_night(
    day: date,
    night: date,
    latest: Sequence[ForecastRun],
    zone: ZoneInfo,
    end: DayEnd,
) -> bool:
    """Return whether a station's day was coldest in the night that it ends."""
    air = _of_day(latest, day, zone, end)
    if not air.size or not np.isfinite(air).all():
        return True
    begin = _moment(day, zone, end.begins_h)
    window = night_window(night, zone)
    first = max(0, (window.start_utc - begin) // HOUR)
    last = max(0, (window.end_utc - begin) // HOUR)
    own = air[first:last]
    return bool(own.size) and float(own.min()) <= float(air.min()) + _SLACK_C


def _of_day(
    latest: Sequence[ForecastRun], day: date, zone: ZoneInfo, end: DayEnd
) -> FloatArray:
    """Return the hours of a station's day, none where they are not known."""
    begin, finish = (_moment(day, zone, n) for n in (end.begins_h, end.ends_h))
    for run in latest:
        if run.hours.first_utc <= begin and finish <= run.hours.end_utc:
            return _between(run, begin, finish)
    return np.empty(0)


def _moment(day: date, zone: ZoneInfo, hours: int) -> datetime:
    """Return a moment so many hours after a local midnight."""
    midnight = datetime.combine(day, time(0), tzinfo=zone).astimezone(UTC)
    return midnight + hours * HOUR


def _between(run: ForecastRun, begin: datetime, finish: datetime) -> FloatArray:
    """Return a run's air between two moments; too short where it does not reach."""
    first = -((run.hours.first_utc - begin) // HOUR)
    last = (finish - run.hours.first_utc) // HOUR + 1
    if first < 0 or last > run.hours.count:
        return np.empty(0)
    return run.hours.air_c[first:last]
