"""What heaters and small fires are worth in one block."""

import math
from dataclasses import replace

from frostalert.model.equipment import Equipment
from frostalert.model.method import RefusalReason
from frostalert.model.plan import GainFacts, Option, Resource, Verdict
from frostalert.physics.bud import clear_sky_loss_wpm2
from frostalert.physics.heat import HEAT_KEPT, heat_gain_delta_c, kept_heat_wpm2
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.warm_judgement import (
    cold_hours_h,
    judged,
    measured_words,
    refused,
    unknown,
)
from frostalert.plan.wind import BURN_OUT, calm_until_utc

ENOUGH_HEAT = 0.5
"""Share of the night's loss below which heat will not hold. [1] Common practice, no
source."""
_LEAST_LOSS_WPM2 = 20.0
"""Even under cloud the ground loses something. [W/m2] Common practice, no source."""


def heat_options(case: BlockAtRisk, equipment: Equipment) -> list[Option]:
    """Return what heat is worth with enough pieces for all of the loss, and for less.

    Fewer pieces leave some for other blocks.
    """
    area = equipment.area_m2 or case.block.area_m2
    assert area is not None  # noqa: S101 - asked for before
    assert equipment.heat_each_w is not None  # noqa: S101 - its row asks for them
    assert equipment.count is not None  # noqa: S101
    lost = _night_loss_wpm2(case)
    if math.isnan(lost):
        return [unknown(case, equipment, RefusalReason.NO_HUMIDITY)]
    one = kept_heat_wpm2(1, equipment.heat_each_w, area)
    most = min(equipment.count, math.ceil(lost / one))
    if most * one < ENOUGH_HEAT * lost:
        facts = _heat_facts(case, equipment, most * one, lost)
        option = refused(
            case, equipment, Verdict.WILL_NOT_HOLD, RefusalReason.LITTLE_HEAT, facts
        )
        return [option]
    least = math.ceil(ENOUGH_HEAT * lost / one)
    counts = sorted({most, (most + least) // 2, least}, reverse=True)
    options = []
    for count in counts:
        facts = _heat_facts(case, equipment, count * one, lost)
        uses = _fire_uses(case, equipment, count)
        option = judged(case, equipment, facts, uses, units=count)
        options.append(_out_before_wind(case, equipment, option))
    return options


def _out_before_wind(case: BlockAtRisk, equipment: Equipment, option: Option) -> Option:
    """Return heat with the hour to put it out by, where wind comes up too early."""
    if option.start_utc is None or option.cold_end_utc is None:
        return option
    lit_utc = max(option.start_utc, case.now_utc)
    windy_utc = calm_until_utc(case, equipment.method, lit_utc)
    if windy_utc is None or windy_utc - BURN_OUT > option.cold_end_utc:
        return option
    out_by = max(lit_utc, windy_utc - BURN_OUT)
    ends = [i for i in (option.end_utc, out_by) if i is not None]
    return replace(option, out_by_utc=out_by, end_utc=min(ends))


def _night_loss_wpm2(case: BlockAtRisk) -> float:
    """Return the net loss of the ground at the hour of the low. [W/m2]"""
    hours = case.hours
    loss = clear_sky_loss_wpm2(hours.air_c, hours.dewpoint_c) * hours.sky
    running = case.ahead(case.end_utc)
    most = float(loss[running].max())
    # A gap is no mild hour: comparing with NaN must not pass for the least loss.
    return most if math.isnan(most) else max(_LEAST_LOSS_WPM2, most)


def _heat_facts(
    case: BlockAtRisk, equipment: Equipment, gained: float, lost: float
) -> GainFacts:
    """Return what a heat gains."""
    gain = heat_gain_delta_c(gained, lost)
    low, is_learned = 0.5 * gain, bool(equipment.gain_nights)
    source = f"derived: {100 * HEAT_KEPT:.0f} % of the heat stays, against the loss"
    if equipment.gain_delta_c is not None and equipment.is_measured:
        own = min(1.0, gained / lost) * equipment.gain_delta_c
        source = measured_words(equipment)
        # What thermometers taught lowers the range's lower end, and no more.
        low, gain = (0.5 * min(own, gain), gain) if is_learned else (0.5 * own, own)
    return GainFacts(
        low_delta_c=low,
        high_delta_c=gain,
        source=source,
        gained_wpm2=gained,
        lost_wpm2=lost,
    )


def _fire_uses(
    case: BlockAtRisk, equipment: Equipment, count: int
) -> tuple[tuple[Resource, str, float], ...]:
    """Return the pieces, and the fuel for the night colder than nine in ten."""
    uses = [(Resource.UNITS, equipment.name, float(count))]
    if equipment.fuel is not None:
        burned = count * equipment.fuel.burned_per_h * cold_hours_h(case)
        uses.append((Resource.FUEL, equipment.name, burned))
    return tuple(uses)
