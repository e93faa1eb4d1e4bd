"""What heaters and small fires are worth in one block."""

import math
from collections.abc import Callable

import numpy as np

from frostalert.model.equipment import Equipment
from frostalert.model.forecast import FloatArray
from frostalert.model.method import Ground
from frostalert.model.plan import GainFacts, Option, Resource, Verdict
from frostalert.physics.bud import clear_sky_loss_wpm2
from frostalert.physics.heat import HEAT_KEPT, heat_gain_delta_c, kept_heat_wpm2
from frostalert.plan.block_case import Case
from frostalert.plan.warm_judgement import (
    LIT_ABOVE_ALARM_C,
    SURE_SHARE,
    cold_hours_h,
    judged,
    measured_words,
    refused,
    unknown,
)

ENOUGH_HEAT = 0.5
"""Share of the night's loss below which heat will not hold. [1] Common practice, no
source."""
MOST_HEAT_GAIN_C = 3.0
"""Most that heat is credited with, whatever the balance says. [degC] Common practice,
no source: a small site loses heat at its edges (FAO, vol. 1, p. 152)."""
_LEAST_LOSS_WPM2 = 20.0
"""Even under cloud the ground loses something. [W/m2] Common practice, no source."""


def heat_options(case: Case, equipment: Equipment) -> list[Option]:
    """Return what heat is worth with enough pieces for all of the loss, and for less.

    Fewer pieces leave some for other blocks.

    Parameters
    ----------
    case : Case
        The block's night.
    equipment : Equipment
        What there is.

    Returns
    -------
    list of Option
        One for each useful number of pieces.

    References
    ----------
    .. [1] See `physics.heat`.
    """
    area = case.block.protected_area_m2
    assert equipment.heat_each_w is not None  # noqa: S101 - its row asks for them
    assert equipment.count is not None  # noqa: S101
    if area is None:
        return [unknown(case, equipment, Ground.UNKNOWN_SIZE)]
    lost = _night_loss_wpm2(case)
    if math.isnan(lost):
        return [unknown(case, equipment, Ground.NO_HUMIDITY)]
    one = kept_heat_wpm2(1, equipment.heat_each_w, area)
    most = min(equipment.count, math.ceil(lost / one))
    if most * one < ENOUGH_HEAT * lost:
        facts = _heat_facts(case, equipment, most * one, lost)
        option = refused(
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
        options.append(judged(case, equipment, facts, uses, units=count, warm=warm))
    return options


def _has_own_gain(equipment: Equipment) -> bool:
    """Return whether a gain was measured here."""
    return equipment.gain_delta_c is not None and equipment.is_measured


def _heated(case: Case, share: float) -> Callable[[FloatArray], FloatArray]:
    """Return what heat makes of each low: the more it would fall, the more it holds."""
    lit_c = case.threshold.alarm_c + LIT_ABOVE_ALARM_C

    def warm(lows_c: FloatArray) -> FloatArray:
        gain = SURE_SHARE * min(1.0, share) * np.maximum(lit_c - lows_c, 0.0)
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
    low, is_learned = 0.5 * gain, bool(equipment.gain_nights)
    source = f"derived: {100 * HEAT_KEPT:.0f} % of the heat stays, against the loss"
    if equipment.gain_delta_c is not None and _has_own_gain(equipment):
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
    case: Case, equipment: Equipment, count: int
) -> tuple[tuple[Resource, str, float], ...]:
    """Return the pieces, and the fuel for the night colder than nine in ten."""
    uses = [(Resource.UNITS, equipment.name, float(count))]
    if equipment.fuel is not None:
        burned = count * equipment.fuel.burned_per_h * cold_hours_h(case)
        uses.append((Resource.FUEL, equipment.name, burned))
    return tuple(uses)
