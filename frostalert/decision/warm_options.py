"""What warming is worth in one block: covers, heat, lamps, fans, water underneath."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from frostalert.decision.block_case import Case
from frostalert.decision.methods import METHODS, Method, MethodKind
from frostalert.model.assessment import NightKind
from frostalert.model.equipment import Equipment
from frostalert.model.forecast import HOUR, FloatArray
from frostalert.model.plan import GainFacts, Ground, Option, Resource, Verdict
from frostalert.physics.bud import clear_sky_loss_wpm2
from frostalert.physics.heat import (
    HEAT_KEPT,
    heat_gain_delta_c,
    kept_heat_wpm2,
    lamp_gain_delta_c,
)

_F = 5.0 / 9.0
THIN_COVER_G_PER_M2 = 30.0
"""Weight from which a cover counts as thick. [g/m2] About 0.9 oz/yd2 (from memory)."""
_COVERS = (
    (2.0 * _F, 3.0 * _F, "thin cover, 2 to 3 F: Univ. of Maine Extension, 2023"),
    (4.0 * _F, 6.0 * _F, "thick cover, 4 to 6 F: Univ. of Maine Extension, 2023"),
)
_FAN = (0.0, 1.0, "0 to 1 C measured in an apple orchard: Ribeiro 2002, in FAO, p. 159")
# rate from [mm/h], gain from and to [degC], source
_UNDER_PLANT = (
    (2.2, 1.0 * _F, 3.0 * _F, "1 to 3 F at 40 gpm an acre: R. Evans, USDA-ARS"),
    (1.7, 1.0 * _F, 2.0 * _F, "1 to 2 F at 30 gpm an acre: UC trials in almonds"),
    (0.84, 0.0, 1.0 * _F, "little difference at 15 gpm an acre: UC trials in almonds"),
)
LINES_FREEZE_MM_PER_H = 0.84
"""Rate below which lines freeze. [mm/h] 15 gpm an acre: UC Cooperative Extension,
2011."""
ENOUGH_HEAT = 0.5
"""Share of the night's loss below which heat will not hold. [1] Common practice, no
source."""
LIT_ABOVE_ALARM_C = 1.0
"""How far above the alarm temperature heat is lit. [degC] Common practice, no
source."""
MOST_HEAT_GAIN_C = 3.0
"""Most that heat is credited with, whatever the balance says. [degC] Common practice,
no source: a small site loses heat at its edges (FAO, vol. 1, p. 152)."""
_SURE_SHARE = 0.75
"""Share of a derived gain that is counted with. [1] Common practice, no source."""
_LEAST_LOSS_WPM2 = 20.0
"""Even under cloud the ground loses something. [W/m2] Common practice, no source."""
_LEAST_SAVING = 0.1
"""Share of the loss that a method must save to be worth its work. [1] Common practice,
no source."""


def warm_options(
    case: Case, equipment: Equipment, served_m2: float | None
) -> list[Option]:
    """Return what an equipment that warms is worth in a block.

    Parameters
    ----------
    case : Case
        The block's night.
    equipment : Equipment
        What there is.
    served_m2 : float or None
        Ground of all blocks that one installation serves together. [m2]

    Returns
    -------
    list of Option
        One; for heat one for each useful number of heaters or fires.

    References
    ----------
    .. [1] See the constants of this module and `physics.heat`.
    """
    method = METHODS[equipment.method]
    refused = _refusal(case, equipment, method)
    if refused is not None:
        option = _refused(case, equipment, Verdict.NOT_TONIGHT, refused)
        if refused in (Ground.FIRE_WIND, Ground.TOO_WINDY):
            option = replace(option, wind_mps=_most_wind_mps(case))
        return [option]
    reckon = _RECKONED[method.kind]
    return reckon(case, equipment, served_m2)


def _refusal(case: Case, equipment: Equipment, method: Method) -> Ground | None:
    """Return what forbids a method tonight, whatever it gains."""
    running = case.ahead(case.end_utc)
    wind = case.hours.wind_2m_mps[running]
    if method.kind is MethodKind.FIRE:
        for forbidden, ground in (
            (case.block.is_tunnel, Ground.ROOF),
            (case.block.has_straw, Ground.STRAW),
            (equipment.hands < 1, Ground.UNATTENDED),
        ):
            if forbidden:
                return ground
    if method.most_wind_mps is not None:
        # Wind that is not known may be too strong: NaN fails the comparison.
        if not (wind <= method.most_wind_mps).all():
            return Ground.FIRE_WIND if method.is_open_fire else Ground.TOO_WINDY
        if case.kind is NightKind.ADVECTION and method.kind is not MethodKind.FIRE:
            return Ground.NO_INVERSION
    return None


def _most_wind_mps(case: Case) -> float | None:
    """Return the strongest wind at 2 m while harm is expected. [m/s]"""
    running = case.ahead(case.end_utc)
    most = float(case.hours.wind_2m_mps[running].max())
    return most if math.isfinite(most) else None


def _own_gain(equipment: Equipment) -> tuple[float, float, str] | None:
    """Return the range of gain that the configuration gives, and whose it is."""
    gain = equipment.gain_delta_c
    if gain is None:
        return None
    if equipment.is_measured:
        return gain, gain, "measured here"
    return 0.0, gain, "the maker's figure"


def _cover(case: Case, equipment: Equipment, served_m2: float | None) -> list[Option]:
    """Return what a cover is worth by its weight."""
    del served_m2
    if equipment.area_m2 is not None and case.block.protected_area_m2 is None:
        return [_unknown(case, equipment, Ground.UNKNOWN_SIZE)]
    found = _own_gain(equipment)
    if found is None and equipment.weight_g_per_m2 is None:
        return [_unknown(case, equipment, Ground.UNKNOWN_NUMBERS)]
    if found is None:
        is_thick = (equipment.weight_g_per_m2 or 0.0) >= THIN_COVER_G_PER_M2
        found = _COVERS[is_thick]
    low, high, source = found
    if case.kind is NightKind.ADVECTION:
        low, source = 0.0, f"{source}; less in wind, down to nothing"
    pieces, reached = _covered(case, equipment)
    facts = GainFacts(
        low_delta_c=low, high_delta_c=high, source=source, reached=reached
    )
    uses = _cover_uses(case, equipment, pieces)
    return [_judged(case, equipment, facts, uses, units=pieces, share=reached)]


def _covered(case: Case, equipment: Equipment) -> tuple[int, float]:
    """Return how many pieces a block gets, and the share of it under them.

    Pieces that are counted are for one plant each; the others go by their area.
    """
    area = case.block.protected_area_m2
    by_area = 1.0
    if equipment.area_m2 is not None and area:
        by_area = min(1.0, equipment.area_m2 / area)
    plants = case.block.plants
    if equipment.count is None or plants is None:
        return equipment.count or 0, by_area
    pieces = min(plants, equipment.count)
    return pieces, min(by_area, pieces / plants)


def _fan(case: Case, equipment: Equipment, served_m2: float | None) -> list[Option]:
    """Return what a fan is worth where the inversion is not known."""
    del served_m2
    low, high, source = _own_gain(equipment) or _FAN
    facts = GainFacts(low_delta_c=low, high_delta_c=high, source=source)
    return [_judged(case, equipment, facts, ())]


def _under_plant(
    case: Case, equipment: Equipment, served_m2: float | None
) -> list[Option]:
    """Return what water under the plants is worth by its rate."""
    area = case.block.protected_area_m2
    if equipment.flow_l_per_h is None:
        return [_unknown(case, equipment, Ground.UNKNOWN_NUMBERS)]
    if area is None or not served_m2:
        return [_unknown(case, equipment, Ground.UNKNOWN_SIZE)]
    rate = equipment.flow_l_per_h / served_m2
    found = next((row for row in _UNDER_PLANT if rate >= row[0]), None)
    if found is None:
        return [_refused(case, equipment, Verdict.NOT_TONIGHT, Ground.LINES_FREEZE)]
    low, high, source = _own_gain(equipment) or found[1:]
    facts = GainFacts(low_delta_c=low, high_delta_c=high, source=source)
    litres = rate * area * _cold_hours_h(case)
    return [_judged(case, equipment, facts, ((Resource.WATER, "", litres),))]


def _lamp(case: Case, equipment: Equipment, served_m2: float | None) -> list[Option]:
    """Return what lamps under covers are worth, for the plants that get one."""
    del served_m2
    plants = case.block.plants
    found = _own_gain(equipment) or _lamp_gain(equipment)
    if found is None or equipment.count is None:
        return [_unknown(case, equipment, Ground.UNKNOWN_NUMBERS)]
    if plants is None:
        return [_unknown(case, equipment, Ground.UNKNOWN_SIZE)]
    low, high, source = found
    units = min(plants, equipment.count)
    facts = GainFacts(
        low_delta_c=low, high_delta_c=high, source=source, reached=units / plants
    )
    uses = ((Resource.UNITS, equipment.name, float(units)),)
    return [_judged(case, equipment, facts, uses, units=units, share=units / plants)]


def _lamp_gain(equipment: Equipment) -> tuple[float, float, str] | None:
    """Return the range that a lamp's heat gives under its cover, if both are known."""
    heat, skin = equipment.heat_each_w, equipment.skin_each_m2
    if not heat or not skin:
        return None
    gain = lamp_gain_delta_c(heat, skin)
    source = "derived: heat of the lamp over the loss through its cover"
    return gain * _SURE_SHARE, gain, source


def _fire(case: Case, equipment: Equipment, served_m2: float | None) -> list[Option]:
    """Return what heat is worth with enough pieces for all of the loss, and for less.

    Fewer pieces leave some for other blocks.
    """
    del served_m2
    area = case.block.protected_area_m2
    if not equipment.heat_each_w or equipment.count is None:
        return [_unknown(case, equipment, Ground.UNKNOWN_NUMBERS)]
    if area is None:
        return [_unknown(case, equipment, Ground.UNKNOWN_SIZE)]
    lost = _night_loss_wpm2(case)
    if math.isnan(lost):
        return [_unknown(case, equipment, Ground.NO_HUMIDITY)]
    one = kept_heat_wpm2(1, equipment.heat_each_w, area)
    most = min(equipment.count, math.ceil(lost / one))
    if most * one < ENOUGH_HEAT * lost:
        facts = _heat_facts(case, equipment, most * one, lost)
        option = _refused(
            case, equipment, Verdict.WILL_NOT_HOLD, Ground.LITTLE_HEAT, facts
        )
        return [option]
    least = math.ceil(ENOUGH_HEAT * lost / one)
    counts = sorted({most, (most + least) // 2, least}, reverse=True)
    options = []
    for count in counts:
        facts = _heat_facts(case, equipment, count * one, lost)
        uses = _fire_uses(case, equipment, count)
        gained = count * one / lost
        warm = None if _has_own_gain(equipment) else _heated(case, gained)
        options.append(_judged(case, equipment, facts, uses, units=count, warm=warm))
    return options


def _has_own_gain(equipment: Equipment) -> bool:
    """Return whether a gain was measured here."""
    return equipment.gain_delta_c is not None and equipment.is_measured


def _heated(case: Case, share: float) -> Callable[[FloatArray], FloatArray]:
    """Return what heat makes of each low: the more it would fall, the more it holds."""
    lit_c = case.threshold.alarm_c + LIT_ABOVE_ALARM_C

    def warm(lows_c: FloatArray) -> FloatArray:
        gain = _SURE_SHARE * min(1.0, share) * np.maximum(lit_c - lows_c, 0.0)
        return lows_c + np.minimum(gain, MOST_HEAT_GAIN_C)

    return warm


def _night_loss_wpm2(case: Case) -> float:
    """Return the net loss of the ground at the hour of the low. [W/m2]"""
    hours = case.hours
    loss = clear_sky_loss_wpm2(hours.air_c, hours.dewpoint_c) * hours.sky
    running = case.ahead(case.end_utc)
    most = float(loss[running].max())
    # A gap is no mild hour: comparing with NaN must not pass for the least loss.
    return most if math.isnan(most) else max(_LEAST_LOSS_WPM2, most)


def _heat_facts(
    case: Case, equipment: Equipment, gained: float, lost: float
) -> GainFacts:
    """Return what a heat gains."""
    fall = case.threshold.alarm_c + LIT_ABOVE_ALARM_C - case.bud_low_c
    gain = min(MOST_HEAT_GAIN_C, heat_gain_delta_c(gained, lost, fall))
    source = f"derived: {100 * HEAT_KEPT:.0f} % of the heat stays, against the loss"
    if equipment.gain_delta_c is not None and _has_own_gain(equipment):
        gain = min(1.0, gained / lost) * equipment.gain_delta_c
        source = "measured here"
    return GainFacts(
        low_delta_c=0.5 * gain,
        high_delta_c=gain,
        source=source,
        gained_wpm2=gained,
        lost_wpm2=lost,
    )


def _fire_uses(
    case: Case, equipment: Equipment, count: int
) -> tuple[tuple[Resource, str, float], ...]:
    """Return the pieces, and the fuel for the night colder than nine in ten."""
    uses = [(Resource.UNITS, equipment.name, float(count))]
    if equipment.fuel is not None:
        burned = count * equipment.fuel.burned_per_h * _cold_hours_h(case)
        uses.append((Resource.FUEL, equipment.name, burned))
    return tuple(uses)


def _cold_span(case: Case) -> tuple[datetime, datetime]:
    """Return from when to when warmth is wanted in the coldest night of ten."""
    return case.cold_span(case.hours.dry_c, case.threshold.alarm_c + LIT_ABOVE_ALARM_C)


def _cold_hours_h(case: Case) -> float:
    """Return how long that is. [h]"""
    start, end = _cold_span(case)
    return (end - start) / HOUR


def _cover_uses(
    case: Case, equipment: Equipment, pieces: int
) -> tuple[tuple[Resource, str, float], ...]:
    """Return the cover and the daylight that a block takes."""
    uses: list[tuple[Resource, str, float]] = []
    area = case.block.protected_area_m2
    if equipment.area_m2 is not None and area is not None:
        covered = min(area, equipment.area_m2)
        uses.append((Resource.AREA, equipment.name, covered))
    if pieces:
        uses.append((Resource.UNITS, equipment.name, float(pieces)))
    if equipment.time_each is not None:
        work = equipment.time_each * max(1, pieces)
        uses.append((Resource.DAYLIGHT, "", work / timedelta(minutes=1)))
    return tuple(uses)


def _judged(
    case: Case,
    equipment: Equipment,
    facts: GainFacts,
    uses: tuple[tuple[Resource, str, float], ...],
    *,
    units: int = 0,
    share: float = 1.0,
    warm: Callable[[FloatArray], FloatArray] | None = None,
) -> Option:
    """Return an option with its verdict; `share` of the plants are reached."""
    before = case.loss_before
    warmed = case.loss_with(warm or (lambda lows: lows + facts.middle_delta_c))
    after = before - share * (before - warmed)
    alarm = case.threshold.alarm_c
    grounds: tuple[Ground, ...] = ()
    if case.bud_low_c + facts.low_delta_c > alarm and share >= 1.0:
        verdict = Verdict.HOLDS
    elif before - after >= _LEAST_SAVING * before * share:
        verdict = Verdict.PARTLY
    else:
        verdict, grounds = Verdict.WILL_NOT_HOLD, (Ground.NO_GAIN,)
    cold_start, cold_end = _cold_span(case)
    return Option(
        equipment=equipment.name,
        method=equipment.method,
        block=case.block.name,
        verdict=verdict,
        grounds=grounds,
        facts=facts,
        loss_before=before,
        loss_after=after,
        worth=case.weight * (before - after),
        uses=uses,
        units=units,
        start_utc=case.start_utc,
        end_utc=case.end_utc,
        cold_start_utc=cold_start,
        cold_end_utc=cold_end,
        is_running=case.is_begun,
    )


def _refused(
    case: Case,
    equipment: Equipment,
    verdict: Verdict,
    ground: Ground,
    facts: GainFacts | None = None,
) -> Option:
    """Return an option that is not to be used."""
    return Option(
        equipment=equipment.name,
        method=equipment.method,
        block=case.block.name,
        verdict=verdict,
        grounds=(ground,),
        facts=facts,
        loss_before=case.loss_before,
        loss_after=case.loss_before,
    )


def _unknown(case: Case, equipment: Equipment, ground: Ground) -> Option:
    """Return an option that cannot be reckoned."""
    return _refused(case, equipment, Verdict.NOT_RECKONED, ground)


_RECKONED: dict[MethodKind, Callable[[Case, Equipment, float | None], list[Option]]] = {
    MethodKind.COVER: _cover,
    MethodKind.FIRE: _fire,
    MethodKind.FAN: _fan,
    MethodKind.LAMP: _lamp,
    MethodKind.UNDER_PLANT_WATER: _under_plant,
}
