"""Invented weather of one season, known in full, and the forecasts made of it.

The truth about buds is worked out here by a rule of its own, not by the package: on
clear calm nights, from the evening on, the block is its cold spot colder than the air
and the bud 1 degC colder still, half of that where dew forms; by day, and on overcast
windy nights, both are as the air.

Two sources err as forecasts do. What each misses of a night it misses in issue after
issue, by less as the night comes near, and half of it both miss alike. Each takes some
clear nights for overcast ones; some fronts come hours before either has them.
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
DEWY_DEFICIT_C = 0.5
DEW_DEPRESSIONS_C = (0.3, 3.0, 8.0)
"""How far the dew point lies below the night's low: humid, ordinary and dry. [degC]"""
SOURCES = ("invented", "other")
ERROR_LEADS_H, ERROR_SIGMAS_C = (0.0, 24.0, 48.0, 72.0), (0.9, 1.0, 1.7, 2.5)
"""Error of the forecast low by its lead: tonight, tomorrow, later. [h, degC]"""
SHARED = 0.5
"""Correlation of the two sources' errors."""
WRONG_CLOUD, FRONTS, FRONT_H = 0.1, 0.2, (1.0, 3.0)
"""Share of clear nights that a source has overcast, and of nights whose cold comes
earlier than any source has it, and by how much."""
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
_LOOKED_FOR_H = 168
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
        self.dew_c = random.choice(DEW_DEPRESSIONS_C, days, p=(0.25, 0.5, 0.25))
        is_front = random.random(days) < FRONTS
        self.early_h = np.where(is_front, random.uniform(*FRONT_H, days), 0.0)
        errors = np.random.default_rng([seed, 2])
        self._errors_c = _errors_c(errors, days)
        is_wrong = errors.random((len(SOURCES), days)) < WRONG_CLOUD
        self._told_clear = self.clear & ~is_wrong
        self._low_stamps = np.array([self.low_at(n).timestamp() for n in range(days)])

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
        return float(self.lows_c[index]) + self.shift_c(index)

    def shift_c(self, index: int) -> float:
        """Return how far buds are below the air at its low. [degC]"""
        if not self.clear[index]:
            return 0.0
        is_dewy = self.dew_c[index] < BUD_DEFICIT_C
        return COLD_SPOT_C - (DEWY_DEFICIT_C if is_dewy else BUD_DEFICIT_C)

    def is_risky(self, index: int) -> bool:
        """Return whether buds really reach T10, a tenth of a step beyond doubt."""
        _, t10_c = self.stage_on(self.night_of(index))
        return self.bud_low_c(index) <= t10_c - 0.3

    def is_safe(self, index: int) -> bool:
        """Return whether buds really stay above T10."""
        _, t10_c = self.stage_on(self.night_of(index))
        return self.bud_low_c(index) > t10_c

    def is_far_from_risky(self, index: int) -> bool:
        """Return whether nothing that either source ever says calls for anybody.

        A call within three days is at most 2.2 degC above T10; this file's rule errs by
        half a degree, and what chance errors teach by a degree.
        """
        _, t10_c = self.stage_on(self.night_of(index))
        coldest_c = float(self._errors_c[:, index, : RUN_HOURS // 3].min())
        shift_c = COLD_SPOT_C - BUD_DEFICIT_C if self.clear[index] else 0.0
        told_c = float(self.lows_c[index]) + min(0.0, coldest_c) + shift_c
        return not self.early_h[index] and told_c > t10_c + 2.2 + 1.6

    def told_bud_c(self, index: int, moment_utc: datetime) -> float | None:
        """Return what both sources together say of buds, by this file's rule. [degC]

        By the warmer of the last issues; None where a source has the cloud wrong.
        """
        if (self._told_clear[:, index] != self.clear[index]).any():
            return None
        lead_h = (self.low_at(index) - moment_utc) / timedelta(hours=1)
        step = int(np.clip(lead_h, 0.0, _LOOKED_FOR_H - 9.0)) // 3
        together_c = self._errors_c[:, index, step : step + 3].mean(axis=0)
        return self.bud_low_c(index) + float(together_c.max())

    def danger_utc(self, index: int) -> datetime:
        """Return the first minute of a risky night at which a bud is at T10."""
        _, t10_c = self.stage_on(self.night_of(index))
        shift = self.shift_c(index)
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
        early = timedelta(hours=float(self.early_h[index]))
        return start + float(phase) * (end - start) - early

    def air_c(self, moment_utc: datetime) -> float:
        """Return the true air at a moment of a night. [degC]"""
        noon = moment_utc.astimezone(ZONE) - timedelta(hours=12)
        index = (noon.date() - self.first).days
        high, low = float(self.highs_c[index]), float(self.lows_c[index])
        start, end = self.high_at(index), self.low_at(index)
        since = moment_utc + timedelta(hours=float(self.early_h[index])) - start
        share = np.clip(since / (end - start), 0.0, 1.0)
        return high + (low - high) * (1.0 - float(np.cos(np.pi * share))) / 2.0

    def high_at(self, index: int) -> datetime:
        """Return when the day before a night was warmest."""
        return _utc(self.night_of(index), _HIGH_AT)

    def low_at(self, index: int) -> datetime:
        """Return when a night is coldest."""
        return _utc(self.night_of(index) + timedelta(days=1), _LOW_AT)

    def forecast(self, made_utc: datetime, place: int = 0) -> ForecastRun:
        """Return the forecast that a source makes at a moment."""
        first = made_utc.replace(minute=0, second=0, microsecond=0)
        first -= timedelta(hours=2)
        leads_h = (self._low_stamps - made_utc.timestamp()) / 3600.0
        steps = np.clip(leads_h, 0.0, _LOOKED_FOR_H).astype(int) // 3
        missed = self._errors_c[place, np.arange(steps.size), steps]
        is_coming = (leads_h > 0.0) & (leads_h < _LOOKED_FOR_H)
        lows = self.lows_c + np.where(is_coming, missed, 0.0)
        air, night = self._hourly(first, lows)
        clear = self._told_clear[place, night]
        cloud = np.where(clear, 0.0, 100.0)
        # The wind is told rightly: a calm night under cloud that does not come.
        wind = np.where(self.clear[night], 0.8, 6.0)
        name = SOURCES[place]
        return ForecastRun(
            source=name,
            source_title=f"{name.capitalize()} forecast",
            place="nowhere",
            updated_utc=made_utc,
            fetched_utc=made_utc,
            elevation_m=125.0,
            latitude=46.2205,
            longitude=-119.2412,
            hours=Hours(
                first_utc=first,
                air_c=air,
                dewpoint_c=np.minimum(air, (lows - self.dew_c)[night]),
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
        """Return hourly air between highs and lows, and each hour's night. [degC]"""
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
        return air, nights


@cache
def _utc(day: date, local: time) -> datetime:
    """Return a local hour of a day; each forecast asks for those of all nights."""
    return datetime.combine(day, local, tzinfo=ZONE).astimezone(UTC)


def _errors_c(random: np.random.Generator, nights: int) -> FloatArray:
    """Return what is missed by source, night and lead in steps of three hours. [degC]

    As a night comes near each issue keeps what the one before missed, less what has
    been learned since.
    """
    leads_h = np.arange(0, _LOOKED_FOR_H + 1, 3)
    squares = np.interp(leads_h, ERROR_LEADS_H, ERROR_SIGMAS_C) ** 2
    steps_c = np.sqrt(np.diff(squares, prepend=0.0))
    shape = (nights, leads_h.size)
    both = random.normal(0.0, 1.0, shape)
    own = random.normal(0.0, 1.0, (len(SOURCES), *shape))
    drawn = np.sqrt(SHARED) * both + np.sqrt(1.0 - SHARED) * own
    return np.cumsum(steps_c * drawn, axis=-1)
