"""Clear calm nights of real stations, and the program's nowcasts of them.

Nights of March to May, October and November with a mean wind of 3 m/s at most and,
where cloud is reported, 30 % of it at most from sunset to sunrise: chosen by the
weather that came, as by a forecast without error. Each nowcast is begun by the
program's own `begin_nowcast`, from hourly readings; what stands for the forecast beside
them is the station itself, or the station with an error.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.model.forecast import FloatArray
from frostalert.physics.nights import night_sun, night_window
from frostalert.risk.learning import low_of
from frostalert.risk.nowcast import (
    GUESSED_AFTER,
    AirAt,
    ForecastEvening,
    Nowcast,
    begin_nowcast,
)
from tests.evaluation.stations import HOUR, Station

MONTHS = (3, 4, 5, 10, 11)
MOST_WIND_MPS, MOST_CLOUD_PCT = 3.0, 30.0
AFTER_SUNSET = "2 h after sunset"
LEADS_H = {f"{lead} h before sunrise": lead for lead in (6, 5, 4, 3, 2)}
MOMENTS = (AFTER_SUNSET, *LEADS_H)
_YEAR = 2013
_AFTER_DAWN = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class ForecastErrors:
    """Standard errors of what stands for the forecast, one draw a night. [degC]"""

    sunset_air_c: float = 0.0
    dewpoint_c: float = 0.0


NO_ERRORS = ForecastErrors()


@dataclass(frozen=True, slots=True)
class Guess:
    """One nowcast, how far the air then fell, and how fast it fell just before."""

    nowcast: Nowcast
    fall_c: float
    trend_c_per_h: float


@dataclass(frozen=True, slots=True, eq=False)
class ClearNight:
    """A night, and the nowcasts from its moments.

    Attributes
    ----------
    low_c, read_low_c : float
        Its low, and what the program takes for it of the readings. [degC]
    """

    station: str
    night: date
    low_c: float
    read_low_c: float
    guesses: dict[str, Guess]


def clear_nights(
    place: str,
    stations: Sequence[Station],
    *,
    errors: ForecastErrors = NO_ERRORS,
    reads_at_sunset: bool = True,
) -> list[ClearNight]:
    """Return the clear calm nights of a place's stations."""
    found = []
    for number, station in enumerate(stations):
        random = np.random.default_rng([len(place), number])
        for day in _days():
            # Drawn for every night, so that one night less changes no other.
            draw = random.normal(size=2) * (errors.sunset_air_c, errors.dewpoint_c)
            dark = _dark_hours(station, day)
            if _is_clear_and_calm(station, dark):
                night = _night(station, dark, draw, reads_at_sunset=reads_at_sunset)
                found.append(night)
    return found


def _days() -> Iterator[date]:
    day = date(_YEAR, 1, 1)
    while day.year == _YEAR:
        if day.month in MONTHS:
            yield day
        day += timedelta(days=1)


@dataclass(frozen=True, slots=True)
class _Dark:
    """Sunset and sunrise on a station's grid, and the hours between."""

    day: date
    dusk_h: float
    dawn_h: float

    @property
    def hours(self) -> slice:
        return slice(int(np.ceil(self.dusk_h)), int(np.floor(self.dawn_h)) + 1)


def _dark_hours(station: Station, day: date) -> _Dark:
    window = night_window(day, ZoneInfo(station.time_zone))
    sunset, sunrise = night_sun(window, station.latitude, station.longitude)
    assert sunset is not None
    assert sunrise is not None
    dusk, dawn = ((at - station.first_utc) / HOUR for at in (sunset, sunrise))
    return _Dark(day, dusk, dawn)


def _is_clear_and_calm(station: Station, dark: _Dark) -> bool:
    # Where no cloud is reported NaN lets every night through.
    is_overcast = station.cloud_pct[dark.hours].mean() > MOST_CLOUD_PCT
    return not is_overcast and station.wind_mps[dark.hours].mean() <= MOST_WIND_MPS


def _night(
    station: Station, dark: _Dark, draw: FloatArray, *, reads_at_sunset: bool
) -> ClearNight:
    """Return a night with its guesses."""
    readings = _readings(station, dark)
    sunset, sunrise = _at(station, dark)
    taken = [item for item in readings if reads_at_sunset or item.at_utc > sunset]
    air, last = station.air_c, dark.hours.stop + 1
    guesses = {
        moment: Guess(
            nowcast=_nowcast(station, dark, hour, taken, draw),
            fall_c=float(air[hour] - air[hour:last].min()),
            trend_c_per_h=float(air[hour] - air[hour - 2]) / 2.0,
        )
        for moment, hour in _moments(dark).items()
        # Short nights have no time for all.
        if hour > dark.dusk_h + 1.0
    }
    dark_air = [
        item.air_c
        for item in readings
        if sunset <= item.at_utc <= sunrise + _AFTER_DAWN
    ]
    return ClearNight(
        station=station.name,
        night=dark.day,
        low_c=float(air[dark.hours.start : last].min()),
        read_low_c=low_of(dark_air),
        guesses=guesses,
    )


def _moments(dark: _Dark) -> dict[str, int]:
    """Return the hour of each moment."""
    begin = round(dark.dusk_h + GUESSED_AFTER / HOUR)
    leads = {name: round(dark.dawn_h - lead) for name, lead in LEADS_H.items()}
    return {AFTER_SUNSET: begin} | leads


def _at(station: Station, dark: _Dark) -> tuple[datetime, datetime]:
    return (
        station.first_utc + dark.dusk_h * HOUR,
        station.first_utc + dark.dawn_h * HOUR,
    )


def _readings(station: Station, dark: _Dark) -> list[AirAt]:
    """Return what a thermometer at the station reads, hour by hour."""
    return [
        AirAt(at_utc=station.first_utc + hour * HOUR, air_c=float(station.air_c[hour]))
        for hour in range(dark.hours.start - 2, dark.hours.stop + 2)
    ]


def _nowcast(
    station: Station, dark: _Dark, hour: int, readings: list[AirAt], draw: FloatArray
) -> Nowcast:
    sunset, sunrise = _at(station, dark)
    air_error, dew_error = (float(value) for value in draw)
    grid = np.arange(station.air_c.size)
    evening = ForecastEvening(
        sunset_utc=sunset,
        sunrise_utc=sunrise,
        sunset_air_c=float(np.interp(dark.dusk_h, grid, station.air_c)) + air_error,
        dewpoint_c=float(station.dewpoint_c[hour]) + dew_error,
    )
    now = AirAt(
        at_utc=station.first_utc + hour * HOUR, air_c=float(station.air_c[hour])
    )
    nowcast = begin_nowcast(now, readings, evening)
    assert nowcast is not None
    return nowcast
