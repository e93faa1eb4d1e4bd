"""Whether water and fuel last until morning."""

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from datetime import datetime, timedelta

from frostalert.model.equipment import Equipment
from frostalert.model.forecast import HOUR
from frostalert.model.plan import Budget, Option, Resource
from frostalert.model.site import Farm
from frostalert.model.start import StartKey

_WATER = "water"


def water_at_hand_l(farm: Farm, hours_h: float) -> float | None:
    """Return the water for a night, inflow included.

    Parameters
    ----------
    farm : Farm
        Holds the supplies.
    hours_h : float
        How long water runs. [h]

    Returns
    -------
    float or None
        Water. [L] None where it does not run out, or nobody has said.
    """
    supplies = farm.supplies
    if supplies.water_l is None:
        return None
    return supplies.water_l + supplies.refill_l_per_h * hours_h


def budgets_of(
    chosen: Sequence[Option],
    farm: Farm,
    *,
    next_is_at_risk: bool,
    begun_before: AbstractSet[StartKey] = frozenset(),
) -> tuple[Budget, ...]:
    """Return what the choice takes and whether it lasts.

    Nobody says what the night before used, nor whether it was made up for: where
    something was begun then, that is marked.

    References
    ----------
    .. [1] Ontario (Pate, 2024): reserve water for several nights running.
    """
    equipment = {item.name: item for item in farm.equipment}
    found = [_water(chosen, farm, next_is_at_risk=next_is_at_risk)]
    burning = sorted({item.equipment for item in chosen if _fuel_of(item) > 0.0})
    found += [
        _fuel([item for item in chosen if item.equipment == name], equipment[name])
        for name in burning
    ]
    begun = {equipment[name] for name, _ in begun_before if name in equipment}
    drawn_on = {_fuel_name(item.name) for item in begun if item.fuel is not None}
    drawn_on |= {_WATER for item in begun if item.method.is_water}
    return tuple(
        replace(budget, is_drawn_on=budget.what in drawn_on)
        for budget in found
        if budget is not None
    )


def _water(
    chosen: Sequence[Option], farm: Farm, *, next_is_at_risk: bool
) -> Budget | None:
    """Return the budget of water, sized for the night colder than nine in ten."""
    using = [item for item in chosen if item.method.is_water]
    span = _span(using)
    if span is None:
        return None
    start, end = span
    needed = sum(_amount(item, Resource.WATER) for item in using)
    flow = sum(_amount(item, Resource.WATER) / cold_hours_h(item) for item in using)
    hours_h = (end - start) / HOUR
    at_hand = water_at_hand_l(farm, hours_h)
    last = None
    if at_hand is not None and needed > at_hand:
        draining = flow - farm.supplies.refill_l_per_h
        last = start + timedelta(hours=(farm.supplies.water_l or 0.0) / draining)
    refilled = farm.supplies.refill_l_per_h * max(0.0, 24.0 - hours_h)
    return Budget(
        what=_WATER,
        unit="L",
        needed=needed,
        at_hand=at_hand,
        needed_until_utc=end,
        lasts_until_utc=last,
        reserve=max(0.0, needed - refilled) if next_is_at_risk else 0.0,
    )


def _fuel(items: list[Option], equipment: Equipment) -> Budget | None:
    """Return the budget of one equipment's fuel, for the same cold night."""
    fuel, span = equipment.fuel, _span(items)
    if fuel is None or span is None:
        return None
    start, end = span
    needed = sum(_fuel_of(item) for item in items)
    burned_per_h = sum(item.units for item in items) * fuel.burned_per_h
    lasts = start + timedelta(hours=fuel.stock / burned_per_h)
    return Budget(
        what=_fuel_name(equipment.name),
        unit=fuel.unit,
        needed=needed,
        at_hand=fuel.stock,
        needed_until_utc=end,
        lasts_until_utc=lasts if needed > fuel.stock else None,
    )


def _fuel_name(equipment: str) -> str:
    """Return what the fuel of an equipment is called."""
    return f"fuel for {equipment}"


def cold_hours_h(item: Option) -> float:
    """Return for how long an option runs in the night colder than nine in ten.

    Parameters
    ----------
    item : Option
        The option.

    Returns
    -------
    float
        From its start, however much of it is over. [h] Never nothing, to divide by.
    """
    span = _span([item])
    return 0.1 if span is None else max((span[1] - span[0]) / HOUR, 0.1)


def _span(items: Sequence[Option]) -> tuple[datetime, datetime] | None:
    """Return from when to when some options run in that night, if it is known."""
    starts = [item.cold_start_utc for item in items if item.cold_start_utc is not None]
    ends = [item.cold_end_utc for item in items if item.cold_end_utc is not None]
    return (min(starts), max(ends)) if starts and ends else None


def _fuel_of(item: Option) -> float:
    """Return the fuel that an option takes."""
    return _amount(item, Resource.FUEL)


def _amount(item: Option, resource: Resource) -> float:
    """Return what an option takes of a resource."""
    return sum(amount for kind, _, amount in item.uses if kind is resource)
