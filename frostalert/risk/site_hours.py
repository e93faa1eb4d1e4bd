"""Everything about the hours that all blocks of a site share, worked out once."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import lru_cache
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
from frostalert.physics.low import bend_to_minimum
from frostalert.physics.night_type import night_kind
from frostalert.physics.nights import (
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
    wet_weather_chance,
)

_WINDY_WEIGHT = 0.25
_HALF = 0.5
_MOST_NIGHTS = 20


def prepare_site_hours(run: ForecastRun, site: Site, now_utc: datetime) -> SiteHours:
    """Return what all blocks of a site share.

    Parameters
    ----------
    run : ForecastRun
        The forecast, its past hours filled from earlier runs where there are any.
    site : Site
        The place.
    now_utc : datetime
        The present moment: nights from the one it belongs to are looked at.

    Returns
    -------
    SiteHours
        With at least the present night and the next.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.

    References
    ----------
    .. [1] See the physics modules.
    """
    return _site_hours(run, site, night_of(now_utc, ZoneInfo(site.time_zone)))


# A few sources, for the look at the coming nights and for those that look back. Most
# looks are at a forecast that has not changed since the last.
@lru_cache(maxsize=16)
def _site_hours(run: ForecastRun, site: Site, first: date) -> SiteHours:
    """Return what all blocks share, the same for the same."""
    return sealed(_from_first_night(run, site, first))


def _from_first_night(run: ForecastRun, site: Site, first: date) -> SiteHours:
    """Return what all blocks share, from the first night that is looked at on."""
    windows = _windows(run.hours, ZoneInfo(site.time_zone), first)
    suns = [night_sun(w, site.latitude, site.longitude) for w in windows]
    dark = _darkness(run.hours, windows, suns)
    calm = calm_weight(run.hours.wind_mps, hides_calm=run.hides_calm)
    sky = open_sky(run.hours.cloud_pct, run.hours.shutting_cloud_pct)
    air, dew = run.hours.air_c.copy(), run.hours.dewpoint_c.copy()
    rain = wet_weather_chance(
        run.hours.precipitation_probability_pct, run.hours.is_wet_weather
    )
    nights = []
    for window, (sunset, sunrise) in zip(windows, suns, strict=True):
        hours = _slice(run.hours, window)
        own = _own_hours(run.hours, window, hours)
        signs = _signs(run.hours, own, calm, sky, rain)
        bent_low, low_from = _bend(run, window, own, signs, air, dew)
        kind, reason = night_kind(signs) if signs else (None, "no hours known")
        nights.append(
            SiteNight(
                window=window,
                sunset_utc=sunset,
                sunrise_utc=sunrise,
                hours=hours,
                own_hours=own,
                source_low_c=bent_low,
                low_from=low_from,
                low_c=bent_low,
                kind=kind,
                kind_reason=reason,
                signs=signs,
            )
        )
    pressure = float(standard_pressure_hpa(site.elevation_m))
    return SiteHours(
        run=run,
        air_c=air,
        dewpoint_c=dew,
        bud_wind_mps=bud_wind_mps(run.hours.wind_mps, hides_calm=run.hides_calm),
        sky=sky * dark,
        weight=calm * sky * dark,
        wet_weather=rain,
        rain_wet=_rain_wet(run, rain, air, dew, pressure),
        pressure_hpa=pressure,
        nights=tuple(nights),
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
        low the lower of its hours' and the given one. What the source's own hours say
        of the kind of night stays.

    References
    ----------
    .. [1] The vapour pressure of air that is warmed stays; of air that is cooled below
       its dew point the rest falls as dew.
    """
    # Missing humidity stays missing.
    dew = np.minimum(shared.dewpoint_c, air_c)
    dew = np.where(np.isfinite(air_c), dew, shared.dewpoint_c)
    nights = tuple(
        replace(night, low_c=_lower(air_c[night.own_hours], low))
        for night, low in zip(shared.nights, lows_c, strict=True)
    )
    return replace(
        shared,
        air_c=air_c,
        dewpoint_c=dew,
        rain_wet=_rain_wet(
            shared.run, shared.wet_weather, air_c, dew, shared.pressure_hpa
        ),
        nights=nights,
    )


def _lower(air_c: FloatArray, low_c: float | None) -> float | None:
    """Return the lower of some hours and a low; None where neither is known."""
    known = air_c[np.isfinite(air_c)]
    if not known.size:
        return low_c
    lowest = float(known.min())
    return lowest if low_c is None else min(lowest, low_c)


def _rain_wet(
    run: ForecastRun,
    wet_weather: FloatArray,
    air_c: FloatArray,
    dewpoint_c: FloatArray,
    pressure_hpa: float,
) -> FloatArray:
    """Return the chance that buds are wet from rain or snow, 0 to 1."""
    wind = wind_at_2m_mps(run.hours.wind_mps)
    drying = _drying(air_c, dewpoint_c, wind, pressure_hpa)
    return rain_wet_probability(wet_weather, drying)


def _windows(hours: Hours, zone: ZoneInfo, first: date) -> list[NightWindow]:
    """Return the nights from one to the end of the forecast, two at the least."""
    end = night_of(hours.end_utc - timedelta(microseconds=1), zone)
    last = max(end, first + timedelta(days=1))
    count = min((last - first).days + 1, _MOST_NIGHTS)
    return [night_window(first + timedelta(days=n), zone) for n in range(count)]


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
    windows: list[NightWindow],
    suns: list[tuple[datetime | None, datetime | None]],
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
    window: NightWindow,
    own: slice,
    signs: NightSigns | None,
    air: FloatArray,
    dew: FloatArray,
) -> tuple[float | None, LowFrom | None]:
    """Bend one night's hours in place; return its low and where that comes from."""
    minimum = _night_minimum(run.night_minimums, window)
    if signs is None:
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
    bent = bend_to_minimum(
        air[own],
        dew[own],
        None if minimum is None else minimum.value,
        within=within,
        is_windy=signs.calm <= _WINDY_WEIGHT,
        open_ends=(first > window.start_utc, run.hours.end_utc < window.end_utc),
    )
    air[own], dew[own] = bent.air_c, bent.dewpoint_c
    return bent.low_c, bent.low_from


def _night_minimum(minimums: tuple[Period, ...], window: NightWindow) -> Period | None:
    """Return the colder of the minimums whose period lies mostly in the night."""
    inside = [
        period
        for period in minimums
        if _overlap(period, window) > _HALF * (period.end_utc - period.start_utc)
    ]
    return min(inside, key=lambda period: period.value, default=None)


def _overlap(period: Period, window: NightWindow) -> timedelta:
    """Return how much of a period lies in a night."""
    start = max(period.start_utc, window.start_utc)
    return max(timedelta(0), min(period.end_utc, window.end_utc) - start)


def _signs(
    hours: Hours, part: slice, calm: FloatArray, sky: FloatArray, rain: FloatArray
) -> NightSigns | None:
    """Return what the kind of freeze is told by, or None without a single hour."""
    air = hours.air_c[part]
    known = np.isfinite(air)
    if not known.any():
        return None
    low = int(np.argmin(np.where(known, air, np.inf)))
    before = slice(max(0, low - 6), low + 1)
    wind = hours.wind_mps[part][before]
    known_wind = wind[np.isfinite(wind)]
    return NightSigns(
        calm=float(calm[part][before].mean()),
        open_sky=float(sky[part][before].mean()),
        wind_mps=float(known_wind.mean()) if known_wind.size else None,
        has_sky=bool(np.isfinite(hours.cloud_pct[part][before]).any()),
        evening_wet_chance=float(rain[part][: low + 1].max()),
        evening_high_c=float(air[: low + 1][known[: low + 1]].max()),
    )


def _drying(
    air: FloatArray, dew: FloatArray, wind: FloatArray, pressure: float
) -> FloatArray:
    """Return how fast buds dry; not at all where humidity is missing. [mm/h]"""
    surface = vapour_pressure_hpa(wet_bulb_c(air, dew, pressure))
    drying = drying_mm_per_h(surface, vapour_pressure_hpa(dew), np.nan_to_num(wind))
    return np.nan_to_num(drying)


def dark_hours(shared: SiteHours, night: SiteNight) -> slice:
    """Return the hours of a night from sunset to sunrise.

    Parameters
    ----------
    shared : SiteHours
        The grid's hours.
    night : SiteNight
        The night.

    Returns
    -------
    slice
        From the hour before sunset on; all hours of the night where the sun does not
        set or rise.

    References
    ----------
    .. [1] Definition.
    """
    first = shared.run.hours.first_utc
    start, stop = night.hours.start, night.hours.stop
    if night.sunset_utc is not None:
        start = max(start, (night.sunset_utc - first) // HOUR)
    if night.sunrise_utc is not None:
        stop = min(stop, (night.sunrise_utc - first) // HOUR + 1)
    return slice(start, stop)
