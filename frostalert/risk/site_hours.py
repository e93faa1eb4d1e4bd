"""Everything about the hours that all blocks of a site share, worked out once."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from math import isnan
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.model.assessment import LowFrom, NightSigns
from frostalert.model.forecast import (
    HOUR,
    FloatArray,
    ForecastRun,
    Hours,
    Period,
    sealed,
)
from frostalert.model.hours import NightWindow, SiteHours, SiteNight
from frostalert.model.site import Site
from frostalert.physics.humidity import (
    vapour_pressure_hpa,
    wet_bulb_c,
)
from frostalert.physics.low import NightShape, fit_to_minimum, trough_of
from frostalert.physics.night_type import night_kind
from frostalert.physics.nights import (
    COOLS_BEFORE,
    darkness,
    night_of,
    night_sun,
    night_window,
)
from frostalert.physics.pressure import standard_pressure_hpa
from frostalert.physics.sky import bud_wind_mps, calm_weight, open_sky, wind_at_2m_mps
from frostalert.physics.wetness import (
    drying_mm_per_h,
    rain_wet_probability,
    snow_chance,
    wet_weather_chance,
)
from frostalert.risk.coverage import JUDGED_WITHIN

_WINDY_WEIGHT = 0.25
_HALF = 0.5
_MOST_NIGHTS = 20


def prepare_site_hours(run: ForecastRun, site: Site, now_utc: datetime) -> SiteHours:
    """Return what all blocks of a site share.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.
    """
    first = night_of(now_utc, ZoneInfo(site.time_zone))
    # On the grid of hours a moment counts as the hour that it lies in.
    hour_utc = run.hours.first_utc + (now_utc - run.hours.first_utc) // HOUR * HOUR
    return _site_hours(run, site, first, hour_utc)


# A few sources, for the look at the coming nights, and for those that look back: three
# nights, each by its forecasts of three days. Many looks are within the hour of the
# last, at a forecast that has not changed.
@lru_cache(maxsize=64)
def _site_hours(
    run: ForecastRun, site: Site, first: date, now_utc: datetime
) -> SiteHours:
    """Return what all blocks share, the same for the same."""
    return sealed(_from_first_night(run, site, first, now_utc))


def _from_first_night(
    run: ForecastRun, site: Site, first: date, now_utc: datetime
) -> SiteHours:
    """Return what all blocks share, from the first night that is looked at on."""
    windows = _windows(run.hours, ZoneInfo(site.time_zone), first, now_utc)
    weather = _weather(run, site, tuple(windows))
    air, dew = run.hours.air_c.copy(), run.hours.dewpoint_c.copy()
    nights = []
    for window, (sunset, sunrise) in zip(windows, weather.suns, strict=True):
        span = _span(run.hours, window, sunset, now_utc)
        signs = _signs(run.hours, span, weather)
        minimum = _night_minimum(run.night_minimums, window, now_utc)
        bent_low, low_from = _bend(run, span, minimum, signs, weather.dark, (air, dew))
        kind, reason = night_kind(signs) if signs else (None, "no hours known")
        nights.append(
            SiteNight(
                window=window,
                sunset_utc=sunset,
                sunrise_utc=sunrise,
                hours=span.hours,
                own_hours=span.own,
                coming=span.coming,
                judged=span.judged,
                source_low_c=bent_low,
                low_from=low_from,
                minimum_c=None if minimum is None else minimum.value,
                past_low_c=_past_low_c(run, span, now_utc),
                low_c=bent_low,
                kind=kind,
                kind_reason=reason,
                signs=signs,
            )
        )
    return SiteHours(
        run=run,
        air_c=air,
        dewpoint_c=dew,
        bud_wind_mps=weather.bud_wind_mps,
        dark=weather.dark,
        sky=weather.sky * weather.dark,
        weight=weather.calm * weather.sky * weather.dark,
        wet_weather=weather.rain,
        pressure_hpa=float(standard_pressure_hpa(site.elevation_m)),
        nights=tuple(nights),
    )


@dataclass(frozen=True, slots=True)
class _Weather:
    """What a forecast says of its hours, whichever of them has come.

    Attributes
    ----------
    suns : tuple
        Sunset and sunrise of each night.
    dark, calm, sky, rain : ndarray
        How far each hour is dark, calm and open to the sky, and its chance of rain or
        snow, 0 to 1.
    snow : ndarray
        Its chance of snow, 0 to 1.
    """

    suns: tuple[tuple[datetime | None, datetime | None], ...]
    dark: FloatArray
    calm: FloatArray
    sky: FloatArray
    rain: FloatArray
    snow: FloatArray
    bud_wind_mps: FloatArray


# As many as `_site_hours` keeps, less those that an hour alone tells apart.
@lru_cache(maxsize=32)
def _weather(
    run: ForecastRun, site: Site, windows: tuple[NightWindow, ...]
) -> _Weather:
    """Return what holds of a forecast's hours as they go by."""
    hours = run.hours
    rain = wet_weather_chance(hours.precipitation_probability_pct, hours.is_wet_weather)
    suns = tuple(night_sun(w, site.latitude, site.longitude) for w in windows)
    return sealed(
        _Weather(
            suns=suns,
            dark=_darkness(hours, windows, suns),
            calm=calm_weight(hours.wind_mps, hides_calm=run.hides_calm),
            sky=open_sky(hours.cloud_pct, hours.shutting_cloud_pct),
            rain=rain,
            snow=_snow(hours, rain, float(standard_pressure_hpa(site.elevation_m))),
            bud_wind_mps=bud_wind_mps(hours.wind_mps, hides_calm=run.hides_calm),
        )
    )


def with_air(
    shared: SiteHours, air_c: FloatArray, lows_c: Sequence[float | None]
) -> SiteHours:
    """Return a site's hours with its air corrected.

    Parameters
    ----------
    shared : SiteHours
        The hours as they were.
    air_c : ndarray of float
        The corrected air. [degC] Shape (hours,).
    lows_c : sequence of float or None
        What each night's low comes to by the same correction, where no hour shows it.
        [degC]

    Returns
    -------
    SiteHours
        With dew points lowered to the air where it falls below them, and each night's
        low the lower of its hours' to come and the given one. What the source's own
        hours say of the kind of night stays.

    References
    ----------
    .. [1] The vapour pressure of air that is warmed stays; of air that is cooled below
       its dew point the rest falls as dew.
    """
    # Missing humidity stays missing.
    dew = np.minimum(shared.dewpoint_c, air_c)
    dew = np.where(np.isfinite(air_c), dew, shared.dewpoint_c)
    nights = tuple(
        replace(night, low_c=_lower(air_c[_own_coming(night)], low))
        for night, low in zip(shared.nights, lows_c, strict=True)
    )
    return replace(
        shared,
        air_c=air_c,
        dewpoint_c=dew,
        nights=nights,
    )


def _own_coming(night: SiteNight) -> slice:
    """Return a night's hours to come without its closing noon."""
    return slice(night.coming.start, night.own_hours.stop)


def _lower(air_c: FloatArray, low_c: float | None) -> float | None:
    """Return the lower of some hours and a low; None where neither is known."""
    lowest = float(np.fmin.reduce(air_c, initial=np.nan))
    if isnan(lowest):
        return low_c
    return lowest if low_c is None else min(lowest, low_c)


def rain_wet(several: Sequence[SiteHours]) -> FloatArray:
    """Return the chance that buds are wet from rain or snow, 0 to 1.

    Of the hours of one site, laid end to end: what a source leaves wet at its end does
    not wet the next one's begin. Shape (hours,).
    """
    counts = tuple(shared.air_c.size for shared in several)
    columns = (
        [shared.air_c for shared in several],
        [shared.dewpoint_c for shared in several],
        [shared.run.hours.wind_mps for shared in several],
        [shared.wet_weather for shared in several],
    )
    laid = (np.concatenate(column).tobytes() for column in columns)
    return _rain_wet(*laid, several[0].pressure_hpa, counts)


# By content: as an hour goes by, most hours stay as they were.
@lru_cache(maxsize=32)
def _rain_wet(
    air_c: bytes,
    dewpoint_c: bytes,
    wind_mps: bytes,
    wet: bytes,
    pressure_hpa: float,
    counts: tuple[int, ...],
) -> FloatArray:
    """Return the chance that buds are wet, the same for the same hours."""
    air, dew, wind, wet_weather = map(np.frombuffer, (air_c, dewpoint_c, wind_mps, wet))
    if not wet_weather.any():
        # On most nights of frost: nothing falls, so nothing has to dry.
        return wet_weather
    drying = _drying(air, dew, wind_at_2m_mps(wind), pressure_hpa)
    ends = np.cumsum(counts)
    chance = np.concatenate(
        [
            rain_wet_probability(wet_weather[begin:end], drying[begin:end])
            for begin, end in zip(ends - counts, ends, strict=True)
        ]
    )
    chance.setflags(write=False)
    return chance


def _windows(
    hours: Hours, zone: ZoneInfo, first: date, now_utc: datetime
) -> list[NightWindow]:
    """Return the nights from one to the end of the forecast, all at hand at the least.

    One that the forecast does not reach must be told as such.
    """
    end = night_of(hours.end_utc - timedelta(microseconds=1), zone)
    at_hand = night_of(now_utc + JUDGED_WITHIN, zone)
    last = max(end, first + timedelta(days=1), at_hand)
    count = min((last - first).days + 1, _MOST_NIGHTS)
    return [night_window(first + timedelta(days=n), zone) for n in range(count)]


@dataclass(frozen=True, slots=True)
class _Span:
    """One night on the grid, cut in the ways that it is looked at."""

    window: NightWindow
    hours: slice
    own: slice
    coming: slice
    judged: slice


def _span(
    hours: Hours, window: NightWindow, sunset: datetime | None, now_utc: datetime
) -> _Span:
    """Return a night's hours: all, its own, those to come, those it is judged by."""
    part = _slice(hours, window)

    def from_moment(moment_utc: datetime) -> slice:
        place = (moment_utc - hours.first_utc) // HOUR
        return slice(min(max(part.start, place), part.stop), part.stop)

    # A cold noon that has gone by says nothing of the night; a cold evening does.
    cools = window.start_utc if sunset is None else sunset - COOLS_BEFORE
    return _Span(
        window=window,
        hours=part,
        own=_own_hours(hours, window, part),
        coming=from_moment(now_utc),
        judged=from_moment(max(window.start_utc, min(now_utc, cools))),
    )


def _slice(hours: Hours, window: NightWindow) -> slice:
    """Return the grid hours of a night, its closing noon included."""
    start = -((hours.first_utc - window.start_utc) // HOUR)
    last = (window.end_utc - hours.first_utc) // HOUR
    return slice(max(0, start), max(0, min(hours.count, last + 1)))


def _own_hours(hours: Hours, window: NightWindow, part: slice) -> slice:
    """Return a night's hours without its closing noon, which is the next night's."""
    end = -((hours.first_utc - window.end_utc) // HOUR)
    return slice(part.start, max(part.start, min(part.stop, end)))


def _darkness(
    hours: Hours,
    windows: Sequence[NightWindow],
    suns: Sequence[tuple[datetime | None, datetime | None]],
) -> FloatArray:
    """Return how far each hour counts as night."""
    dark = np.zeros(hours.count)
    for window, (sunset, sunrise) in zip(windows, suns, strict=True):
        part = _slice(hours, window)
        if part.stop > part.start:
            first = hours.first_utc + part.start * HOUR
            dark[part] = darkness(first, part.stop - part.start, sunset, sunrise)
    return dark


def _bend(
    run: ForecastRun,
    span: _Span,
    minimum: Period | None,
    signs: NightSigns | None,
    dark: FloatArray,
    curves: tuple[FloatArray, FloatArray],
) -> tuple[float | None, LowFrom | None]:
    """Bend a night's air and dew point in place; return its low and whence that is."""
    air, dew = curves
    own, window = span.own, span.window
    ahead = span.coming.start - own.start
    if signs is None or not np.isfinite(air[own][ahead:]).any():
        # Not an hour is known, but the source may still give the night's minimum.
        return (
            (None, None) if minimum is None else (minimum.value, LowFrom.NIGHT_MINIMUM)
        )
    first = run.hours.first_utc
    within = slice(0, own.stop - own.start)
    if minimum is not None:
        start = (minimum.start_utc - first) // HOUR - own.start
        end = -((first - minimum.end_utc) // HOUR) - own.start
        within = slice(max(0, start), max(0, end))
    shape = NightShape(
        within=within,
        night=dark[own],
        is_windy=is_windy(signs),
        first_ahead=ahead,
        open_ends=(first > window.start_utc, run.hours.end_utc < window.end_utc),
    )
    bent = fit_to_minimum(
        air[own], dew[own], None if minimum is None else minimum.value, shape
    )
    air[own], dew[own] = bent.air_c, bent.dewpoint_c
    return bent.low_c, bent.low_from


def is_windy(signs: NightSigns) -> bool:
    """Return whether a night's air is mixed, so that all of it cools alike.

    References
    ----------
    .. [1] Common practice, no source.
    """
    return signs.calm <= _WINDY_WEIGHT


def _night_minimum(
    minimums: tuple[Period, ...], window: NightWindow, now_utc: datetime
) -> Period | None:
    """Return the colder of the minimums mostly in the night that have not ended."""
    ends_after = max(now_utc, window.start_utc)
    inside = [
        period
        for period in minimums
        if period.end_utc > ends_after
        and period.start_utc < window.end_utc
        and _is_mostly_in(period, window)
    ]
    return min(inside, key=lambda period: period.value, default=None)


def _past_low_c(run: ForecastRun, span: _Span, now_utc: datetime) -> float | None:
    """Return the source's low since it began to cool, of hours gone by. [degC]"""
    ended = [
        period.value
        for period in run.night_minimums
        if period.end_utc <= now_utc and _is_mostly_in(period, span.window)
    ]
    past = run.hours.air_c[span.judged.start : span.coming.start]
    return _lower(past, min(ended, default=None))


def _is_mostly_in(period: Period, window: NightWindow) -> bool:
    """Return whether more than half of a period lies in a night."""
    return _overlap(period, window) > _HALF * (period.end_utc - period.start_utc)


def _overlap(period: Period, window: NightWindow) -> timedelta:
    """Return how much of a period lies in a night."""
    start = max(period.start_utc, window.start_utc)
    return max(timedelta(0), min(period.end_utc, window.end_utc) - start)


def _signs(hours: Hours, span: _Span, weather: _Weather) -> NightSigns | None:
    """Return what the kind of freeze is told by, or None without a single hour."""
    part = span.own
    air = hours.air_c[part]
    known = np.isfinite(air)
    low = trough_of(air, slice(span.judged.start - part.start, None))
    if low is None:
        return None
    before = slice(max(0, low - 6), low + 1)
    wind = hours.wind_mps[part][before]
    known_wind = wind[np.isfinite(wind)]
    return NightSigns(
        calm=_mean(weather.calm[part][before]),
        open_sky=_mean(weather.sky[part][before]),
        wind_mps=_mean(known_wind) if known_wind.size else None,
        has_sky=bool(np.isfinite(hours.cloud_pct[part][before]).any()),
        evening_wet_chance=float(weather.rain[part][: low + 1].max()),
        evening_high_c=float(air[: low + 1][known[: low + 1]].max()),
        snow_chance=float(weather.snow[part].max()),
    )


def _mean(values: FloatArray) -> float:
    """Return a mean: of a few hours, numpy's own takes three times as long."""
    return float(np.add.reduce(values)) / values.size


def _snow(hours: Hours, rain: FloatArray, pressure_hpa: float) -> FloatArray:
    """Return the chance of snow in each hour; by the air where humidity is missing."""
    falls = rain > 0.0
    air, dew = hours.air_c[falls], hours.dewpoint_c[falls]
    wet_bulb = wet_bulb_c(air, np.fmin(dew, air), pressure_hpa)
    chance = np.zeros(rain.size)
    chance[falls] = snow_chance(rain[falls], np.where(np.isfinite(dew), wet_bulb, air))
    return chance


def _drying(
    air: FloatArray, dew: FloatArray, wind: FloatArray, pressure: float
) -> FloatArray:
    """Return how fast buds dry; not at all where humidity is missing. [mm/h]"""
    surface = vapour_pressure_hpa(wet_bulb_c(air, dew, pressure))
    drying = drying_mm_per_h(surface, vapour_pressure_hpa(dew), np.nan_to_num(wind))
    return np.nan_to_num(drying)


def dark_hours(shared: SiteHours, night: SiteNight) -> slice:
    """Return the hours of a night from sunset to sunrise."""
    first = shared.run.hours.first_utc
    start, stop = night.hours.start, night.hours.stop
    if night.sunset_utc is not None:
        start = max(start, (night.sunset_utc - first) // HOUR)
    if night.sunrise_utc is not None:
        stop = min(stop, (night.sunrise_utc - first) // HOUR + 1)
    return slice(start, stop)
