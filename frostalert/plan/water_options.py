"""What water over the plants is worth in one block: enough or too little."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from frostalert.agronomy.kill import reach_probability
from frostalert.model.crop import Organ
from frostalert.model.equipment import Equipment
from frostalert.model.forecast import HOUR, BoolArray, FloatArray
from frostalert.model.method import Method, RefusalReason
from frostalert.model.plan import Option, Resource, Verdict, WaterFacts
from frostalert.physics.bud import ORGAN_SIZE_M
from frostalert.physics.start_reading import START_WET_BULB_C, STOP_WET_BULB_C
from frostalert.physics.water import (
    film_life_s,
    ice_load_kg,
    needed_rate_mm_per_h,
    wetted_loss_wpm2,
)
from frostalert.plan.block_case import (
    COLD_NIGHT,
    LEAST_SAVING,
    SURE_TO_HOLD,
    BlockAtRisk,
)
from frostalert.plan.dry_start import HELD_ABOVE_ALARM_C, latest_dry_start
from frostalert.plan.served import Served
from frostalert.plan.unjudged_water import unjudged_water
from frostalert.plan.warm_judgement import refused, unknown
from frostalert.plan.water_tables import (
    CALIBRATED_TO_PRACTICE,
    TableRate,
    published_rate,
)
from frostalert.plan.wind import needed_hours, wind_mps
from frostalert.risk.measure import SURELY_DRY

_CROWN_SHARE = {Organ.BUD: 0.3, Organ.LEAF: 0.8}
"""Share of the ground under a crown that wood with buds, or leaves, shade. [1] Common
practice, no source."""
_SAME_LOSS = 0.005
"""Difference of loss below which it is the same. [1]"""
KEPT_GOING = 0.5
"""Least chance that water holds once people were called to start it. [1] Common
practice, no source: a forecast that swings must not send them back and forth."""
_ALL_IS_LOST_C = -60.0
"""A bud low at which nothing of any crop is left. [degC]"""
_SHIFTS_C = np.arange(6.0, -12.01, -0.25)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Supply:
    """What an equipment puts on a block, however it does."""

    rate_mm_per_h: float
    flow_l_per_h: float
    round_time: timedelta | None = None
    reached: float = 1.0


def water_option(case: BlockAtRisk, equipment: Equipment, served: Served) -> Option:
    """Return what water over the plants is worth in a block.

    Parameters
    ----------
    case : BlockAtRisk
        The block's night.
    equipment : Equipment
        Sprinklers, or what wetting by hand has.
    served : Served
        What the equipment waters, and how much of its flow this block takes.

    Returns
    -------
    Option
        Enough only above both our heat balance and the published tables, with a good
        chance that it holds, and with less loss even if all is lost where it does not;
        refused otherwise. No colder night turns a refusal into a start.

    References
    ----------
    .. [1] NC State Extension: if the system cannot give the rate needed, do not turn
       it on.
    """
    if equipment.method.is_by_hand:
        supply = _by_hand(case, equipment)
    else:
        supply = _sprinkled(case, equipment, served)
    if supply is None:
        return unknown(case, equipment, RefusalReason.UNKNOWN_SIZE)
    running = needed_hours(case, equipment.method, _stop_utc(case))
    need = _need(case, equipment, running, 0.0)
    if np.isnan(need):
        return _unjudged(case, equipment, supply, running)
    facts = _facts(case, equipment, supply, running, need)
    lows = held_lows(case, facts)
    after = case.loss_with(lows, facts.reached)
    # What runs since before is not too late, whatever the hour.
    is_begun = case.is_begun(equipment)
    ready = None if is_begun else case.earliest_start_utc(equipment, equipment.set_up)
    least = least_chance(case, equipment.name)
    wind = float(wind_mps(case, equipment.method, running).max())
    is_windy = _is_windy(equipment.method, wind)
    refusal = _refusal(case, facts, ready, is_windy=is_windy)
    verdict, grounds = refusal or _judged(case, facts, after, least_chance=least)
    cold_start, cold_end = _cold_span(case)
    # What does not run yet takes nothing of the hours that are over, and what does
    # nothing of those before it was begun.
    since = case.now_utc
    if case.may_be_begun(equipment):
        since = min(since, case.running_since_utc(equipment) or cold_start)
    cold_start = min(max(cold_start, since), cold_end)
    litres = facts.flow_l_per_h * ((cold_end - cold_start) / HOUR)
    return Option(
        equipment=equipment.name,
        method=equipment.method,
        block=case.block.name,
        verdict=verdict,
        grounds=grounds,
        facts=facts,
        loss_before=case.loss_before,
        loss_after=after,
        buds_lost=case.in_buds.loss_with(lows, facts.reached),
        worth=case.weight * max(0.0, case.loss_before - after),
        uses=_uses(case, equipment, facts, litres),
        start_utc=case.start_utc,
        end_utc=_stop_utc(case),
        cold_start_utc=cold_start,
        cold_end_utc=cold_end,
        is_running=is_begun,
        wind_mps=wind,
    )


def _unjudged(
    case: BlockAtRisk, equipment: Equipment, supply: _Supply, running: BoolArray
) -> Option:
    """Return water of which the forecast tells too little to work it out.

    What it does tell refuses it all the same: wind, and a rate below the tables.
    """
    wind = float(wind_mps(case, equipment.method, running).max())
    if _is_windy(equipment.method, wind):
        ground = RefusalReason.TOO_WINDY
        windy = refused(case, equipment, Verdict.NOT_TONIGHT, ground)
        return replace(windy, wind_mps=wind)
    if np.isnan(wind):
        return unjudged_water(case, equipment, RefusalReason.NO_WIND)
    table = _table(case, running, 0.0).mm_per_h
    has_air = not np.isnan(case.hours.air_c[running]).any()
    if has_air and (table is None or supply.rate_mm_per_h < table):
        ground = RefusalReason.LESS_THAN_NEEDED
        return refused(case, equipment, Verdict.TOO_LITTLE, ground)
    return unjudged_water(case, equipment, RefusalReason.NO_HUMIDITY)


def _uses(
    case: BlockAtRisk, equipment: Equipment, facts: WaterFacts, litres: float
) -> tuple[tuple[Resource, str, float], ...]:
    """Return the water, and the ground of the installation that the block takes."""
    water = (Resource.WATER, "", litres)
    area = case.block.protected_area_m2
    if equipment.area_m2 is None or area is None:
        return (water,)
    # Its flow is for so much ground: two blocks cannot both have all of it.
    return (water, (Resource.AREA, equipment.name, facts.reached * area))


def _sprinkled(
    case: BlockAtRisk, equipment: Equipment, served: Served
) -> _Supply | None:
    """Return what sprinklers give; None where the block's size is not known."""
    area = case.block.protected_area_m2
    flow = equipment.flow_l_per_h
    assert flow is not None  # noqa: S101 - its row asks for it
    if area is None or not served.ground_m2:
        return None
    reached = min(1.0, served.ground_m2 / area)
    return _Supply(
        rate_mm_per_h=flow / served.ground_m2,
        flow_l_per_h=served.flow_l_per_h(flow, area * reached),
        reached=reached,
    )


def _by_hand(case: BlockAtRisk, equipment: Equipment) -> _Supply | None:
    """Return what a round by hand gives; None where the block's size is not known."""
    plants, area = case.block.plants, case.block.protected_area_m2
    litres, each = equipment.litres_per_plant, equipment.time_each
    assert litres is not None  # noqa: S101 - its row asks for them
    assert each is not None  # noqa: S101
    if plants is None or area is None:
        return None
    walking = each * plants
    if equipment.load_l:
        walking += equipment.trip * -(-litres * plants // equipment.load_l)
    round_time = walking / max(1, equipment.hands)
    flow = litres * plants / (round_time / HOUR)
    return _Supply(rate_mm_per_h=flow / area, flow_l_per_h=flow, round_time=round_time)


def _facts(
    case: BlockAtRisk,
    equipment: Equipment,
    supply: _Supply,
    running: BoolArray,
    need: float,
) -> WaterFacts:
    """Return the numbers behind the verdict."""
    table = _table(case, running, 0.0)
    shift = _coldest_held_c(case, equipment, running, supply.rate_mm_per_h)
    low_c = float(case.hours.air_c[running].min())
    chance = 0.0 if shift is None else _hold_chance(case, shift)
    crown = case.block.plant_area_m2
    film = _film_life(case, running) if supply.round_time is not None else None
    return WaterFacts(
        rate_mm_per_h=supply.rate_mm_per_h,
        needed_mm_per_h=need,
        table_mm_per_h=table.mm_per_h,
        table_source=table.source,
        holds_to_air_c=None if shift is None else low_c + shift,
        hold_chance=chance,
        low_air_c=low_c,
        pressure_hpa=case.pressure_hpa,
        longest_round=film,
        round_time=supply.round_time,
        latest_start_utc=latest_dry_start(case),
        start_air_c=case.record.start_air_c,
        ice_kg=None
        if crown is None
        else ice_load_kg(
            min(supply.rate_mm_per_h, _mean_frozen_mm_per_h(case, running)),
            float(running.sum()),
            crown * _CROWN_SHARE[case.organ],
        ),
        is_brittle=case.block.has_brittle_wood,
        flow_l_per_h=supply.flow_l_per_h,
        reached=supply.reached,
    )


def _hold_chance(case: BlockAtRisk, shift_c: float) -> float:
    """Return the chance that the night is not colder than expected by more. [0..1]"""
    return float(1.0 - reach_probability(0.0, case.record.sigma_c, shift_c))


def least_chance(case: BlockAtRisk, equipment: str) -> float:
    """Return the least chance of holding with which water is started or goes on."""
    was_called = (equipment, case.block.name) in case.progress.told_starts
    return KEPT_GOING if was_called else SURE_TO_HOLD


def _judged(
    case: BlockAtRisk, facts: WaterFacts, after: float, *, least_chance: float
) -> tuple[Verdict, tuple[RefusalReason, ...]]:
    """Return the verdict by what the water does, and its ground."""
    if _film_breaks(case, facts):
        return Verdict.TOO_LITTLE, (RefusalReason.ROUND_TOO_LONG,)
    rate, table = facts.rate_mm_per_h, facts.table_mm_per_h
    if table is None or rate < max(table, facts.needed_mm_per_h):
        return Verdict.TOO_LITTLE, (RefusalReason.LESS_THAN_NEEDED,)
    if facts.hold_chance < least_chance:
        return Verdict.TOO_LITTLE, (RefusalReason.MAY_NOT_HOLD,)
    if after > case.loss_before + _SAME_LOSS:
        return Verdict.NOT_TONIGHT, (RefusalReason.MORE_HARM,)
    if not saves_enough(case, facts):
        return Verdict.NOT_TONIGHT, (RefusalReason.NO_GAIN,)
    return Verdict.ENOUGH, ()


def saves_enough(case: BlockAtRisk, facts: WaterFacts) -> bool:
    """Return whether water is worth its work even if all is lost where it fails."""
    return worst_loss(case, facts) <= (1.0 - LEAST_SAVING) * case.loss_before


def worst_loss(case: BlockAtRisk, facts: WaterFacts) -> float:
    """Return the expected loss if all is lost in every night below what it holds."""
    lows = np.where(_is_held(case, facts), held_lows(case, facts), _ALL_IS_LOST_C)
    return case.loss_with(lows, facts.reached)


def over_cover(case: BlockAtRisk, facts: WaterFacts, gain_delta_c: float) -> WaterFacts:
    """Return water over a cover that gains something beneath.

    Parameters
    ----------
    case : BlockAtRisk
        The block's night.
    facts : WaterFacts
        The water by itself.
    gain_delta_c : float
        What the cover gains beneath, at the least. [degC]

    Returns
    -------
    WaterFacts
        The cloth may be colder by so much than the buds that must be held: the same
        rate bears air that is colder by it. No figure is published for that.
    """
    if facts.holds_to_air_c is None:
        return facts
    holds_to_c = facts.holds_to_air_c - gain_delta_c
    chance = _hold_chance(case, holds_to_c - facts.low_air_c)
    return replace(facts, holds_to_air_c=holds_to_c, hold_chance=chance)


def _is_windy(method: Method, strongest_mps: float) -> bool:
    """Return whether wind forbids a method."""
    most = method.most_wind_mps
    return most is not None and strongest_mps > most


def _refusal(
    case: BlockAtRisk, facts: WaterFacts, ready_utc: datetime | None, *, is_windy: bool
) -> tuple[Verdict, tuple[RefusalReason, ...]] | None:
    """Return what forbids water tonight, whatever the rate."""
    wet_chance = case.record.wet_probability or 0.0
    latest = facts.latest_start_utc
    if is_windy:
        return Verdict.NOT_TONIGHT, (RefusalReason.TOO_WINDY,)
    if case.record.water_start_utc is None and wet_chance < SURELY_DRY:
        return Verdict.NOT_TONIGHT, (RefusalReason.DRY_ENOUGH,)
    if ready_utc is not None and case.is_too_late(ready_utc, latest):
        return Verdict.NOT_TONIGHT, (RefusalReason.TOO_LATE,)
    return None


def _film_breaks(case: BlockAtRisk, facts: WaterFacts) -> bool:
    """Return whether wetting by hand leaves buds to freeze between two rounds."""
    if facts.round_time is None or facts.longest_round is None:
        return False
    record = case.record
    assert record.wet is not None  # noqa: S101 - humidity is known here
    assert record.dry is not None  # noqa: S101
    is_harmful = (
        record.wet.low_c < case.threshold.alarm_c or record.wet.low_c < record.dry.low_c
    )
    return facts.round_time > facts.longest_round and is_harmful


def _held_c(case: BlockAtRisk) -> float:
    """Return the temperature at which water must hold a bud. [degC]"""
    return min(0.0, case.threshold.alarm_c + HELD_ABOVE_ALARM_C)


def held_lows(case: BlockAtRisk, facts: WaterFacts) -> FloatArray:
    """Return the bud low at each node of the error if the water runs. [degC]

    Where the rate holds, the bud stays where water holds it; in a colder night it falls
    to what a wetted bud reaches without enough water.
    """
    record = case.record
    assert record.wet is not None  # noqa: S101 - humidity is known here
    wet = record.wet.low_c + case.errors_c
    return np.where(_is_held(case, facts), np.maximum(wet, _held_c(case)), wet)


def _is_held(case: BlockAtRisk, facts: WaterFacts) -> BoolArray:
    """Return at which nodes of the error the rate holds."""
    if facts.holds_to_air_c is None:
        return np.zeros(case.errors_c.shape, dtype=np.bool_)
    low_c = case.record.site_low_c
    site_low_c = low_c if low_c is not None else case.bud_low_c
    return np.asarray(site_low_c + case.errors_c >= facts.holds_to_air_c)


def _need(
    case: BlockAtRisk, equipment: Equipment, running: BoolArray, shift_c: float
) -> float:
    """Return the rate that the hardest hour takes. [mm/h] NaN if it is not known."""
    loss = _loss_wpm2(case, running, shift_c)
    rates = needed_rate_mm_per_h(loss, case.organ, equipment.catch_fraction)
    if not np.isfinite(loss).all():
        return float("nan")
    return CALIBRATED_TO_PRACTICE * float(rates.max())


def _loss_wpm2(case: BlockAtRisk, running: BoolArray, shift_c: float) -> FloatArray:
    """Return what an iced surface that is held up loses, hour by hour. [W/m2]"""
    hours = case.hours
    return wetted_loss_wpm2(
        _held_c(case),
        hours.air_c[running] + shift_c,
        hours.dewpoint_c[running] + shift_c,
        hours.wind_2m_mps[running],
        hours.sky[running],
        pressure_hpa=case.pressure_hpa,
    )


def _mean_frozen_mm_per_h(case: BlockAtRisk, running: BoolArray) -> float:
    """Return how much water freezes on the plants in a mean hour. [mm/h]"""
    loss = _loss_wpm2(case, running, 0.0)
    return float(needed_rate_mm_per_h(loss, case.organ, 1.0).mean())


def _table(case: BlockAtRisk, running: BoolArray, shift_c: float) -> TableRate:
    """Return what published tables ask for."""
    low_c = float(case.hours.air_c[running].min()) + shift_c
    return published_rate(low_c, float(case.hours.wind_2m_mps[running].max()))


def _coldest_held_c(
    case: BlockAtRisk, equipment: Equipment, running: BoolArray, rate: float
) -> float | None:
    """Return how much colder it may get with the rate still above both. [degC]"""
    coldest = None
    for shift in _SHIFTS_C:
        table = _table(case, running, float(shift)).mm_per_h
        need = _need(case, equipment, running, float(shift))
        if table is None or rate < table or rate < need:
            break
        coldest = float(shift)
    return coldest


def _film_life(case: BlockAtRisk, running: BoolArray) -> timedelta:
    """Return how long a film lasts on a bud at the hardest hour."""
    hours = case.hours
    loss = wetted_loss_wpm2(
        0.0,
        hours.air_c[running],
        hours.dewpoint_c[running],
        hours.wind_2m_mps[running],
        hours.sky[running],
        pressure_hpa=case.pressure_hpa,
        size_m=ORGAN_SIZE_M[case.organ],
    )
    shortest_s = float(film_life_s(loss).min())
    return timedelta(seconds=min(shortest_s, 24 * 3600.0))


def _stop_utc(case: BlockAtRisk) -> datetime:
    """Return when the wet bulb is above zero for good."""
    thaw = case.record.wet_bulb_above_zero_utc
    if thaw is not None:
        return max(case.end_utc, thaw)
    return _stop_after(case, np.flatnonzero(case.hours.wet_bulb_c <= STOP_WET_BULB_C))


def _stop_after(case: BlockAtRisk, cold: NDArray[np.intp]) -> datetime:
    """Return the end of the last of some hours, never before the harm is over."""
    if not cold.size:
        return case.end_utc
    return max(case.end_utc, case.hours.moment(int(cold[-1]) + 1))


def _cold_span(case: BlockAtRisk) -> tuple[datetime, datetime]:
    """Return from when to when water runs in the night colder than nine in ten."""
    start, _ = case.cold_span(case.hours.wet_bulb_c, START_WET_BULB_C)
    shift = COLD_NIGHT * case.record.sigma_c
    cold = np.flatnonzero(case.hours.wet_bulb_c - shift <= STOP_WET_BULB_C)
    return start, max(_stop_utc(case), _stop_after(case, cold))
