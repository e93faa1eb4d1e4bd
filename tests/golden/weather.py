"""Forecasts of some April days, invented: a low every morning, and what else it is."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from tests.adapters.test_point_sources import open_meteo
from tests.support.grids import grid_text, layer

_HOURS = 96
_LOW_AT, _DAY = 13, 24
"""Hour of the low: six in the morning at the site. [UTC]"""


@dataclass
class Weather:
    """What the days bring.

    `lows_c` holds the low of each morning by its day of the month, else it is mild;
    `grid` whatever else is put in place of the grid's layers.
    """

    lows_c: Mapping[int, float] = field(default_factory=dict)
    mild_c: float = 8.0
    high_c: float = 14.0
    dry_by_c: float = 3.0
    wind_kmh: float = 1.8
    cloud_pct: float = 5.0
    rain_pct: Sequence[float] = ()
    """Chance of rain by the hour, from the first one of the forecast."""
    grid: Mapping[str, Any] = field(default_factory=dict)

    def grid_at(self, updated: datetime) -> str:
        """The weather service's grid of a moment."""
        first = _first(updated)
        air = self._air(first)
        given: dict[str, Any] = {
            "air_c": air,
            "dewpoint_c": [value - self.dry_by_c for value in air],
            "wind_kmh": self.wind_kmh,
            "cloud_pct": self.cloud_pct,
        }
        if self.rain_pct:
            rain: list[Any] = list(self.rain_pct)
            given["probabilityOfPrecipitation"] = layer("wmoUnit:percent", rain, first)
        return grid_text(first=first, updated=updated, **(given | dict(self.grid)))

    def world_at(self, updated: datetime) -> str:
        """The same from the service that covers the world."""
        first = _first(updated)
        air = self._air(first)
        hours = [int(first.timestamp()) + 3600 * n for n in range(_HOURS)]
        same: dict[str, Any] = {
            "time": hours,
            "temperature_2m": air,
            "dew_point_2m": [round(value - self.dry_by_c, 2) for value in air],
            "temperature_80m": [round(value + 2.5, 2) for value in air],
        }
        plain = open_meteo()["hourly"]
        rest = {
            name: [values[0]] * _HOURS
            for name, values in plain.items()
            if name not in same
        }
        return json.dumps(open_meteo(**same, **rest))

    def air_c(self, moment: datetime) -> float:
        """The air at a moment, by the hour. [degC]"""
        first = _first(moment)
        return self._air(first)[int((moment - first) / timedelta(hours=1))]

    def _air(self, first: datetime) -> list[float]:
        """The air by the hour, between the lows and the highs. [degC]"""
        mornings = range(-1, _HOURS // _DAY + 2)
        start = first.replace(hour=_LOW_AT)
        lows = [
            self.lows_c.get((start + timedelta(days=n)).day, self.mild_c)
            for n in mornings
        ]
        found = []
        for hour in range(_HOURS):
            since = (hour + first.hour - _LOW_AT) / _DAY
            before, share = int(np.floor(since)), since - np.floor(since)
            low = lows[before + 1] if share < 0.5 else lows[before + 2]
            mix = (1.0 - np.cos(2.0 * np.pi * share)) / 2.0
            high = max(self.high_c, low + 6.0)
            found.append(round(float(low + (high - low) * mix), 2))
        return found


def _first(updated: datetime) -> datetime:
    """The first hour of a forecast: a noon (UTC) that is half a day ago or more."""
    start = (updated - timedelta(hours=12)).astimezone(UTC)
    noon = start.replace(hour=12, minute=0, second=0, microsecond=0)
    return noon if noon <= start else noon - timedelta(days=1)
