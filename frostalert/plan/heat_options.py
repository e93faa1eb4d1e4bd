"""What heaters and small fires are worth in one block."""

import math
from bisect import bisect_left
from dataclasses import replace

from frostalert.model.equipment import Equipment
from frostalert.model.method import RefusalReason
from frostalert.model.plan import GainFacts, Option, Resource, Verdict
from frostalert.physics.bud import clear_sky_loss_wpm2
from frostalert.physics.heat import (
    HEAT_KEPT,
    MOST_HEAT_GAIN_C,
    heat_gain_delta_c,
    kept_heat_wpm2,
)
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.warm_judgement import (
    cold_hours_h,
    judged,
    measured_words,
    unknown,
)
from frostalert.plan.wind import BURN_OUT, calm_until_utc

SURE_SHARE_OF_GAIN = 0.5
"""Share of its gain that heat is sure of. [1] Common practice, no source: less may stay
than the upper end of what was read, and a small site loses more at its edges."""
_LEAST_LOSS_WPM2 = 20.0
"""Even under cloud the ground loses something. [W/m2] Common practice, no source."""
_STEPS = 3
"""Steps from the most pieces that are offered to the fewest. Our own."""


def heat_options(case: BlockAtRisk, equipment: Equipment) -> list[Option]:
    """Return what heat is worth with the most pieces that save more, and with fewer.

    Fewer pieces leave some for other blocks, and burn less: among them is the most that
    the fuel lasts for. What is refused with the most pieces is refused with any.
    """
    area = equipment.area_m2 or case.block.area_m2
    assert area is not None  # noqa: S101 - asked for before
    assert equipment.heat_each_w is not None  # noqa: S101 - its row asks for them
    assert equipment.count is not None  # noqa: S101
    lost = _night_loss_wpm2(case)
    if math.isnan(lost):
        return [unknown(case, equipment, RefusalReason.NO_HUMIDITY)]
    one = kept_heat_wpm2(1, equipment.heat_each_w, area)

    def burning(count: int) -> Option:
        facts = _heat_facts(case, equipment, count * one, lost)
        uses = _fire_uses(case, equipment, count)
        option = judged(case, equipment, facts, uses, units=count)
        return _out_before_wind(case, equipment, option)

    most = burning(min(equipment.count, math.ceil(lost / one)))
    if most.verdict is not Verdict.HOLDS:
        # More than the night takes away makes up for heat that does not stay.
        sure = math.ceil(lost / one / SURE_SHARE_OF_GAIN)
        most = burning(min(equipment.count, sure))
    if not most.can_be_chosen:
        return [most]
    every = range(1, most.units + 1)
    least = every[bisect_left(every, True, key=lambda n: burning(n).can_be_chosen)]
    lasting = _lasting_units(case, equipment)
    counts = {least + (most.units - least) * n // _STEPS for n in range(_STEPS + 1)}
    counts |= {lasting} & set(range(least, most.units))
    return [burning(count) for count in sorted(counts, reverse=True)]


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
    """Return what a heat gains, at the least and if all of it stays."""
    high, sure = heat_gain_delta_c(gained, lost), MOST_HEAT_GAIN_C
    source = f"derived: {100 * HEAT_KEPT:.0f} % of the heat stays, against the loss"
    own = equipment.gain_delta_c
    if own is not None and equipment.is_measured:
        source = measured_words(equipment)
        # What thermometers taught lowers the range's lower end, and no more.
        is_learned = bool(equipment.gain_nights)
        sure = min(own, sure) if is_learned else own
        high = high if is_learned else min(1.0, gained / lost) * own
    return GainFacts(
        low_delta_c=min(high, SURE_SHARE_OF_GAIN * sure * gained / lost),
        high_delta_c=high,
        source=source,
        gained_wpm2=gained,
        lost_wpm2=lost,
    )


def _lasting_units(case: BlockAtRisk, equipment: Equipment) -> int:
    """Return for how many pieces the fuel lasts through the coldest night of ten."""
    fuel = equipment.fuel
    if fuel is None or not fuel.burned_per_h:
        return 0
    return math.floor(fuel.stock / (fuel.burned_per_h * cold_hours_h(case)))


def _fire_uses(
    case: BlockAtRisk, equipment: Equipment, count: int
) -> tuple[tuple[Resource, str, float], ...]:
    """Return the pieces, and the fuel for the night colder than nine in ten."""
    uses = [(Resource.UNITS, equipment.name, float(count))]
    if equipment.fuel is not None:
        burned = count * equipment.fuel.burned_per_h * cold_hours_h(case)
        uses.append((Resource.FUEL, equipment.name, burned))
    return tuple(uses)
