"""What is not done, and why: blocks that get nothing, and ways that are passed over."""

from collections.abc import Sequence
from dataclasses import replace

from frostalert.agronomy.methods import pair_of
from frostalert.model.assessment import BlockNight, NightAssessment
from frostalert.model.plan import (
    Option,
    PassedOver,
    PassedReason,
    Resource,
    UnprotectedBlock,
    UnprotectedReason,
    Verdict,
)
from frostalert.model.site import Farm
from frostalert.plan.allocation import Bundle, Limits, is_within
from frostalert.plan.budgets import budgets_of


def left_out(
    night: NightAssessment,
    farm: Farm,
    options: Sequence[Option],
    chosen: Sequence[Option],
    limits: Limits,
    *,
    is_kept_back: bool,
) -> tuple[UnprotectedBlock, ...]:
    """Return the blocks at risk that get nothing, each with its reason.

    `is_kept_back`: the tank is kept for the night after.
    """
    saved = {item.block for item in chosen}
    left = []
    for block, record in zip(farm.blocks, night.blocks, strict=True):
        own = [item for item in options if item.block == block.name]
        is_listed = any(item.verdict is Verdict.NOT_ESTIMATED for item in own)
        if not record.tier.rank or block.name in saved or is_listed:
            continue
        found = _why_left_out(record, own, chosen, limits, farm)
        if is_kept_back and Resource.WATER.value in found.short:
            found = replace(found, why=UnprotectedReason.KEPT_BACK)
        left.append(found)
    return tuple(left)


def _why_left_out(
    record: BlockNight,
    own: Sequence[Option],
    chosen: Sequence[Option],
    limits: Limits,
    farm: Farm,
) -> UnprotectedBlock:
    """Return why a block gets nothing; of several counts of pieces, even the fewest."""
    offered = [item for item in own if item.can_be_chosen]
    if not own:
        return UnprotectedBlock(block=record.block, why=UnprotectedReason.NO_METHOD)
    if not offered:
        is_kept = any(item.is_kept_ready for item in own)
        reasons = UnprotectedReason
        why = reasons.JUDGED_AGAIN if is_kept else reasons.NOTHING_WORKS
        return UnprotectedBlock(block=record.block, why=why)
    best = max(offered, key=lambda item: item.worth)
    fewest = _fewest(best, offered)
    together = budgets_of([*chosen, fewest], farm, next_is_at_risk=False)
    could_alone = is_within([fewest], limits)
    return UnprotectedBlock(
        block=record.block,
        why=UnprotectedReason.OTHERS_FIRST
        if could_alone
        else UnprotectedReason.NOT_ENOUGH,
        short=_short(fewest, chosen, limits),
        budgets=tuple(item for item in together if item.lasts_until_utc is not None),
    )


def passed_over(
    options: Sequence[Option],
    chosen: Sequence[Option],
    bundles: Sequence[Bundle],
    limits: Limits,
) -> tuple[PassedOver, ...]:
    """Return what could be done in a block and is not, each with its reason.

    References
    ----------
    .. [1] Common practice, no source.
    """
    taken = {item.pair for item in chosen}
    offered = {
        item.pair: item
        for item in reversed(options)
        if item.can_be_chosen and item.pair not in taken
    }
    return tuple(
        _why_passed_over(item, chosen, bundles, limits)
        for item in reversed(offered.values())
    )


def _why_passed_over(
    item: Option, chosen: Sequence[Option], bundles: Sequence[Bundle], limits: Limits
) -> PassedOver:
    """Return why an option is not chosen; of several counts of pieces, the most."""
    there = [i for i in chosen if i.block == item.block]
    beside = tuple(i.equipment for i in there)
    if not there:
        alone = [i for b in bundles if len(b.options) == 1 for i in b.options]
        fewest = _fewest(item, alone)
        short = _short(fewest, chosen, limits)
        could_alone = is_within([fewest], limits)
        why = PassedReason.OTHERS_FIRST if could_alone else PassedReason.SHORT
        return PassedOver(option=item, why=why, short=short)
    if len(there) > 1 or pair_of(item.method, there[0].method) is None:
        return PassedOver(option=item, why=PassedReason.SAVES_LESS, beside=beside)
    wanted = {item.equipment, there[0].equipment}
    is_pair = any(b.block == item.block and b.equipment == wanted for b in bundles)
    short = _short(item, chosen, limits)
    why = PassedReason.SHORT if is_pair and short else PassedReason.ADDS_LITTLE
    is_short = why is PassedReason.SHORT
    return PassedOver(
        option=item, why=why, beside=beside, short=short if is_short else ()
    )


def _fewest(item: Option, options: Sequence[Option]) -> Option:
    """Return the same in the same block with the fewest pieces that are offered."""
    alike = [other for other in options if other.pair == item.pair]
    return min(alike, key=lambda other: other.units, default=item)


def _short(item: Option, chosen: Sequence[Option], limits: Limits) -> tuple[str, ...]:
    """Return what would run short if an option were added to the choice."""
    together = [*chosen, item]
    if is_within(together, limits):
        return ()
    short = []
    hands = sum(limits.tending.get(n, 0) for n in {i.equipment for i in together})
    if hands > limits.hands:
        short.append("hands")
    for key, top in limits.amounts.items():
        used = sum(a for i in together for r, n, a in i.uses if (r, n) == key)
        if used > top:
            short.append(key[0].value)
    return tuple(short) or (Resource.DAYLIGHT.value,)
