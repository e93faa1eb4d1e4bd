"""The invented weather of a few days, in the documents of two sources."""

import json
import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from tests.adapters.test_point_sources import open_meteo
from tests.support.grids import grid_text, interval

HOUR = timedelta(hours=1)
LOW_HOUR_UTC, HIGH_HOUR_UTC = 13, 22
"""Six in the morning and three in the afternoon, Pacific daylight time."""
DAYS, GRID_HOURS = 5, 96


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """What one source says of the nights to come, the first begins on the first day.

    Attributes
    ----------
    first_day_utc : datetime
        Midnight UTC of the day on whose evening the first night begins.
    lows_c, highs_c : tuple of float
        One a night, and one for the afternoon before each. [degC]
    minimum_deficit_c : float or None
        How much colder the source's own night minimum is. [degC] None without one.
    """

    first_day_utc: datetime
    lows_c: tuple[float, ...]
    highs_c: tuple[float, ...]
    dry_by_c: float
    wind_mps: float
    cloud_pct: float
    minimum_deficit_c: float | None
    cell_elevation_m: float

    def air_c(self, moments: list[datetime]) -> list[float]:
        """Return the air at some moments. [degC]"""
        marks: list[tuple[float, float]] = []
        for n in range(-1, len(self.lows_c)):
            day = self.first_day_utc + n * timedelta(days=1)
            own = max(0, n)
            high = day.replace(hour=HIGH_HOUR_UTC)
            low = (day + timedelta(days=1)).replace(hour=LOW_HOUR_UTC)
            low_c = self.lows_c[own] + (3.0 if n < 0 else 0.0)
            marks += [(high.timestamp(), self.highs_c[own]), (low.timestamp(), low_c)]
        times, values = np.array(marks).T
        stamps = np.array([moment.timestamp() for moment in moments])
        place = np.clip(np.searchsorted(times, stamps, "right") - 1, 0, times.size - 2)
        share = np.clip(
            (stamps - times[place]) / (times[place + 1] - times[place]), 0.0, 1.0
        )
        mix = (1.0 - np.cos(np.pi * share)) / 2.0
        air = values[place] + (values[place + 1] - values[place]) * mix
        return [round(float(value), 2) for value in air]


def grid_of(weather: Weather, made_utc: datetime) -> str:
    """Return the grid document that is made at a moment: it begins at its hour."""
    first = made_utc.replace(minute=0, second=0, microsecond=0)
    moments = [first + n * HOUR for n in range(GRID_HOURS)]
    air: list[float | None] = list(weather.air_c(moments))
    dew = [None if value is None else value - weather.dry_by_c for value in air]
    minimums: list[dict[str, Any]] = []
    if weather.minimum_deficit_c is not None:
        for n, low in enumerate(weather.lows_c):
            start = (weather.first_day_utc + (n + 1) * timedelta(days=1)).replace(
                hour=3
            )
            value = round(low - weather.minimum_deficit_c, 2)
            minimums.append({"validTime": interval(start, 13), "value": value})
    return grid_text(
        air_c=air,
        dewpoint_c=dew,
        wind_kmh=round(weather.wind_mps * 3.6, 1),
        cloud_pct=weather.cloud_pct,
        updated=made_utc,
        first=first,
        elevation={"unitCode": "wmoUnit:m", "value": weather.cell_elevation_m},
        minTemperature={"uom": "wmoUnit:degC", "values": minimums}
        if minimums
        else {"values": []},
    )


def point_of(weather: Weather, asked_utc: datetime) -> str:
    """Return the point document as it is answered at a moment: it begins a day back."""
    first = asked_utc.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    first -= timedelta(days=1)
    count = 24 * DAYS
    moments = [first + n * HOUR for n in range(count)]
    air = weather.air_c(moments)
    document = open_meteo(
        time=[int(moment.timestamp()) for moment in moments],
        temperature_2m=air,
        dew_point_2m=[round(value - weather.dry_by_c, 2) for value in air],
        relative_humidity_2m=[
            round(_humidity_pct(value, value - weather.dry_by_c), 1) for value in air
        ],
        wind_speed_10m=[weather.wind_mps] * count,
        wind_direction_10m=[310] * count,
        cloud_cover=[weather.cloud_pct] * count,
        cloud_cover_low=[weather.cloud_pct / 2.0] * count,
        cloud_cover_mid=[weather.cloud_pct / 2.0] * count,
        precipitation_probability=[5] * count,
        precipitation=[0.0] * count,
        temperature_80m=[value + 2.0 for value in air],
        weather_code=[0] * count,
    )
    document["elevation"] = weather.cell_elevation_m
    return json.dumps(document)


def _humidity_pct(air_c: float, dewpoint_c: float) -> float:
    """Return the relative humidity, by the Magnus formula over water. [%]"""
    water, air = (17.62 * c / (243.12 + c) for c in (dewpoint_c, air_c))
    return 100.0 * math.exp(water - air)
