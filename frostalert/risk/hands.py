"""Whether a block's chance of harm is enough to call people out of their beds.

Getting ready costs an afternoon's hour and is asked for early; a night's work costs a
night. So the two are judged apart: this is the second.
"""

from dataclasses import dataclass

import numpy as np

from frostalert.agronomy.kill import (
    ERROR_NODES,
    ERROR_WEIGHTS,
    crop_loss_pct,
    kill_pct,
)
from frostalert.model.assessment import BlockNight
from frostalert.model.site import AlarmAt, Block, Rules

LEAST_PROBABILITY, SURE_PROBABILITY = 0.1, 0.6
"""Below this chance nobody is called, whatever is at stake; from this on everybody is,
whatever it costs. [0..1] Common practice, no source."""
MOST_CROP_LOSS_PCT = 5.0
"""Loss of a full crop that a block with `alarm_at = "crop loss"` bears. [%] Common
practice, no source."""
CROP_LOSS_SIGMA_C = 1.5
"""Error of the kill temperatures where the share of buds counts. [degC] Common
practice, no source."""
_FULL_BLOOM = "full bloom"


@dataclass(frozen=True, slots=True)
class Hands:
    """Whether hands are called for a block, and why."""

    are_called: bool
    reason: str


def hands_for(record: BlockNight, block: Block, rules: Rules) -> Hands:
    """Return whether a block's night is worth a night's work.

    By worth where the block says what its crop and a night's work are worth; else by
    the chance.
    """
    chance, what = _chance(record, block)
    told = f"{100.0 * chance:.0f} % chance of {what}"
    if chance >= SURE_PROBABILITY:
        return Hands(are_called=True, reason=told)
    if chance < LEAST_PROBABILITY:
        return Hands(are_called=False, reason=f"{told}, too little to call hands")
    worth = _worth(record, block)
    if worth is not None:
        saving, cost = worth
        if saving > cost:
            return Hands(
                are_called=True, reason=f"{told}; more is at stake than a night costs"
            )
        return Hands(
            are_called=False, reason=f"{told}; a night's work costs more than it saves"
        )
    if chance >= rules.start_probability:
        return Hands(are_called=True, reason=told)
    return Hands(are_called=False, reason=f"{told}, not yet enough to call hands")


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
