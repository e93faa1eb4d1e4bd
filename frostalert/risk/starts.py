"""When each source alone would have protection running: no more is asked of it.

All blocks on all its nights at once, each beside the item that is judged.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from frostalert.agronomy.kill import reach_probability
from frostalert.model.block_values import TimeArray
from frostalert.model.forecast import BoolArray, FloatArray, sealed
from frostalert.model.hours import BlockHours
from frostalert.model.site import Rules
from frostalert.physics.start_reading import START_WET_BULB_C, start_air_c
from frostalert.risk.items import Items, Places
from frostalert.risk.known_night import (
    KnownNight,
    airs_in,
    firsts,
    have_begun,
    humid_in,
    low_sigma,
    moments,
)
from frostalert.risk.measure import (
    SURELY_DRY,
    SURELY_WET,
    driest_until,
    expects_water,
    harm_sigma,
    limits_of,
    of_coming,
    water_start,
    wet_chance,
    wet_decides,
)
from frostalert.risk.stretches import (
    Laid,
    lay,
    lowest_mean,
    lowest_value,
    segment_by_gap,
    start_at_limit,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Starts:
    """What each source alone says of items. Shape (starts,) each.

    Attributes
    ----------
    nights, own : ndarray of int
        The place of each start's night, and of the item that is judged.
    running_by_utc : ndarray
        When protection must be running. NaT where the source lacks its hours.
    low_c : ndarray
        The low to come of the bud that decides. [degC]
    probability : ndarray
        Chance that this reaches the alarm temperature. [0..1]
    start_air_c : ndarray
        What the thermometer reads at the start of water. [degC] NaN where none is
        planned.
    """

    nights: Places
    own: Places
    running_by_utc: TimeArray
    low_c: FloatArray
    probability: FloatArray
    start_air_c: FloatArray

    @property
    def is_known(self) -> BoolArray:
        """Whether its source has the hours of each."""
        return np.asarray(~np.isnan(self.low_c + self.probability))


# Looks at hours that have not changed since the last find them made.
@lru_cache(maxsize=2)
def measure_starts(
    alone: tuple[KnownNight, ...],
    dates: tuple[date, ...],
    hours: BlockHours,
    items: Items,
    rules: Rules,
) -> Starts:
    """Return what each source alone says of the items.

    Parameters
    ----------
    alone : tuple of KnownNight
        Its nights, source by source.
    dates : tuple of date
        The dates of the nights that are judged. What a source reaches beyond is not.
    hours : BlockHours
        The blocks' hours.
    items : Items
        What is judged.
    rules : Rules
        The rules.
    """
    nights, own = _asked(alone, dates, items)
    if not own.size:
        return _nothing()
    asked = _Asked(alone, nights, items.places()[1][own], hours)
    limits = limits_of(items)
    alarm_c, plans_water = limits.alarm_c[own], limits.plans_water[own]
    coldest_h = asked.lowest_h(asked.judged())
    bud = _deciding(asked, coldest_h, limits.exposure_min[own], alarm_c)
    count = hours.air_c.shape[1]
    sigma_c = harm_sigma(low_sigma(alone, nights, bud.low_h, count), rules)
    night_risk = reach_probability(bud.night_low_c, sigma_c, alarm_c)
    running_h = np.where(np.isnan(bud.first_h), bud.night_low_h, bud.first_h)
    reading_c = np.full(own.size, np.nan)
    if plans_water.any():
        is_watered = expects_water(plans_water, night_risk, rules)[plans_water]
        hours_h = running_h[plans_water], coldest_h[plans_water]
        running_h[plans_water], reading_c[plans_water] = _by_water(
            asked.only(plans_water), is_watered, *hours_h
        )
    return sealed(
        Starts(
            nights=nights,
            own=own,
            running_by_utc=moments(running_h, firsts(alone)[nights]),
            low_c=bud.low_c,
            probability=reach_probability(bud.low_c, sigma_c, alarm_c),
            start_air_c=reading_c,
        )
    )


def _asked(
    alone: Sequence[KnownNight], dates: Sequence[date], items: Items
) -> tuple[Places, Places]:
    """Return the night alone and the judged item of every start."""
    ends = np.searchsorted(items.places()[0], np.arange(len(dates) + 1)).tolist()
    spans = {
        night: np.arange(ends[place], ends[place + 1])
        for place, night in enumerate(dates)
    }
    nothing = np.zeros(0, dtype=np.intp)
    found = [spans.get(night.night.window.night, nothing) for night in alone]
    nights = np.repeat(np.arange(len(alone)), [part.size for part in found])
    return nights, np.concatenate([nothing, *found])


def _nothing() -> Starts:
    """Return no start."""
    places, values = np.zeros(0, dtype=np.intp), np.zeros(0)
    return Starts(
        nights=places,
        own=places,
        running_by_utc=values.astype("datetime64[us]"),
        low_c=values,
        probability=values,
        start_air_c=values,
    )


class _Asked(NamedTuple):
    """Blocks on nights alone, and their hours."""

    alone: tuple[KnownNight, ...]
    nights: Places
    blocks: Places
    hours: BlockHours

    def only(self, chosen: BoolArray) -> "_Asked":
        """Return some of them."""
        return self._replace(nights=self.nights[chosen], blocks=self.blocks[chosen])

    def judged(self) -> list[slice]:
        """Return the hours that each night is judged by."""
        return [night.night.judged for night in self.alone]

    def begun(self) -> list[slice]:
        """Return the hours to come of those of which some have gone by."""
        return [night.begun for night in self.alone]

    def lowest_h(self, spans: list[slice]) -> FloatArray:
        """Return when the air is lowest in a span of each night. [h] NaN for never."""
        airs = segment_by_gap(self.nights, self.blocks, airs_in(self.alone, spans))
        return lowest_value(lay(airs, self.hours.air_c)).hour


class _Bud(NamedTuple):
    """The bud that decides, as `BudNight` has it, its moments as hours on the grid."""

    low_c: FloatArray
    low_h: FloatArray
    night_low_c: FloatArray
    night_low_h: FloatArray
    first_h: FloatArray


def _deciding(
    asked: _Asked, coldest_h: FloatArray, exposure_min: FloatArray, alarm_c: FloatArray
) -> _Bud:
    """Return the bud that decides; the other is measured where either may."""
    alone, nights, blocks, hours = asked
    chance = wet_chance(coldest_h, hours, blocks)
    coming = [night.night.coming for night in alone]
    has_hours = [bool(parts) for parts in humid_in(alone, coming)]
    has_wet = np.array(has_hours, dtype=np.bool_)[nights]
    may_be_dry = ~(has_wet & (chance > SURELY_WET))
    may_be_wet = has_wet & (chance >= SURELY_DRY)
    is_measured = np.concatenate([may_be_dry, may_be_wet])
    both = _both(asked, np.flatnonzero(is_measured), exposure_min, alarm_c)
    dry_c, wet_c = both.night_low_c.reshape(2, -1)
    is_wet = wet_decides((dry_c, wet_c), has_wet, chance)
    place = np.arange(nights.size) + np.where(is_wet, nights.size, 0)
    return _Bud(*(column[place] for column in both))


def _both(
    asked: _Asked, where: Places, exposure_min: FloatArray, alarm_c: FloatArray
) -> _Bud:
    """Return dry buds, then wet ones, at some of their places; NaN at the others."""
    alone, hours = asked.alone, asked.hours
    nights = np.concatenate([asked.nights, asked.nights + len(alone)])[where]
    blocks = np.concatenate([asked.blocks, asked.blocks + len(hours.air_c)])[where]
    curves = np.concatenate([hours.dry_c, hours.wet_c])
    exposures, limits_c = (np.tile(of, 2)[where] for of in (exposure_min, alarm_c))

    def laid(spans: list[slice]) -> Laid:
        stretches = [*airs_in(alone, spans), *humid_in(alone, spans)]
        return lay(segment_by_gap(nights, blocks, stretches), curves)

    rows = laid(asked.judged())
    low = of_night = lowest_mean(rows, exposures)
    has_begun = np.tile(have_begun(alone), 2)
    if has_begun.any():
        begun = lowest_mean(laid(asked.begun()), exposures)
        low = of_coming(of_night, begun, has_begun[nights])
    first_h = start_at_limit(rows, limits_c)
    found = np.full((5, 2 * asked.nights.size), np.nan)
    found[:, where] = low.value, low.hour, of_night.value, of_night.hour, first_h
    return _Bud(*found)


def _by_water(
    asked: _Asked, is_watered: BoolArray, danger_h: FloatArray, coldest_h: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return when water must run, and what the thermometer reads then. [h, degC]"""
    alone, nights, blocks, hours = asked
    humid = segment_by_gap(nights, blocks, humid_in(alone, asked.judged()))
    falls_h = water_start(alone, nights, humid, hours.wet_bulb_c, is_watered)
    # Water must run before harm can begin.
    running_h = np.fmin(falls_h, danger_h)
    has_begun = have_begun(alone)[nights]
    low_h = coldest_h
    if has_begun.any():
        low_h = np.where(has_begun, asked.lowest_h(asked.begun()), coldest_h)
    driest_c = driest_until(lay(humid, hours.dewpoint_c), running_h, low_h)
    pressure_hpa = alone[0].shared.pressure_hpa
    return running_h, start_air_c(START_WET_BULB_C, driest_c, pressure_hpa)
