"""Whether a block's chance of harm is enough to call people out of their beds.

Getting ready costs an afternoon's hour and is asked for early; a night's work costs a
night. So the two are judged apart: this is the second.
"""

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from frostalert.agronomy.kill import (
    ERROR_NODES,
    ERROR_WEIGHTS,
    crop_loss_pct,
    kill_pct,
)
from frostalert.model.assessment import BlockNight
from frostalert.model.site import AlarmAt, Block, Rules, StartBy
from frostalert.physics.start_reading import LIT_ABOVE_ALARM_C
from frostalert.risk.thermometer_start import ThermometerStart

LEAST_PROBABILITY, SURE_PROBABILITY = 0.1, 0.6
"""Below this chance nobody is called, whatever is at stake; from this on everybody is,
whatever it costs. [0..1] Common practice, no source."""
MOST_CROP_LOSS_PCT = 5.0
"""Loss of a full crop that a block with `alarm_at = "crop loss"` bears. [%] Common
practice, no source."""
CROP_LOSS_SIGMA_C = 1.5
"""Error of the kill temperatures where the share of buds counts. [degC] Common
practice, no source."""
THERMOMETER_PROBABILITY = 0.3
"""Chance from which hands are called in a block that waits for its thermometer, while
that does not count. [0..1] Common practice, no source."""
_FULL_BLOOM = "full bloom"


@dataclass(frozen=True, slots=True)
class Hands:
    """Whether hands are called for a block, why, and whether its hour has come.

    By a thermometer the hour has come whatever the forecast's hour is.
    """

    are_called: bool
    reason: str
    is_due: bool = False


def hands_for(
    record: BlockNight,
    block: Block,
    rules: Rules,
    thermometer: ThermometerStart | None = None,
    now_utc: datetime | None = None,
) -> Hands:
    """Return whether a block's night is worth a night's work.

    By its thermometer where the block waits for it and it can be trusted; by worth
    where the block says what its crop and a night's work are worth; else by the chance.
    """
    chance, what = _chance(record, block)
    told = f"{100.0 * chance:.0f} % chance of {what}"
    if chance >= SURE_PROBABILITY:
        return Hands(are_called=True, reason=told)
    if thermometer is not None and now_utc is not None:
        by_it = _by_thermometer(record, rules, thermometer, now_utc)
        if by_it is not None:
            return replace(by_it, reason=f"{told}; {by_it.reason}")
        told = f"{told}; its thermometer does not count: {thermometer.lapsed}"
    return _by_stake(record, block, rules, chance, told)


def _by_stake(
    record: BlockNight, block: Block, rules: Rules, chance: float, told: str
) -> Hands:
    """Return whether what is at stake is worth a night's work."""
    if chance < LEAST_PROBABILITY:
        return Hands(are_called=False, reason=f"{told}, too little to call hands")
    worth = _worth(record, block)
    if worth is not None:
        saving, cost = worth
        is_worth_it = saving > cost
        why = "more is at stake than a night costs"
        if not is_worth_it:
            why = "a night's work costs more than it saves"
        return Hands(are_called=is_worth_it, reason=f"{told}; {why}")
    least = rules.start_probability
    if block.start_by is StartBy.THERMOMETER:
        least = max(least, THERMOMETER_PROBABILITY)
    if chance >= least:
        return Hands(are_called=True, reason=told)
    return Hands(are_called=False, reason=f"{told}, not yet enough to call hands")


def _by_thermometer(
    record: BlockNight,
    rules: Rules,
    thermometer: ThermometerStart,
    now_utc: datetime,
) -> Hands | None:
    """Return whether a thermometer nears the start reading; None if it cannot say.

    It is asked for the hour at which who is called now has everything running.
    """
    if thermometer.lapsed:
        return None
    reading_c = start_reading_c(record)
    ahead_c = thermometer.air_at_c(now_utc + rules.set_up + rules.notice)
    if reading_c is None or ahead_c is None:
        return None
    name = thermometer.sensor
    if ahead_c <= reading_c:
        why = f"{name} nears the reading to start at"
        return Hands(are_called=True, reason=why, is_due=True)
    return Hands(
        are_called=False, reason=f"{name} is not near the reading to start at yet"
    )


def start_reading_c(record: BlockNight) -> float | None:
    """Return what the block's air reads when water or heat must start. [degC]

    The warmer of the two: which of them the plan takes is not known here.
    """
    threshold, bud = record.stage.threshold, record.bud
    if threshold is None or bud is None or record.site_low_c is None:
        return None
    above_c = max(0.0, record.site_low_c - bud.low_c)
    lit_c = threshold.alarm_c + LIT_ABOVE_ALARM_C + above_c
    return lit_c if record.start_air_c is None else max(lit_c, record.start_air_c)


def _chance(record: BlockNight, block: Block) -> tuple[float, str]:
    """Return the chance that counts, and of what."""
    by_crop = _crop_loss_chance(record, block)
    if by_crop is not None:
        return by_crop, f"losing over {MOST_CROP_LOSS_PCT:.0f} % of the crop"
    # With the hours gone by: water that runs is not called off before it is over.
    return record.night_probability or 0.0, "reaching the alarm temperature"


def is_by_crop_loss(record: BlockNight, block: Block) -> bool:
    """Return whether hands are called for a block by what of the crop is lost.

    Parameters
    ----------
    record : BlockNight
        Its night.
    block : Block
        As it is set.

    Returns
    -------
    bool
        False where it does not ask for that, or it cannot be told.
    """
    return _crop_loss_chance(record, block) is not None


def _crop_loss_chance(record: BlockNight, block: Block) -> float | None:
    """Return the chance that more of the crop is lost than the block bears. [0..1]

    None where the block does not ask for it, where no share of blossoms is published,
    or before somebody saw it in full bloom: until then every bud counts.
    """
    if block.alarm_at is not AlarmAt.CROP_LOSS or not _was_in_bloom(block):
        return None
    threshold, bud, left = record.stage.threshold, record.bud, record.left_before_pct
    needed = block.crop.needed_pct
    if threshold is None or bud is None or left is None or needed is None:
        return None
    if threshold.t10_c is None or threshold.t90_c is None:
        return None
    sigma_c = float(np.hypot(record.low_sigma_c, CROP_LOSS_SIGMA_C))
    lows_c = bud.night_low_c + sigma_c * ERROR_NODES
    kill = kill_pct(lows_c, threshold.t10_c, threshold.t90_c)
    lost = crop_loss_pct(kill, left, needed)
    return float((lost > MOST_CROP_LOSS_PCT) @ ERROR_WEIGHTS)


def _was_in_bloom(block: Block) -> bool:
    """Return whether the stage that was seen is full bloom or a later one."""
    names = block.crop.stage_names
    if block.stage not in names or _FULL_BLOOM not in names:
        return False
    return names.index(block.stage) >= names.index(_FULL_BLOOM)


def _worth(record: BlockNight, block: Block) -> tuple[float, float] | None:
    """Return what is at stake and what a night costs, where both are given."""
    loss = record.crop_loss_pct
    if loss is None:
        loss = record.expected_kill_pct
    if block.crop_value is None or loss is None or not block.night_costs:
        return None
    cheapest = min(cost for _, cost in block.night_costs)
    return block.crop_value * loss / 100.0, cheapest
