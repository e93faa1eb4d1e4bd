"""Measure every judged block's night: lows, crossings and chances, all at once."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from frostalert.decision.block_hours import BlockHours
from frostalert.decision.coverage import Coverage
from frostalert.decision.exposure import coldest_mean, time_below
from frostalert.decision.site_hours import SiteHours, SiteNight
from frostalert.model.assessment import Exposure, StageInForce
from frostalert.model.crop import StageThreshold
from frostalert.model.forecast import FloatArray
from frostalert.model.site import Block, Rules

_OVER_C = 1.0
"""The cold hours are over when the bud is this far above its low, or above the alarm
temperature if that is warmer. [degC] Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NightFrame:
    """What the judging of one night needs, the same for every block."""

    shared: SiteHours
    night: SiteNight
    coverage: Coverage
    now_utc: datetime
    rules: Rules
    is_frost_forecast: bool


@dataclass(frozen=True, slots=True)
class JudgedBlock:
    """A block that has something to be compared with."""

    index: int
    block: Block
    stage: StageInForce

    @property
    def threshold(self) -> StageThreshold:
        """The row of the crop's table."""
        assert self.stage.threshold is not None  # noqa: S101 - chosen by it
        return self.stage.threshold


@dataclass(frozen=True, slots=True, kw_only=True)
class BudLow:
    """A bud's low with the hours around it.

    Attributes
    ----------
    exposure : Exposure
        Against the alarm temperature.
    over_utc : datetime
        When the cold hours are over.
    hours_below_t10, hours_below_t90 : float or None
        Hours at or below them. [h] None where the table has none.
    """

    exposure: Exposure
    over_utc: datetime
    hours_below_t10: float | None
    hours_below_t90: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One block's night in numbers.

    Attributes
    ----------
    site_low_c, dewpoint_at_low_c, wet_bulb_low_c : float or None
        Lows among the plants. [degC] The latter two None where humidity is missing.
    wet_probability : float or None
        Chance that buds are wet at their dry low, 0 to 1.
    """

    dry: BudLow
    wet: BudLow | None
    site_low_c: float
    dewpoint_at_low_c: float | None
    wet_bulb_low_c: float | None
    wet_bulb_low_utc: datetime | None
    wet_bulb_above_zero_utc: datetime | None
    wet_probability: float | None


def measure_night(
    frame: NightFrame, hours: BlockHours, judged: list[JudgedBlock]
) -> list[Measured]:
    """Return the numbers of every judged block's night.

    Parameters
    ----------
    frame : NightFrame
        The night.
    hours : BlockHours
        Hourly temperatures of all blocks.
    judged : list of JudgedBlock
        The blocks with a threshold.

    Returns
    -------
    list of Measured
        One a judged block; empty if the night has no known hour or no judged block.

    References
    ----------
    .. [1] See `decision.exposure`.
    """
    if not judged or not frame.coverage.air:
        return []
    rows = np.array([item.index for item in judged], dtype=np.intp)
    dry = _bud_lows(frame, hours.dry_c[rows], judged, frame.coverage.air)
    wet = _bud_lows(frame, hours.wet_c[rows], judged, frame.coverage.humid)
    return [
        _measured(frame, hours, item.index, dry[place], wet[place] if wet else None)
        for place, item in enumerate(judged)
    ]


def _bud_lows(
    frame: NightFrame,
    curves_c: FloatArray,
    judged: list[JudgedBlock],
    stretches: tuple[slice, ...],
) -> list[BudLow]:
    """Return each block's bud low over the known stretches of the night."""
    if not stretches:
        return []
    alarms = np.array([item.threshold.alarm_c for item in judged])
    first_kill = np.array([_or_nan(item.threshold.t10_c) for item in judged])
    killing = np.array([_or_nan(item.threshold.t90_c) for item in judged])
    exposures = np.array([item.block.crop.exposure_minutes for item in judged])
    low, low_h = _lowest(curves_c, exposures, stretches)
    hours, first, last = _below(curves_c, alarms, stretches)
    _, _, over = _below(curves_c, np.maximum(alarms, low + _OVER_C), stretches)
    t10_hours = _hours_below(curves_c, first_kill, stretches)
    t90_hours = _hours_below(curves_c, killing, stretches)
    at = frame.shared.moment
    return [
        BudLow(
            exposure=Exposure(
                low_c=float(low[n]),
                low_utc=at(float(low_h[n])),
                first_below_utc=None if np.isnan(first[n]) else at(float(first[n])),
                last_below_utc=None if np.isnan(last[n]) else at(float(last[n])),
                hours_below=float(hours[n]),
            ),
            over_utc=at(float(low_h[n] if np.isnan(over[n]) else over[n])),
            hours_below_t10=_or_none(t10_hours[n]),
            hours_below_t90=_or_none(t90_hours[n]),
        )
        for n in range(len(judged))
    ]


def _lowest(
    curves_c: FloatArray, exposures_min: FloatArray, stretches: tuple[slice, ...]
) -> tuple[FloatArray, FloatArray]:
    """Return the coldest mean of each curve over all stretches, and its hour."""
    low = np.full(len(curves_c), np.inf)
    low_h = np.zeros(len(curves_c))
    for stretch in stretches:
        for minutes in np.unique(exposures_min):
            rows = np.flatnonzero(exposures_min == minutes)
            coldest = coldest_mean(curves_c[rows, stretch], float(minutes))
            colder = coldest.mean_c < low[rows]
            low[rows[colder]] = coldest.mean_c[colder]
            low_h[rows[colder]] = coldest.middle_h[colder] + stretch.start
    return low, low_h


def _below(
    curves_c: FloatArray, limits_c: FloatArray, stretches: tuple[slice, ...]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return hours below, first and last moment below, over all stretches."""
    parts = [time_below(curves_c[:, part], limits_c) for part in stretches]
    starts = [part.start for part in stretches]
    hours = np.sum([part.hours for part in parts], axis=0)
    first = np.fmin.reduce(
        [part.first_h + start for part, start in zip(parts, starts, strict=True)]
    )
    last = np.fmax.reduce(
        [part.last_h + start for part, start in zip(parts, starts, strict=True)]
    )
    return hours, first, last


def _hours_below(
    curves_c: FloatArray, limits_c: FloatArray, stretches: tuple[slice, ...]
) -> FloatArray:
    """Return the hours at or below each limit; NaN where there is no limit. [h]"""
    # A limit that no air reaches stands in for none while all curves are worked out.
    hours, _, _ = _below(curves_c, np.nan_to_num(limits_c, nan=-999.0), stretches)
    return np.where(np.isnan(limits_c), np.nan, hours)


def _measured(
    frame: NightFrame, hours: BlockHours, row: int, dry: BudLow, wet: BudLow | None
) -> Measured:
    """Return one block's night in numbers."""
    air_places = _places(frame.coverage.air)
    at_low = int(air_places[np.argmin(hours.air_c[row, air_places])])
    dew_at_low = float(hours.dewpoint_c[row, at_low])
    has_dew = np.isfinite(dew_at_low)
    humid = _places(frame.coverage.humid)
    bulb = hours.wet_bulb_c[row, humid]
    coldest = int(humid[np.argmin(bulb)]) if humid.size else None
    later = [] if coldest is None else humid[(humid > coldest) & (bulb > 0.0)]
    moment = frame.shared.moment
    return Measured(
        dry=dry,
        wet=wet,
        site_low_c=float(hours.air_c[row, at_low]),
        dewpoint_at_low_c=dew_at_low if has_dew else None,
        wet_bulb_low_c=float(bulb.min()) if humid.size else None,
        wet_bulb_low_utc=None if coldest is None else moment(coldest),
        wet_bulb_above_zero_utc=moment(int(later[0])) if len(later) else None,
        wet_probability=float(hours.wet_probability[row, at_low]) if has_dew else None,
    )


def _places(stretches: tuple[slice, ...]) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Return the places on the grid that lie in the stretches."""
    parts = [np.arange(part.start, part.stop, dtype=np.intp) for part in stretches]
    return np.concatenate(parts) if parts else np.zeros(0, dtype=np.intp)


def _or_nan(value: float | None) -> float:
    """Return a value, or NaN for none."""
    return np.nan if value is None else value


def _or_none(value: float) -> float | None:
    """Return a value, or None for NaN."""
    return None if np.isnan(value) else float(value)
