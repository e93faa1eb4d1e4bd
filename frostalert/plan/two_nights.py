"""Two nights in a row that share one tank: which of them gets it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from frostalert.model.assessment import NightAssessment
from frostalert.model.nights import Nights
from frostalert.model.plan import Option, Resource, TankShare
from frostalert.model.progress import Progress
from frostalert.model.site import Farm
from frostalert.plan.allocation import Bundle, Limits, allocate
from frostalert.plan.block_case import BlockAtRisk, block_cases
from frostalert.plan.bundles import bundles_of
from frostalert.plan.offer import limits_of, options_on

LEAST_MORE = 0.1
"""Share of the crop that keeping a tank back must save more. [1] Common practice, no
source: the nearer night is the surer one."""
_DAY_H = 24.0
_WATER = (Resource.WATER, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class TankPlan:
    """What a night may take of the tank, and what the next one asks for.

    Attributes
    ----------
    most_l : float or None
        What this night may take. [L] None where nothing is kept back.
    supply_l, full_l : float
        What is there until the next night, inflow included; what the tank holds. [L]
    share : TankShare or None
        What is said of it; None where two nights do not both ask for water.
    """

    most_l: float | None = None
    supply_l: float = 0.0
    full_l: float = 0.0
    share: TankShare | None = None

    def limiting(self, limits: Limits) -> Limits:
        """Return what there is, without what is kept for the next night."""
        if self.most_l is None:
            return limits
        kept = min(self.most_l, limits.amounts.get(_WATER, self.most_l))
        return replace(limits, amounts={**limits.amounts, _WATER: kept})

    def after(self, chosen: Sequence[Option]) -> TankShare | None:
        """Return what is said of the tank once this night's choice is known."""
        if self.share is None:
            return None
        used = sum(_water_of(item) for item in chosen)
        left = min(self.full_l, max(0.0, self.supply_l - used))
        return replace(self.share, used_l=used, left_l=left)


def next_at_risk(nights: Nights, night: NightAssessment) -> NightAssessment | None:
    """Return the night after a night if it is at risk, else none."""
    after = [item for item in nights.assessment.nights if item.night > night.night]
    return after[0] if after and after[0].at_risk else None


def share_tank(
    nights: Nights,
    night: NightAssessment,
    farm: Farm,
    bundles: Sequence[Bundle],
    limits: Limits,
    progress: Progress,
) -> TankPlan:
    """Return what a night may take of a tank that the next one needs as well.

    Parameters
    ----------
    nights : Nights
        What was judged.
    night : NightAssessment
        The night that is planned.
    farm : Farm
        With its supplies.
    bundles : sequence of Bundle
        What could be done in it.
    limits : Limits
        What there is for it.
    progress : Progress
        What people were told about it: what they were told stays theirs.

    Returns
    -------
    TankPlan
        Where the tank does not last for both, the next night gets it only if that saves
        a tenth of the crop more over both.

    References
    ----------
    .. [1] Ontario (Pate, 2024): reserve water for several nights running. How it is
       shared is common practice, no source.
    """
    after = next_at_risk(nights, night)
    if farm.supplies.water_l is None or after is None:
        return TankPlan()
    now = _Night(_cases_by_block(nights, farm, night, progress), bundles, limits)
    cases = _cases_by_block(nights, farm, after, Progress())
    later = _later(farm, cases, limits.hands)
    used, wanted = now.water_l(now.limits), later.water_l(later.limits)
    if not used or not wanted:
        return TankPlan()
    full = farm.supplies.water_l
    inflow = later.limits.amounts[_WATER] - full
    supply = full + farm.supplies.refill_l_per_h * _DAY_H
    left = min(full, max(0.0, supply - used))
    share = TankShare(
        next_night=after.night,
        used_l=used,
        left_l=left,
        needed_l=max(0.0, wanted - inflow),
        gets=night.night,
    )
    plan = TankPlan(supply_l=supply, full_l=full, share=share)
    if wanted <= left + inflow or any(_is_told(i, progress) for i in bundles):
        return plan
    kept = max(0.0, supply - share.needed_l)

    def crop_left(first: Limits, second: Limits) -> float:
        done = allocate(now.bundles, first)
        buds_left = _left_after(now, done)
        then = _later(farm, _with_left(cases, buds_left), limits.hands)
        return _kept_of(now, then, now.losses(done), then.losses_within(second))

    nearer = crop_left(now.limits, _holding(later.limits, left + inflow))
    further = crop_left(_holding(now.limits, kept), later.limits)
    if further - nearer < LEAST_MORE * _weight(now, later):
        return plan
    gets = replace(share, gets=after.night)
    return replace(plan, most_l=kept, share=gets)


@dataclass(frozen=True, slots=True)
class _Night:
    """One night: its blocks at risk, what could be done, and with what."""

    cases: Mapping[str, BlockAtRisk]
    bundles: Sequence[Bundle]
    limits: Limits

    def losses(self, done: Sequence[Bundle]) -> dict[str, float]:
        """Return what each block loses if some of it is done."""
        lost = {name: case.loss_before for name, case in self.cases.items()}
        return lost | {item.block: item.loss_after for one in done for item in one.done}

    def losses_within(self, limits: Limits) -> dict[str, float]:
        """Return what each block loses if the most is made of what there is."""
        return self.losses(allocate(self.bundles, limits))

    def water_l(self, limits: Limits) -> float:
        """Return the water that this takes. [L]"""
        return sum(
            _water_of(item)
            for bundle in allocate(self.bundles, limits)
            for item in bundle.options
        )


def _later(farm: Farm, cases: Mapping[str, BlockAtRisk], hands: int) -> _Night:
    """Return the next night, of which nobody was told anything yet."""
    bundles = bundles_of(options_on(farm, [*cases.values()]), [*cases.values()])
    offered = [option for item in bundles for option in item.options]
    return _Night(cases, bundles, limits_of(farm, offered, hands))


def _cases_by_block(
    nights: Nights, farm: Farm, night: NightAssessment, progress: Progress
) -> dict[str, BlockAtRisk]:
    """Return a night's blocks at risk by name."""
    cases = block_cases(nights, farm, night, progress)
    return {case.block.name: case for case in cases}


def _left_after(now: _Night, done: Sequence[Bundle]) -> dict[str, float]:
    """Return the share of the season's buds that a night leaves in its blocks. [%]

    A crop may lose many buds before it loses any fruit: they are counted by themselves.
    """
    lost = {name: case.in_buds.loss_before for name, case in now.cases.items()}
    lost |= {item.block: item.buds_lost for one in done for item in one.done}
    return {
        name: case.record.left_before_pct * (1.0 - lost[name])
        for name, case in now.cases.items()
        if case.record.left_before_pct is not None
    }


def _with_left(
    cases: Mapping[str, BlockAtRisk], buds_left_pct: Mapping[str, float]
) -> dict[str, BlockAtRisk]:
    """Return a night's cases with what the night before leaves by what is done then."""
    return {
        name: case.with_buds_left(buds_left_pct[name])
        if name in buds_left_pct
        else case
        for name, case in cases.items()
    }


def _kept_of(
    now: _Night, later: _Night, lost: Mapping[str, float], then: Mapping[str, float]
) -> float:
    """Return how much of the crop is left after both nights, weighed by block.

    What the first has killed the second cannot lose any more. Where losses are shares
    of a full crop, those of the second are of what the first leaves already.
    """
    kept = 0.0
    for name, case in {**later.cases, **now.cases}.items():
        first, second = lost.get(name, 0.0), then.get(name, 0.0)
        whole = case.crop_before
        share = (
            (1.0 - first) * (1.0 - second)
            if whole is None
            else max(0.0, whole - first - second)
        )
        kept += case.weight * share
    return kept


def _weight(now: _Night, later: _Night) -> float:
    """Return what all of the crop of both nights counts."""
    return sum(case.weight for case in {**later.cases, **now.cases}.values())


def _holding(limits: Limits, water_l: float) -> Limits:
    """Return what there is with so much water."""
    return replace(limits, amounts={**limits.amounts, _WATER: water_l})


def _is_told(bundle: Bundle, progress: Progress) -> bool:
    """Return whether people know of water in it: it is not taken from them again."""
    return any(
        item.method.is_water and item.pair in progress.starts for item in bundle.options
    )


def _water_of(item: Option) -> float:
    """Return the water that an option takes. [L]"""
    return sum(amount for kind, _, amount in item.uses if kind is Resource.WATER)
