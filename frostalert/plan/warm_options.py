"""What warming is worth in one block: covers, heat, lamps, fans, water underneath."""

import math
from dataclasses import replace
from datetime import timedelta
from typing import assert_never

import numpy as np

from frostalert.agronomy.methods import METHODS, Method, MethodKind
from frostalert.model.assessment import NightKind
from frostalert.model.equipment import Equipment
from frostalert.model.plan import GainFacts, Ground, Option, Resource, Verdict
from frostalert.physics.heat import lamp_gain_delta_c
from frostalert.plan.block_case import Case
from frostalert.plan.heat_options import heat_options
from frostalert.plan.warm_judgement import (
    SURE_SHARE,
    cold_hours_h,
    judged,
    own_gain,
    refused,
    unknown,
)

_F = 5.0 / 9.0
THIN_COVER_G_PER_M2 = 30.0
"""Weight from which a cover counts as thick. [g/m2] About 0.9 oz/yd2 (from memory)."""
_COVERS = (
    (2.0 * _F, 3.0 * _F, "thin cover, 2 to 3 F: Univ. of Maine Extension, 2023"),
    (4.0 * _F, 6.0 * _F, "thick cover, 4 to 6 F: Univ. of Maine Extension, 2023"),
)
LEAST_INVERSION_C = 1.0
"""Air some 80 m up that is not warmer by this leaves a fan nothing to bring down.
[degC] Common practice, no source."""
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
    ground = _refusal(case, equipment, method)
    if ground is not None:
        option = refused(case, equipment, Verdict.NOT_TONIGHT, ground)
        if ground in (Ground.FIRE_WIND, Ground.TOO_WINDY):
            option = replace(option, wind_mps=_most_wind_mps(case))
        return [option]
    return _by_kind(case, equipment, served_m2)


def _by_kind(case: Case, equipment: Equipment, served_m2: float | None) -> list[Option]:
    """Return what an equipment is worth by what it works by."""
    kind = METHODS[equipment.method].kind
    match kind:
        case MethodKind.COVER:
            return _cover(case, equipment)
        case MethodKind.FIRE:
            return heat_options(case, equipment, served_m2)
        case MethodKind.FAN:
            return _fan(case, equipment)
        case MethodKind.LAMP:
            return _lamp(case, equipment)
        case MethodKind.UNDER_PLANT_WATER:
            return _under_plant(case, equipment, served_m2)
        case MethodKind.OVER_PLANT_WATER | MethodKind.HAND_WATER:
            # What wets buds is judged by `plan.water_options`.
            return [unknown(case, equipment, Ground.UNKNOWN_NUMBERS)]
        case _:
            assert_never(kind)


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
        if (wind > method.most_wind_mps).any():
            return Ground.FIRE_WIND if method.is_open_fire else Ground.TOO_WINDY
        if np.isnan(wind).any():
            return Ground.NO_HUMIDITY  # wind that is not known may be too strong
        if case.kind is NightKind.ADVECTION and method.kind is not MethodKind.FIRE:
            return Ground.NO_INVERSION
    return None


def _most_wind_mps(case: Case) -> float | None:
    """Return the strongest wind at 2 m while harm is expected. [m/s]"""
    running = case.ahead(case.end_utc)
    most = float(case.hours.wind_2m_mps[running].max())
    return most if math.isfinite(most) else None


def _cover(case: Case, equipment: Equipment) -> list[Option]:
    """Return what a cover is worth by its weight."""
    if equipment.area_m2 is not None and case.block.protected_area_m2 is None:
        return [unknown(case, equipment, Ground.UNKNOWN_SIZE)]
    weight = equipment.weight_g_per_m2
    published = None if weight is None else _COVERS[weight >= THIN_COVER_G_PER_M2]
    found = own_gain(equipment, published) or published
    if found is None:
        return [unknown(case, equipment, Ground.UNKNOWN_NUMBERS)]
    low, high, source = found
    if case.kind is NightKind.ADVECTION:
        low, source = 0.0, f"{source}; less in wind, down to nothing"
    pieces, reached = _covered(case, equipment)
    facts = GainFacts(
        low_delta_c=low, high_delta_c=high, source=source, reached=reached
    )
    uses = _cover_uses(case, equipment, pieces)
    return [judged(case, equipment, facts, uses, units=pieces, share=reached)]


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


def _fan(case: Case, equipment: Equipment) -> list[Option]:
    """Return what a fan is worth, if there is warmer air to bring down.

    The forecast's inversion is that of the open air up to 80 m; what of it a fan brings
    down is not known, so that it only ever forbids.
    """
    aloft = case.hours.aloft_delta_c[case.ahead(case.end_utc)]
    known = aloft[np.isfinite(aloft)]
    strongest = float(known.max()) if known.size else None
    if strongest is not None and strongest < LEAST_INVERSION_C:
        return [refused(case, equipment, Verdict.NOT_TONIGHT, Ground.FLAT_AIR)]
    low, high, source = own_gain(equipment, _FAN) or _FAN
    if strongest is not None:
        source += f"; by this forecast 80 m up it is {strongest:.0f} C warmer"
    facts = GainFacts(low_delta_c=low, high_delta_c=high, source=source)
    return [judged(case, equipment, facts, ())]


def _under_plant(
    case: Case, equipment: Equipment, served_m2: float | None
) -> list[Option]:
    """Return what water under the plants is worth by its rate."""
    area = case.block.protected_area_m2
    if equipment.flow_l_per_h is None:
        return [unknown(case, equipment, Ground.UNKNOWN_NUMBERS)]
    if area is None or not served_m2:
        return [unknown(case, equipment, Ground.UNKNOWN_SIZE)]
    rate = equipment.flow_l_per_h / served_m2
    found = next((row for row in _UNDER_PLANT if rate >= row[0]), None)
    if found is None:
        return [refused(case, equipment, Verdict.NOT_TONIGHT, Ground.LINES_FREEZE)]
    low, high, source = own_gain(equipment, found[1:]) or found[1:]
    facts = GainFacts(low_delta_c=low, high_delta_c=high, source=source)
    litres = rate * area * cold_hours_h(case)
    return [judged(case, equipment, facts, ((Resource.WATER, "", litres),))]


def _lamp(case: Case, equipment: Equipment) -> list[Option]:
    """Return what lamps under covers are worth, for the plants that get one."""
    plants = case.block.plants
    derived = _lamp_gain(equipment)
    found = own_gain(equipment, derived) or derived
    if found is None or equipment.count is None:
        return [unknown(case, equipment, Ground.UNKNOWN_NUMBERS)]
    if plants is None:
        return [unknown(case, equipment, Ground.UNKNOWN_SIZE)]
    low, high, source = found
    units = min(plants, equipment.count)
    facts = GainFacts(
        low_delta_c=low, high_delta_c=high, source=source, reached=units / plants
    )
    uses = ((Resource.UNITS, equipment.name, float(units)),)
    return [judged(case, equipment, facts, uses, units=units, share=units / plants)]


def _lamp_gain(equipment: Equipment) -> tuple[float, float, str] | None:
    """Return the range that a lamp's heat gives under its cover, if both are known."""
    heat, skin = equipment.heat_each_w, equipment.skin_each_m2
    if not heat or not skin:
        return None
    gain = lamp_gain_delta_c(heat, skin)
    source = "derived: heat of the lamp over the loss through its cover"
    return gain * SURE_SHARE, gain, source


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
