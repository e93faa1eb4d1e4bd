"""Whether water and fuel last until morning."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from frostalert.decision.methods import METHODS, WATER_KINDS
from frostalert.model.equipment import Equipment
from frostalert.model.forecast import HOUR
from frostalert.model.plan import Budget, Option, Resource, WaterFacts
from frostalert.model.site import Holding


def water_at_hand_l(holding: Holding, hours_h: float) -> float | None:
    """Return the water for a night, inflow included.

    Parameters
    ----------
    holding : Holding
        Holds the supplies.
    hours_h : float
        How long water runs. [h]

    Returns
    -------
    float or None
        Water. [L] None where it does not run out, or nobody has said.

    References
    ----------
    .. [1] Definition.
    """
    supplies = holding.supplies
    if supplies.water_l is None:
        return None
    return supplies.water_l + supplies.refill_l_per_h * hours_h


def budgets_of(
    chosen: Sequence[Option], holding: Holding, *, next_is_at_risk: bool
) -> tuple[Budget, ...]:
    """Return what the choice takes and whether it lasts.

    Parameters
    ----------
    chosen : sequence of Option
        What is to be done.
    holding : Holding
        Equipment and supplies.
    next_is_at_risk : bool
        Whether the next night may need as much again.

    Returns
    -------
    tuple of Budget
        Water first, then the fuel of each equipment in use.

    References
    ----------
    .. [1] Definition; Ontario (Pate, 2024): reserve water for several nights running.
    """
    equipment = {item.name: item for item in holding.equipment}
    found = [_water(chosen, holding, next_is_at_risk=next_is_at_risk)]
    burning = sorted({item.equipment for item in chosen if _fuel_of(item) > 0.0})
    found += [
        _fuel([item for item in chosen if item.equipment == name], equipment[name])
        for name in burning
    ]
    return tuple(budget for budget in found if budget is not None)


def _water(
    chosen: Sequence[Option], holding: Holding, *, next_is_at_risk: bool
) -> Budget | None:
    """Return the budget of water, sized for the night colder than nine in ten."""
    using = [item for item in chosen if METHODS[item.method].kind in WATER_KINDS]
    starts = [item.start_utc for item in using if item.start_utc is not None]
    if not starts:
        return None
    needed = sum(_amount(item, Resource.WATER) for item in using)
    hours_h = max(_hours_h(item) for item in using)
    flow = sum(_amount(item, Resource.WATER) / _hours_h(item) for item in using)
    at_hand = water_at_hand_l(holding, hours_h)
    start = min(starts)
    last = None
    if at_hand is not None and needed > at_hand:
        draining = flow - holding.supplies.refill_l_per_h
        last = start + timedelta(hours=(holding.supplies.water_l or 0.0) / draining)
    refilled = holding.supplies.refill_l_per_h * max(0.0, 24.0 - hours_h)
    return Budget(
        what="water",
        unit="L",
        needed=needed,
        at_hand=at_hand,
        needed_until_utc=start + timedelta(hours=hours_h),
        lasts_until_utc=last,
        reserve=max(0.0, needed - refilled) if next_is_at_risk else 0.0,
    )


def _fuel(items: list[Option], equipment: Equipment) -> Budget | None:
    """Return the budget of one equipment's fuel, over the hours of harm expected."""
    fuel = equipment.fuel
    starts = [item.start_utc for item in items if item.start_utc is not None]
    ends = [item.end_utc for item in items if item.end_utc is not None]
    if fuel is None or not starts or not ends:
        return None
    needed = sum(_fuel_of(item) for item in items)
    burned_per_h = sum(item.units for item in items) * fuel.burned_per_h
    lasts = min(starts) + timedelta(hours=fuel.stock / burned_per_h)
    return Budget(
        what=f"fuel for {equipment.name}",
        unit=fuel.unit,
        needed=needed,
        at_hand=fuel.stock,
        needed_until_utc=max(ends),
        lasts_until_utc=lasts if needed > fuel.stock else None,
    )


def _hours_h(item: Option) -> float:
    """Return for how long an option takes water. [h]"""
    if isinstance(item.facts, WaterFacts):
        return max(item.facts.cold_night_hours_h, 0.1)
    return max(_length(item.start_utc, item.end_utc) / HOUR, 0.1)


def _length(start: datetime | None, end: datetime | None) -> timedelta:
    """Return how long an option runs."""
    return end - start if start is not None and end is not None else timedelta(0)


def _fuel_of(item: Option) -> float:
    """Return the fuel that an option takes."""
    return _amount(item, Resource.FUEL)


def _amount(item: Option, resource: Resource) -> float:
    """Return what an option takes of a resource."""
    return sum(amount for kind, _, amount in item.uses if kind is resource)
