"""Measure all blocks on all nights at once: lows, crossings, chances, shares killed."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import datetime
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from frostalert.agronomy.kill import (
    crop_loss_pct,
    kill_pct,
    kills_at_nodes,
    mean_over_error,
    reach_probability,
)
from frostalert.model.assessment import SiteLow
from frostalert.model.block_columns import part_of_buds
from frostalert.model.block_values import (
    BlockNightColumns,
    BlockNightValues,
    BudColumns,
    BudNight,
    TimeArray,
)
from frostalert.model.forecast import HOUR, BoolArray, FloatArray, sealed
from frostalert.model.hours import BlockHours, SiteHours, SiteNight
from frostalert.model.site import Rules
from frostalert.physics.start_reading import START_WET_BULB_C, start_air_c
from frostalert.risk.coverage import Coverage
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
from frostalert.risk.site_hours import dark_hours
from frostalert.risk.stretches import (
    Laid,
    Lowest,
    Segments,
    TimeBelow,
    end_at_limit,
    last_rise,
    lay,
    lowest_mean,
    lowest_until,
    lowest_value,
    nothing_laid,
    segment_by_gap,
    spell_below,
    start_at_limit,
    time_at_limits,
)
from frostalert.risk.thermometer_start import ThermometerStart

OVER_C = 1.0
"""The cold hours are over when the bud is this far above its low, or above the alarm
temperature if that is warmer. [degC] Common practice, no source."""
SURELY_DRY, SURELY_WET = 0.2, 0.8
"""Between these chances of wet buds the colder of dry and wet decides. Common
practice, no source."""
_DAYLIGHT_C = 99.0
"""Stands in for daylight hours, which never start water. [degC]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class NightContext:
    """What the judging of one night needs, the same for every block."""

    shared: SiteHours
    night: SiteNight
    coverage: Coverage
    now_utc: datetime
    rules: Rules
    is_frost_forecast: bool
    site_low: SiteLow
    thermometers: Mapping[str, ThermometerStart] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Limits:
    """What the items are compared with. [degC, min, %] Shape (items,)."""

    alarm_c: FloatArray
    t10_c: FloatArray
    t90_c: FloatArray
    exposure_min: FloatArray
    plans_water: BoolArray
    needed_pct: FloatArray
    buds_lost_pct: FloatArray


def known_night(frame: NightContext) -> KnownNight:
    """Return what the numbers of a night that is judged rest on."""
    return KnownNight(
        shared=frame.shared,
        night=frame.night,
        air=frame.coverage.air,
        humid=frame.coverage.humid,
        low_sigma_c=frame.site_low.sigma_c,
        site_sigma_c=frame.site_low.site_sigma_c,
    )


def measure(
    nights: Sequence[KnownNight], hours: BlockHours, items: Items, rules: Rules
) -> BlockNightColumns:
    """Return the numbers of every item."""
    return _measured(tuple(nights), hours, items, rules)


# Looks at hours that have not changed since the last find their numbers made.
@lru_cache(maxsize=2)
def _measured(
    nights: tuple[KnownNight, ...], hours: BlockHours, items: Items, rules: Rules
) -> BlockNightColumns:
    """Return the numbers of every item: the same for the same."""
    return sealed(_columns(nights, hours, items, rules))


def _columns(
    frames: tuple[KnownNight, ...], hours: BlockHours, items: Items, rules: Rules
) -> BlockNightColumns:
    """Return the numbers of every item, by all that they rest on."""
    nights, blocks, _ = items.places()
    limits, first_utc = limits_of(items), firsts(frames)[nights]
    layouts = _layouts(frames, nights, blocks, len(hours.air_c))
    dry, wet = _buds(layouts, hours, limits, first_utc)
    airs, site_low_h = _airs(layouts, hours, blocks, first_utc)
    is_wet = wet_decides(
        (dry.columns.night_low_c, wet.columns.night_low_c),
        np.isfinite(wet.columns.low_c),
        airs["wet_probability"],
    )
    low_h = np.where(is_wet, wet.low_h, dry.low_h)
    low_sigma_c = low_sigma(frames, nights, low_h, hours.air_c.shape[1])
    sigma_c = harm_sigma(low_sigma_c, rules)
    low_c, night_low_c = (
        np.where(is_wet, getattr(wet.columns, name), getattr(dry.columns, name))
        for name in ("low_c", "night_low_c")
    )
    night_risk = reach_probability(night_low_c, sigma_c, limits.alarm_c)
    is_watered = expects_water(limits.plans_water, night_risk, rules)
    # Water must run before harm can begin.
    start_h = np.where(is_wet, wet.danger_h, dry.danger_h)
    water_h = np.fmin(
        water_start(frames, nights, layouts.humid, hours.wet_bulb_c, is_watered),
        start_h,
    )
    dew = lay(layouts.humid, hours.dewpoint_c)
    driest = driest_until(dew, water_h, site_low_h)
    pressure_hpa = frames[0].shared.pressure_hpa
    reading_c = start_air_c(START_WET_BULB_C, driest, pressure_hpa)
    return BlockNightValues(
        **airs,
        **_harm((nights, blocks), limits, (low_c, night_low_c), sigma_c),
        dry=dry.columns,
        wet=wet.columns,
        is_wet=is_wet,
        low_sigma_c=low_sigma_c,
        sigma_c=sigma_c,
        night_probability=night_risk,
        kill_dry_pct=kill_pct(dry.columns.low_c, limits.t10_c, limits.t90_c),
        kill_wet_pct=kill_pct(wet.columns.low_c, limits.t10_c, limits.t90_c),
        start_air_c=np.where(limits.plans_water, reading_c, np.nan),
        # A freeze that begins after sunrise has no dark hour to start in.
        water_start_utc=moments(np.where(is_watered, water_h, np.nan), first_utc),
    )


def _airs(
    layouts: "_Layouts", hours: BlockHours, blocks: Places, first_utc: TimeArray
) -> tuple[dict[str, Any], FloatArray]:
    """Return what air and wet bulb come to, and the hour of the lowest air to come."""
    curves = np.concatenate([hours.air_c, hours.wet_bulb_c])
    night = lay(layouts.night, curves)
    of_night = lowest_value(night)
    lows = _to_come(layouts, curves, of_night, lowest_value)
    past = lowest_value(lay(layouts.past, hours.air_c))
    count = blocks.size
    air_rise_h, wet_bulb_rise_h = last_rise(night, 0.0).reshape(2, count)
    at_h = np.stack([air_rise_h, wet_bulb_rise_h, past.hour])
    air_rise_utc, wet_bulb_rise_utc, past_utc = moments(at_h, first_utc)
    low_h = lows.hour[:count]
    values = {
        "site_low_c": lows.value[:count],
        "dewpoint_at_low_c": _at(hours.dewpoint_c, blocks, low_h),
        "wet_bulb_at_low_c": _at(hours.wet_bulb_c, blocks, low_h),
        "wet_bulb_low_c": lows.value[count:],
        "wet_bulb_above_zero_utc": wet_bulb_rise_utc,
        "air_above_zero_utc": air_rise_utc,
        "past_low_c": past.value,
        "past_low_utc": past_utc,
        "wet_probability": wet_chance(of_night.hour[:count], hours, blocks),
    }
    return values, low_h


def _harm(
    places: tuple[Places, Places],
    limits: Limits,
    lows_c: tuple[FloatArray, FloatArray],
    sigma_c: FloatArray,
) -> dict[str, FloatArray]:
    """Return the chances and shares of harm, by the lows to come and of the night."""
    low_c, night_low_c = lows_c
    curves = sigma_c, limits.t10_c, limits.t90_c
    of_night = kills_at_nodes(night_low_c, *curves)
    left = _left_before(places, limits.buds_lost_pct, mean_over_error(of_night))
    to_come = of_night
    is_other = np.flatnonzero(low_c != night_low_c)
    if is_other.size:
        others = (column[is_other] for column in (low_c, *curves))
        to_come = of_night.copy()
        to_come[is_other] = kills_at_nodes(*others)
    losses = crop_loss_pct(to_come, left[:, None], limits.needed_pct[:, None])
    return {
        "probability": reach_probability(low_c, sigma_c, limits.alarm_c),
        "probability_below_t10": reach_probability(low_c, sigma_c, limits.t10_c),
        "expected_kill_pct": mean_over_error(to_come),
        "left_before_pct": left,
        "crop_loss_pct": mean_over_error(losses),
    }


@dataclass(frozen=True, slots=True)
class _Layouts:
    """Rows of the items.

    Attributes
    ----------
    night : Segments
        Rows of the hours that the night is judged by. Items are laid twice: over hours
        with air, then over hours with humidity too. So air and wet bulb are measured at
        once, and dry buds and wet ones.
    begun : Segments
        Rows of the hours to come where those are not all that the night is judged by.
    is_begun : ndarray of bool
        Which items that are. Shape (twice the items,).
    humid, past : Segments
        Rows of the night with humidity, and of the hours gone by; each item once.
    """

    night: Segments
    begun: Segments
    is_begun: BoolArray
    humid: Segments
    past: Segments


def _layouts(
    frames: tuple[KnownNight, ...], nights: Places, blocks: Places, count: int
) -> _Layouts:
    """Return the rows of items, of which there are so many blocks."""
    judged = [frame.night.judged for frame in frames]
    airs, humid = airs_in(frames, judged), humid_in(frames, judged)
    once = nights, blocks
    twice = (
        np.concatenate([nights, nights + len(frames)]),
        np.concatenate([blocks, blocks + count]),
    )
    begun, past = nothing_laid(2 * nights.size), nothing_laid(nights.size)
    has_begun = have_begun(frames)
    if has_begun.any():
        spans = [frame.begun for frame in frames]
        to_come = [*airs_in(frames, spans), *humid_in(frames, spans)]
        begun = segment_by_gap(*twice, to_come)
        past = segment_by_gap(*once, airs_in(frames, [f.past for f in frames]))
    return _Layouts(
        night=segment_by_gap(*twice, [*airs, *humid]),
        begun=begun,
        is_begun=np.tile(has_begun[nights], 2),
        humid=segment_by_gap(*once, humid),
        past=past,
    )


def driest_until(
    dewpoint_c: Laid, until_h: FloatArray, low_h: FloatArray
) -> FloatArray:
    """Return the lowest dew point up to the start of water, or to the low. [degC]

    A thermometer is read before the start, when the air may be far drier than at the
    low: the reading must be early enough for the driest of those hours.

    Parameters
    ----------
    dewpoint_c : Laid
        Dew points. [degC]
    until_h, low_h : ndarray of float
        Start of water, and the hour of the low, of each item. [h] NaN for none.
    """
    last_h = np.where(np.isnan(until_h), low_h, until_h)
    return lowest_until(dewpoint_c, last_h)


def wet_chance(coldest_h: FloatArray, hours: BlockHours, blocks: Places) -> FloatArray:
    """Return the chance that buds are wet when the night is coldest. [0..1]

    Hoar that formed then is still there when that hour has gone by.

    Parameters
    ----------
    coldest_h : ndarray of float
        When that is, of each item. [h] NaN for never.
    hours : BlockHours
        The blocks' hours.
    blocks : ndarray of int
        The place of each item's block.
    """
    dew_c = _at(hours.dewpoint_c, blocks, coldest_h)
    chance = _at(hours.wet_probability, blocks, coldest_h)
    return np.where(np.isnan(dew_c), np.nan, chance)


def expects_water(
    plans_water: BoolArray, night_risk: FloatArray, rules: Rules
) -> BoolArray:
    """Return whether water is expected to be put on items.

    Parameters
    ----------
    plans_water : ndarray of bool
        Whether it is planned for them.
    night_risk : ndarray of float
        The chance that their night harms. [0..1]
    rules : Rules
        Which say from what chance on people get ready.
    """
    return plans_water & (night_risk >= rules.near_probability)


def water_start(
    frames: tuple[KnownNight, ...],
    nights: Places,
    humid: Segments,
    wet_bulb_c: FloatArray,
    is_watered: BoolArray,
) -> FloatArray:
    """Return when the wet bulb of watered items falls to the start of watering. [h]

    Daylight hours are left out: a cold noon is no reason to start, and sunset is the
    earliest.

    Parameters
    ----------
    frames : tuple of KnownNight
        The nights.
    nights : ndarray of int
        The place of each item's night.
    humid : Segments
        Rows of the items' hours with humidity.
    wet_bulb_c : ndarray of float
        The blocks' wet bulb. [degC]
    is_watered : ndarray of bool
        Whether water is expected to be put on each.
    """
    if not is_watered.any():
        return np.full(is_watered.size, np.nan)
    dark = np.zeros(wet_bulb_c.shape[1], dtype=np.bool_)
    for frame in frames:
        of_night = dark_hours(frame.shared, frame.night)
        dark[of_night.start + frame.offset_h : of_night.stop + frame.offset_h] = True
    limit = np.full(is_watered.size, START_WET_BULB_C)
    by_night = lay(humid, np.where(dark, wet_bulb_c, _DAYLIGHT_C))
    first_h = start_at_limit(by_night, limit)
    sunsets_h = np.array(
        [
            -np.inf
            if frame.night.sunset_utc is None
            else (frame.night.sunset_utc - frame.shared.run.hours.first_utc) / HOUR
            + frame.offset_h
            for frame in frames
        ]
    )
    falls_h = np.maximum(first_h, sunsets_h[nights])
    return np.where(is_watered, falls_h, np.nan)


# Asked by whoever measures, and by who judges.
@lru_cache(maxsize=2)
def limits_of(items: Items) -> Limits:
    """Return what items are compared with."""
    _, blocks, rows = items.places()
    # What is not published becomes NaN.
    bears = np.array(items.limits, dtype=np.float64).reshape(-1, 3).T[:, rows]
    sorts = np.array(items.sorts, dtype=np.float64).reshape(-1, 4).T[:, blocks]
    alarm_c, t10_c, t90_c = bears
    exposure_min, plans_water, needed_pct, buds_lost_pct = sorts
    return sealed(
        Limits(
            alarm_c=alarm_c,
            t10_c=t10_c,
            t90_c=t90_c,
            exposure_min=exposure_min,
            plans_water=plans_water > 0.0,
            needed_pct=needed_pct,
            buds_lost_pct=buds_lost_pct,
        )
    )


class _Buds(NamedTuple):
    """Dry or wet buds.

    Attributes
    ----------
    low_h, danger_h : ndarray
        Hours on the grid of the low to come, and of the start of the danger. [h]
    """

    columns: BudColumns
    low_h: FloatArray
    danger_h: FloatArray


def _buds(
    layouts: _Layouts, hours: BlockHours, limits: Limits, first_utc: TimeArray
) -> tuple[_Buds, _Buds]:
    """Return dry and wet buds.

    The hours of harm are those of the night: that they have begun moves nothing.
    """
    curves = np.concatenate([hours.dry_c, hours.wet_c])
    laid, limits = lay(layouts.night, curves), _twice(limits)
    of_night = lowest_mean(laid, limits.exposure_min)
    low = _to_come(
        layouts, curves, of_night, lambda begun: lowest_mean(begun, limits.exposure_min)
    )
    over_c = np.fmax(limits.alarm_c, of_night.value + OVER_C)
    spell, over_h = spell_below(laid, limits.alarm_c), end_at_limit(laid, over_c)
    t10_h, t90_h = _hours_at_kill(laid, spell, limits)
    over_h = np.where(np.isnan(over_h), of_night.hour, over_h)
    at_h = np.stack([low.hour, of_night.hour, spell.first, spell.last, over_h])
    low_utc, night_low_utc, first_below_utc, last_below_utc, over_utc = moments(
        at_h, np.tile(first_utc, 2)
    )
    both: BudColumns = BudNight(
        low_c=low.value,
        low_utc=low_utc,
        night_low_c=of_night.value,
        night_low_utc=night_low_utc,
        first_below_utc=first_below_utc,
        last_below_utc=last_below_utc,
        over_utc=over_utc,
        hours_below=spell.hours,
        hours_below_t10=t10_h,
        hours_below_t90=t90_h,
    )
    danger_h = np.where(np.isnan(spell.first), of_night.hour, spell.first)
    count = first_utc.size
    dry, wet = (
        _Buds(sealed(part_of_buds(both, part)), low.hour[part], danger_h[part])
        for part in (slice(count), slice(count, None))
    )
    return dry, wet


def _twice(limits: Limits) -> Limits:
    """Return the limits of items that are laid twice."""
    return Limits(
        **{item.name: np.tile(getattr(limits, item.name), 2) for item in fields(limits)}
    )


def _hours_at_kill(
    laid: Laid, spell: TimeBelow, limits: Limits
) -> tuple[FloatArray, FloatArray]:
    """Return the time at or below T10 and T90. [h]

    Most blocks warn at T10, and have that time already.
    """
    is_alarm = limits.t10_c == limits.alarm_c
    asked = np.stack([np.where(is_alarm, np.nan, limits.t10_c), limits.t90_c])
    t10_h, t90_h = time_at_limits(laid, asked)
    return np.where(is_alarm, spell.hours, t10_h), t90_h


def _to_come(
    layouts: _Layouts,
    curves: FloatArray,
    of_night: Lowest,
    lowest: Callable[[Laid], Lowest],
) -> Lowest:
    """Return the lowest of the hours to come, looked for where some have gone by."""
    if not layouts.is_begun.any():
        return of_night
    return of_coming(of_night, lowest(lay(layouts.begun, curves)), layouts.is_begun)


def of_coming(of_night: Lowest, begun: Lowest, is_begun: BoolArray) -> Lowest:
    """Return the lowest of the hours to come: the night's, where none has gone by."""
    return Lowest(
        np.where(is_begun, begun.value, of_night.value),
        np.where(is_begun, begun.hour, of_night.hour),
    )


def _left_before(
    places: tuple[Places, Places], lost_pct: FloatArray, expected_kill: FloatArray
) -> FloatArray:
    """Return the share of the season's buds left before each item's night. [%]

    What was counted as lost, and what earlier nights are expected to take, is gone:
    later nights can only take from what is left.

    What an evening has killed is gone, though its hours have gone by.
    """
    nights, blocks = places
    shape = int(nights.max(initial=-1)) + 2, int(blocks.max(initial=-1)) + 1
    # Before the first night by what was counted; then what each leaves of the last.
    left = np.ones(shape)
    left[0, blocks] = 100.0 - lost_pct
    left[nights + 1, blocks] = 1.0 - np.nan_to_num(expected_kill) / 100.0
    np.cumprod(left, axis=0, out=left)
    return np.asarray(left[nights, blocks])


def _at(curves: FloatArray, blocks: Places, hour: FloatArray) -> FloatArray:
    """Return each item's value at an hour of its own, NaN where it has none."""
    is_missing = np.isnan(hour)
    place = np.where(is_missing, 0.0, hour).astype(np.intp)
    return np.where(is_missing, np.nan, curves[blocks, place])


def wet_decides(
    night_lows_c: tuple[FloatArray, FloatArray], has_wet: BoolArray, chance: FloatArray
) -> BoolArray:
    """Return for which items the wet bud decides; never where it is unknown.

    By the night's lows: as hours go by no other bud may decide. As the weather leaves
    them: what our own water would do is no risk of the night's.

    Parameters
    ----------
    night_lows_c : tuple of ndarray
        The night's lows of dry buds, and of wet ones. [degC]
    has_wet : ndarray of bool
        Whether wet buds have an hour to come.
    chance : ndarray of float
        As from `wet_chance`. [0..1]
    """
    dry_c, wet_c = night_lows_c
    is_known = has_wet & ~np.isnan(chance)
    decides = (chance > SURELY_WET) | ((wet_c < dry_c) & (chance >= SURELY_DRY))
    return np.asarray(is_known & decides, dtype=np.bool_)


def harm_sigma(low_sigma_c: FloatArray, rules: Rules) -> FloatArray:
    """Return the error of a low against its threshold, which is not exact. [degC]"""
    return np.asarray(np.hypot(low_sigma_c, rules.threshold_sigma_c))
