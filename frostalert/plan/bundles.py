"""What can be done in each block: one thing, or two that go together."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from frostalert.agronomy.kill import mean_over_error
from frostalert.agronomy.methods import pair_of
from frostalert.model.forecast import FloatArray
from frostalert.model.method import MethodPair
from frostalert.model.plan import GainFacts, Option, Together, Verdict, WaterFacts
from frostalert.plan.allocation import Bundle, alone
from frostalert.plan.block_case import LEAST_SAVING, SURE_TO_HOLD, BlockAtRisk
from frostalert.plan.water_options import (
    held_lows,
    least_chance,
    over_cover,
    worst_loss,
)

LEAST_ADDED = 0.05
"""Share of the crop that a second method must save beside the first. [1] Common
practice, no source."""


def bundles_of(
    options: Sequence[Option], cases: Sequence[BlockAtRisk]
) -> tuple[Bundle, ...]:
    """Return each option alone, and the pairs in which the second is worth its work.

    References
    ----------
    .. [1] Which go together: `agronomy.methods.PAIRS`. That gains add, the second at
       its lower end, is common practice, no source.
    """
    pairs = [pair for case in cases for pair in _pairs(case, options)]
    return (*(alone(item) for item in options if item.can_be_chosen), *pairs)


def _pairs(case: BlockAtRisk, options: Sequence[Option]) -> Iterator[Bundle]:
    """Give the pairs of one block that are worth the second one's work."""
    own = [
        item
        for item in options
        if item.block == case.block.name
        and (item.can_be_chosen or item.is_by_chance_alone)
    ]
    for one, other in combinations(own, 2):
        rule = pair_of(one.method, other.method)
        if rule is None or one.equipment == other.equipment:
            continue
        joint = _joint(case, one, other)
        singles = [i.loss_after for i in (one, other) if i.can_be_chosen]
        least = min(singles, default=case.loss_before)
        if joint is not None and least - joint.loss >= LEAST_ADDED:
            yield _bundle(case, (one, other), joint, rule, least)


@dataclass(frozen=True, slots=True)
class _Joint:
    """What two options come to together; the one that saves more first."""

    options: tuple[Option, Option]
    loss: float
    buds_lost: float
    verdict: Verdict
    gain: GainFacts | None = None


def _bundle(
    case: BlockAtRisk,
    raw: tuple[Option, Option],
    joint: _Joint,
    rule: MethodPair,
    loss_alone: float,
) -> Bundle:
    """Return two options as one thing to choose."""
    worth = case.weight * (case.loss_before - joint.loss)
    better, worse = joint.options
    # What the better saves alone is its own; the rest is what the other adds.
    own = case.weight * (case.loss_before - loss_alone)

    def beside(item: Option, partner: Option, adds: float) -> Option:
        together = Together(
            partner=partner.equipment,
            verdict=joint.verdict,
            loss_alone=loss_alone,
            low_delta_c=None if joint.gain is None else joint.gain.low_delta_c,
            high_delta_c=None if joint.gain is None else joint.gain.high_delta_c,
            caution=rule.caution,
            source=rule.source,
        )
        return replace(
            item,
            together=together,
            loss_after=joint.loss,
            buds_lost=joint.buds_lost,
            worth=adds,
        )

    done = (beside(better, worse, own), beside(worse, better, worth - own))
    return Bundle(raw, worth, done)


def _joint(case: BlockAtRisk, one: Option, other: Option) -> _Joint | None:
    """Return what two options come to together; None where they do not hold."""
    wet = next((i for i in (one, other) if i.method.wets_buds), None)
    if wet is not None:
        return _water_over(case, wet, other if wet is one else one)
    better, worse = sorted((one, other), key=lambda item: item.loss_after)
    gain = _added(better, worse)
    lows_c = case.bud_low_c + case.errors_c + gain.middle_delta_c
    losses = _losses(case, better, worse, lows_c)
    return _Joint((better, worse), *losses, _verdict(case, lows_c, gain), gain)


def _water_over(case: BlockAtRisk, water: Option, cover: Option) -> _Joint | None:
    """Return what water over a cover comes to: judged as water alone is.

    Its rate must be the published one all the same; the cover, at its lower end, is for
    the night that turns out colder.
    """
    assert isinstance(water.facts, WaterFacts)  # noqa: S101 - it wets buds
    assert isinstance(cover.facts, GainFacts)  # noqa: S101 - no second water goes with it
    if water.is_by_chance_alone and _reached(cover) < _reached(water):
        return None  # beside the cloth it would wet plants that it may not hold
    facts = over_cover(case, water.facts, cover.facts.low_delta_c)
    is_held = facts.hold_chance >= least_chance(case, water.equipment)
    is_worth_it = worst_loss(case, facts) <= (1.0 - LEAST_SAVING) * case.loss_before
    if not is_held or not is_worth_it:
        return None
    wet = replace(water, verdict=Verdict.ENOUGH, grounds=(), facts=facts)
    losses = _losses(case, wet, cover, held_lows(case, facts))
    better, worse = sorted((wet, cover), key=lambda item: item.loss_after)
    return _Joint((better, worse), *losses, Verdict.ENOUGH)


def _added(better: Option, worse: Option) -> GainFacts:
    """Return the gain of two that warm: the second counts at its lower end."""
    first, second = better.facts, worse.facts
    assert isinstance(first, GainFacts)  # noqa: S101 - neither is water
    assert isinstance(second, GainFacts)  # noqa: S101
    return GainFacts(
        low_delta_c=first.low_delta_c + second.low_delta_c,
        high_delta_c=first.high_delta_c + second.low_delta_c,
        source=f"{first.source}; {second.source}, at its lower end",
        reached=min(first.reached, second.reached),
    )


def _verdict(case: BlockAtRisk, lows_c: FloatArray, gain: GainFacts) -> Verdict:
    """Return what two that warm are worth together."""
    alarm_c = case.threshold.alarm_c
    chance = float(mean_over_error(lows_c > alarm_c))
    is_sure = case.bud_low_c + gain.low_delta_c > alarm_c and chance >= SURE_TO_HOLD
    return Verdict.HOLDS if is_sure and gain.reached >= 1.0 else Verdict.PARTLY


def _losses(
    case: BlockAtRisk, better: Option, worse: Option, lows_c: FloatArray
) -> tuple[float, float]:
    """Return the expected loss, and that of buds alone. [0..1]

    Some plants have both, some one, some neither.
    """
    both = min(_reached(better), _reached(worse))
    wider = better if _reached(better) >= _reached(worse) else worse
    rest, buds = (_reached(wider) - both) / _reached(wider), case.in_buds
    loss = case.loss_with(lows_c, both)
    buds_lost = buds.loss_with(lows_c, both)
    return (
        loss - rest * (wider.loss_before - wider.loss_after),
        buds_lost - rest * (buds.loss_before - wider.buds_lost),
    )


def _reached(item: Option) -> float:
    """Return the share of the block that an option reaches."""
    return 1.0 if item.facts is None else item.facts.reached
