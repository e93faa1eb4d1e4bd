"""What warming is worth in one block: covers, lamps, fans, water underneath."""

from datetime import timedelta

import numpy as np

from frostalert.model.assessment import NightKind
from frostalert.model.equipment import Equipment
from frostalert.model.method import RefusalReason
from frostalert.model.plan import GainFacts, Option, Resource, Verdict
from frostalert.physics.heat import lamp_gain_delta_c
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.served import Served
from frostalert.plan.warm_judgement import (
    SURE_SHARE,
    cold_hours_h,
    judged,
    measured_gain,
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


def cover_options(case: BlockAtRisk, equipment: Equipment) -> list[Option]:
    """Return what a cover is worth by its weight."""
    if equipment.area_m2 is not None and case.block.protected_area_m2 is None:
        return [unknown(case, equipment, RefusalReason.UNKNOWN_SIZE)]
    weight = equipment.weight_g_per_m2
    published = None if weight is None else _COVERS[weight >= THIN_COVER_G_PER_M2]
    found = measured_gain(equipment, published) or published
    assert found is not None  # noqa: S101 - its row asks for one of them
    low, high, source = found
    if case.kind is NightKind.ADVECTION:
        low, source = 0.0, f"{source}; less in wind, down to nothing"
    pieces, reached = _covered(case, equipment)
    facts = GainFacts(
        low_delta_c=low, high_delta_c=high, source=source, reached=reached
    )
    uses = _cover_uses(case, equipment, pieces)
    return [judged(case, equipment, facts, uses, units=pieces, share=reached)]


def _covered(case: BlockAtRisk, equipment: Equipment) -> tuple[int, float]:
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


def fan_options(case: BlockAtRisk, equipment: Equipment) -> list[Option]:
    """Return what a fan is worth, if there is warmer air to bring down."""
    # The forecast's inversion is that of the open air up to 80 m; what of it a fan
    # brings down is not known, so that it only ever forbids.
    aloft = case.hours.aloft_delta_c[case.ahead(case.end_utc)]
    known = aloft[np.isfinite(aloft)]
    strongest = float(known.max()) if known.size else None
    if strongest is not None and strongest < LEAST_INVERSION_C:
        return [refused(case, equipment, Verdict.NOT_TONIGHT, RefusalReason.FLAT_AIR)]
    low, high, source = measured_gain(equipment, _FAN) or _FAN
    if strongest is not None:
        source += f"; by this forecast 80 m up it is {strongest:.0f} C warmer"
    facts = GainFacts(low_delta_c=low, high_delta_c=high, source=source)
    return [judged(case, equipment, facts, ())]


def under_plant_options(
    case: BlockAtRisk, equipment: Equipment, served: Served
) -> list[Option]:
    """Return what water under the plants is worth by its rate."""
    area = case.block.protected_area_m2
    assert equipment.flow_l_per_h is not None  # noqa: S101 - its row asks for it
    if area is None or not served.ground_m2:
        return [unknown(case, equipment, RefusalReason.UNKNOWN_SIZE)]
    flow = equipment.flow_l_per_h
    rate = flow / served.ground_m2
    found = next((row for row in _UNDER_PLANT if rate >= row[0]), None)
    if found is None:
        return [
            refused(case, equipment, Verdict.NOT_TONIGHT, RefusalReason.LINES_FREEZE)
        ]
    low, high, source = measured_gain(equipment, found[1:]) or found[1:]
    facts = GainFacts(low_delta_c=low, high_delta_c=high, source=source)
    watered_m2 = min(area, served.ground_m2)
    litres = served.flow_l_per_h(flow, watered_m2) * cold_hours_h(case)
    return [judged(case, equipment, facts, ((Resource.WATER, "", litres),))]


def lamp_options(case: BlockAtRisk, equipment: Equipment) -> list[Option]:
    """Return what lamps under covers are worth, for the plants that get one."""
    plants = case.block.plants
    derived = _lamp_gain(equipment)
    found = measured_gain(equipment, derived) or derived
    assert found is not None  # noqa: S101 - its row asks for them
    assert equipment.count is not None  # noqa: S101
    if plants is None:
        return [unknown(case, equipment, RefusalReason.UNKNOWN_SIZE)]
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
    case: BlockAtRisk, equipment: Equipment, pieces: int
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
