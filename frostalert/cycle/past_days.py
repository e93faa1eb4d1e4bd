"""How warm the last days were: by the reference thermometer, else by the forecast."""

from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Protocol
from zoneinfo import ZoneInfo

from frostalert.model.forecast import ForecastRun
from frostalert.model.reading import Reading, SensorKind
from frostalert.model.site import Farm
from frostalert.model.warmth import DayAir
from frostalert.risk.warmth import day_air, hourly_air

_DAYS = 3


class PastBook(Protocol):
    """What is kept of the last days."""

    def readings_since(self, since_utc: datetime) -> tuple[Reading, ...]:
        """Return the readings since a moment, oldest first."""

    def runs_at(self, moment_utc: datetime) -> list[ForecastRun]:
        """Return the newest run of each source that was there at a moment."""


def past_days(farm: Farm, book: PastBook, now_utc: datetime) -> list[DayAir]:
    """Return the last three whole days."""
    zone = ZoneInfo(farm.site.time_zone)
    today = now_utc.astimezone(zone).date()
    found = [
        _one_day(farm, book, zone, today - timedelta(days=back))
        for back in range(1, _DAYS + 1)
    ]
    return [item for item in found if item is not None]


def _one_day(farm: Farm, book: PastBook, zone: ZoneInfo, day: date) -> DayAir | None:
    """Return one day, if it is known."""
    begin = datetime.combine(day, time(0), tzinfo=zone)
    sensors = {
        sensor.name
        for sensor in farm.sensors
        if sensor.kind is SensorKind.REFERENCE and not sensor.is_treated
    }
    read = [
        (item.at_utc, item.air_c)
        for item in (book.readings_since(begin) if sensors else ())
        if item.sensor in sensors and item.problem is None
    ]
    measured = day_air(read, zone, day)
    if measured is not None:
        low_c, high_c = measured
        return DayAir(day=day, low_c=low_c, high_c=high_c, is_measured=True)
    # What the forecast had for it that morning, by the first source that covers it.
    for run in book.runs_at(begin + timedelta(hours=3)):
        forecast = _forecast_day(run, zone, day)
        if forecast is not None:
            low_c, high_c = forecast
            return DayAir(day=day, low_c=low_c, high_c=high_c, is_measured=False)
    return None


# The last days are asked for every hour, and their morning's runs stay the same.
@lru_cache(maxsize=32)
def _forecast_day(
    run: ForecastRun, zone: ZoneInfo, day: date
) -> tuple[float, float] | None:
    """Return a day's coldest and warmest air by a forecast. [degC]"""
    return day_air(hourly_air(run.hours.first_utc, run.hours.air_c), zone, day)
