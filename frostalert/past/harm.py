"""What the low that came would have done to blocks that nobody protected."""

from collections.abc import Sequence
from datetime import date

from frostalert.agronomy.kill import crop_loss_pct, kill_pct
from frostalert.model.assessment import BlockNight, NightAssessment
from frostalert.model.past import BlockCost, BlockHarm, PastNight
from frostalert.model.site import Block, Farm
from frostalert.risk.hands import MOST_CROP_LOSS_PCT, is_by_crop_loss

_WHOLE_PCT = 100.0


def harms_of(
    record: NightAssessment, farm: Farm, site_low_c: float, came_c: float
) -> tuple[BlockHarm, ...]:
    """Return what a low would have done to each block.

    Parameters
    ----------
    record : NightAssessment
        The night as it was forecast. How far each block's buds go below the site's air
        is taken from it, as the season's ledger takes it.
    farm : Farm
        The blocks, as the night was judged with.
    site_low_c, came_c : float
        The site's low as forecast, and as it came. [degC]

    Returns
    -------
    tuple of BlockHarm
        Of the blocks that there is a limit for.
    """
    blocks = {block.name: block for block in farm.blocks}
    found = (
        _harm(item, blocks[item.block], came_c - site_low_c) for item in record.blocks
    )
    return tuple(item for item in found if item is not None)


def _harm(record: BlockNight, block: Block, off_c: float) -> BlockHarm | None:
    """Return what a low so far off the forecast one would have done to a block."""
    bud, threshold = record.bud, record.stage.threshold
    if bud is None or threshold is None:
        return None
    low_c = bud.low_c + off_c
    is_harmed = low_c <= threshold.alarm_c
    kill: float | None = None
    if threshold.t10_c is not None and threshold.t90_c is not None:
        kill = float(kill_pct(low_c, threshold.t10_c, threshold.t90_c))
    is_worth_hands = is_harmed
    if kill is not None and is_by_crop_loss(record, block):
        needed = block.crop.needed_pct or _WHOLE_PCT
        loss = float(crop_loss_pct(kill, _WHOLE_PCT, needed))
        is_worth_hands = loss > MOST_CROP_LOSS_PCT
    return BlockHarm(
        block=block.name,
        is_harmed=is_harmed,
        is_worth_hands=is_worth_hands,
        kill_pct=kill,
    )


def costs_of(
    nights: Sequence[PastNight], blocks: Sequence[Block]
) -> tuple[BlockCost, ...]:
    """Return what the harmful nights of a spring would have taken, with nothing done.

    Parameters
    ----------
    nights : sequence of PastNight
        In the order of time: what one kills is not there for the next.
    blocks : sequence of Block
        The blocks.

    Returns
    -------
    tuple of BlockCost
        Of the blocks that were harmed at all.
    """
    return tuple(cost for block in blocks if (cost := _cost(nights, block)) is not None)


def _cost(nights: Sequence[PastNight], block: Block) -> BlockCost | None:
    """Return what a spring would have taken from a block."""
    harms: dict[date, BlockHarm] = {
        night.night: harm
        for night in nights
        for harm in night.harms
        if harm.block == block.name and harm.is_harmed
    }
    if not harms:
        return None
    kills = [harm.kill_pct for _, harm in sorted(harms.items())]
    if any(kill is None for kill in kills):
        return BlockCost(block=block.name, lost_pct=None, value=None)
    alive = 1.0
    for kill in kills:
        alive *= 1.0 - (kill or 0.0) / _WHOLE_PCT
    needed = block.crop.needed_pct or _WHOLE_PCT
    lost = float(crop_loss_pct(_WHOLE_PCT * (1.0 - alive), _WHOLE_PCT, needed))
    value = None if block.crop_value is None else block.crop_value * lost / _WHOLE_PCT
    return BlockCost(block=block.name, lost_pct=lost, value=value)
