"""Invented weather of one season, known in full, and the forecasts made of it.

The truth about buds is worked out here by a rule of its own, not by the package: on
clear calm nights, from the evening on, the block is its cold spot colder than the air
and the bud 1 degC colder still; by day, and on overcast windy nights, both are as the
air.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.model.forecast import FloatArray, ForecastRun, Hours

ZONE = ZoneInfo("America/Los_Angeles")
COLD_SPOT_C = -1.1
BUD_DEFICIT_C = 1.0
NEAR_SIGMA_C, SIGMA_PER_DAY_C, NEAR_LIMIT_C = 0.7, 0.3, 1.4
"""Error of the forecast low: its size on the first day, its growth, and its greatest
value within 36 hours. The machine is on trial here, not the skill of forecasts."""
RUN_EVERY = timedelta(hours=3)
RUN_HOURS = 84
STAGES = (
    (0, "tips separate", -6.7),
    (10, "calyx red", -5.6),
    (18, "first white", -4.4),
    (25, "first bloom", -3.9),
    (31, "full bloom", -2.8),
    (45, "in the shuck", -2.8),
    (60, "green fruit", -2.2),
)
"""Day on which each stage of the apricot is reached, and its T10 (MSU Extension, 2021)
to a tenth. [d, degC]"""
_LOW_AT, _HIGH_AT, _EVENING = time(6), time(15), time(18)


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """The truth about one night."""

    night: date
    low_c: float
    high_c: float
    is_clear: bool


class Season:
    """A season's weather.

    Parameters
    ----------
    seed : int
        Everything follows from it.
    first : date
        Its first night.
    nights : int
        How many nights it has.
    """

    def __init__(self, seed: int, first: date, nights: int) -> None:
        self.seed = seed
        self.first = first
        self.count = nights
        random = np.random.default_rng([seed, 1])
        days = nights + 12
        base = np.interp(np.arange(days), [0, 45, 120], [-3.5, 0.5, 5.0])
        anomaly = np.zeros(days)
        for day in range(1, days):
            anomaly[day] = 0.6 * anomaly[day - 1] + random.normal(0.0, 2.2)
        self.lows_c = np.round(base + anomaly, 2)
        self.highs_c = np.round(self.lows_c + random.uniform(9.0, 14.0, days), 2)
        self.clear = random.random(days) < 0.7

    def night_of(self, index: int) -> date:
        """Return the evening's date of a night."""
        return self.first + timedelta(days=index)

    def stage_on(self, day: date) -> tuple[str, float]:
        """Return the stage reached on a day and its T10. [degC]"""
        age = (day - self.first).days
        reached = [entry for entry in STAGES if entry[0] <= max(0, age)]
        _, name, t10_c = reached[-1]
        return name, t10_c

    def bud_low_c(self, index: int) -> float:
        """Return the coldest bud of a night, by the rule of this file. [degC]"""
        shift = COLD_SPOT_C - BUD_DEFICIT_C if self.clear[index] else 0.0
        return float(self.lows_c[index] + shift)

    def is_risky(self, index: int) -> bool:
        """Return whether buds really reach T10, a tenth of a step beyond doubt."""
        _, t10_c = self.stage_on(self.night_of(index))
        return self.bud_low_c(index) <= t10_c - 0.3

    def is_safe(self, index: int) -> bool:
        """Return whether buds really stay above T10."""
        _, t10_c = self.stage_on(self.night_of(index))
        return self.bud_low_c(index) > t10_c

    def is_far_from_risky(self, index: int) -> bool:
        """Return whether even the worst forecast of the night calls for nobody.

        A fifth of a chance is 2.2 degC above T10 at a standard error of 2.6 degC; the
        forecast errs by 1.4 degC at most, and this file's rule by half a degree.
        """
        _, t10_c = self.stage_on(self.night_of(index))
        return self.bud_low_c(index) > t10_c + 2.2 + NEAR_LIMIT_C + 0.6

    def danger_utc(self, index: int) -> datetime:
        """Return the first minute of a risky night at which a bud is at T10."""
        _, t10_c = self.stage_on(self.night_of(index))
        shift = self.bud_low_c(index) - float(self.lows_c[index])
        as_air = self._falls_to(index, t10_c)
        if shift == 0.0:
            return as_air
        evening = datetime.combine(self.night_of(index), _EVENING, tzinfo=ZONE)
        return min(as_air, max(evening, self._falls_to(index, t10_c - shift)))

    def _falls_to(self, index: int, air_c: float) -> datetime:
        """Return when the air of an evening falls to a temperature."""
        high, low = float(self.highs_c[index]), float(self.lows_c[index])
        share = (high + low - 2.0 * air_c) / (high - low)
        phase = np.arccos(np.clip(-share, -1.0, 1.0)) / np.pi
        start, end = self.high_at(index), self.low_at(index)
        return start + float(phase) * (end - start)

    def high_at(self, index: int) -> datetime:
        """Return when the day before a night was warmest."""
        return _utc(self.night_of(index), _HIGH_AT)

    def low_at(self, index: int) -> datetime:
        """Return when a night is coldest."""
        return _utc(self.night_of(index) + timedelta(days=1), _LOW_AT)

    def forecast(self, made_utc: datetime) -> ForecastRun:
        """Return the forecast that is made at a moment."""
        issue = int(made_utc.timestamp() // RUN_EVERY.total_seconds())
        random = np.random.default_rng([self.seed, 2, issue % 2**31])
        first = made_utc.replace(minute=0, second=0, microsecond=0)
        first -= timedelta(hours=2)
        lows = self.lows_c.copy()
        for index in range(lows.size):
            lead_h = (self.low_at(index) - made_utc) / timedelta(hours=1)
            if 0 < lead_h < 2 * RUN_HOURS:
                lows[index] += _error_c(lead_h, random)
        air, clear = self._hourly(first, lows)
        wind = np.where(clear, 0.8, 6.0)
        cloud = np.where(clear, 0.0, 100.0)
        return ForecastRun(
            source="invented",
            source_title="Invented forecast",
            place="nowhere",
            updated_utc=made_utc,
            fetched_utc=made_utc,
            elevation_m=125.0,
            latitude=46.2205,
            longitude=-119.2412,
            hours=Hours(
                first_utc=first,
                air_c=air,
                dewpoint_c=np.full(RUN_HOURS, np.min(air) - 3.0),
                wind_mps=wind,
                cloud_pct=cloud,
                shutting_cloud_pct=cloud,
                precipitation_probability_pct=np.zeros(RUN_HOURS),
                is_frost=np.zeros(RUN_HOURS, dtype=np.bool_),
                is_wet_weather=np.zeros(RUN_HOURS, dtype=np.bool_),
            ),
            night_minimums=(),
            precipitation_mm=(),
        )

    def _hourly(
        self, first: datetime, lows: FloatArray
    ) -> tuple[FloatArray, np.ndarray]:
        """Return hourly air and clear sky between the days' highs and lows. [degC]"""
        index = max(0, (first.astimezone(ZONE).date() - self.first).days - 1)
        last = min(lows.size - 1, index + 7)
        marks = [
            (moment, value)
            for n in range(index, last)
            for moment, value in (
                (self.high_at(n), self.highs_c[n]),
                (self.low_at(n), lows[n]),
            )
        ]
        times = np.array([moment.timestamp() for moment, _ in marks])
        values = np.array([value for _, value in marks])
        stamps = first.timestamp() + 3600.0 * np.arange(RUN_HOURS)
        place = np.clip(np.searchsorted(times, stamps, "right") - 1, 0, times.size - 2)
        share = np.clip(
            (stamps - times[place]) / (times[place + 1] - times[place]), 0, 1
        )
        mix = (1.0 - np.cos(np.pi * share)) / 2.0
        air = values[place] + (values[place + 1] - values[place]) * mix
        nights = np.clip(index + place // 2, 0, lows.size - 1)
        return air, self.clear[nights]


@cache
def _utc(day: date, local: time) -> datetime:
    """Return a local hour of a day; each forecast asks for those of all nights."""
    return datetime.combine(day, local, tzinfo=ZONE).astimezone(UTC)


def _error_c(lead_h: float, random: np.random.Generator) -> float:
    """Return an error of the forecast low. [degC]"""
    sigma = NEAR_SIGMA_C + SIGMA_PER_DAY_C * max(0.0, lead_h - 24.0) / 24.0
    error = random.normal(0.0, sigma)
    limit = NEAR_LIMIT_C if lead_h <= 36.0 else 3.0 * sigma
    return float(np.clip(error, -limit, limit))
