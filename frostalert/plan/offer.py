"""What could be done in each block, and what there is to do it with."""

from collections.abc import Sequence
from datetime import timedelta

from frostalert.model.equipment import Equipment
from frostalert.model.plan import Option, Resource
from frostalert.model.site import Block, Farm
from frostalert.plan.allocation import Limits, tending_of
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.budgets import cold_hours_h, water_at_hand_l
from frostalert.plan.daylight import Daylight, set_up_of
from frostalert.plan.options import options_of, undescribed
from frostalert.plan.served import Served


def options_on(farm: Farm, cases: Sequence[BlockAtRisk]) -> list[Option]:
    """Return everything that could be done in some blocks, refused or not."""
    return [option for case in cases for option in _options(farm, case)]


def _options(farm: Farm, case: BlockAtRisk) -> list[Option]:
    """Return everything that could be done in a block."""
    found: list[Option] = []
    for method in case.block.methods:
        having = [
            item
            for item in farm.equipment
            if item.method == method and case.block.may_use(item)
        ]
        if not having:
            found.append(undescribed(case, method))
        for item in having:
            found += options_of(case, item, _served(item, case.block, farm))
    return found


def _served(item: Equipment, block: Block, farm: Farm) -> Served:
    """Return what an installation that gives water serves."""
    return Served(_served_m2(item, farm), _flow_share(item, block, farm))


def _flow_share(item: Equipment, block: Block, farm: Farm) -> float:
    """Return the share of its flow that runs for a block: all of it for one alone.

    What falls between the plants is gone from the tank as well.
    """
    own, whole = block.protected_area_m2, _blocks_m2(item, farm)
    return 1.0 if own is None or whole is None else own / whole


def _served_m2(item: Equipment, farm: Farm) -> float | None:
    """Return the ground that one installation serves. [m2]"""
    if item.area_m2 is not None:
        return item.area_m2
    return _blocks_m2(item, farm)


def _blocks_m2(item: Equipment, farm: Farm) -> float | None:
    """Return the ground of all blocks that may use an installation. [m2]"""
    areas = [block.protected_area_m2 for block in farm.blocks if block.may_use(item)]
    known = [area for area in areas if area is not None]
    # The water that a block of unknown size takes is missing elsewhere.
    return sum(known) or None if len(known) == len(areas) else None


def limits_of(
    farm: Farm,
    offered: Sequence[Option],
    hands: int,
    daylight: Daylight | None = None,
) -> Limits:
    """Return what there is of everything that can run short.

    Parameters
    ----------
    farm : Farm
        Equipment and supplies.
    offered : sequence of Option
        What could be done.
    hands : int
        People who work. [1]
    daylight : Daylight, optional
        The time for work before dark; a night that is a day away has enough.

    Returns
    -------
    Limits
        Water with the inflow of the longest run.
    """
    amounts: dict[tuple[Resource, str], float] = {}
    wet = [item for item in offered if item.method.is_water]
    water = water_at_hand_l(farm, max(map(cold_hours_h, wet), default=0.0))
    if water is not None:
        amounts[Resource.WATER, ""] = water
    for item in farm.equipment:
        if item.count is not None:
            amounts[Resource.UNITS, item.name] = item.count
        if item.area_m2 is not None:
            amounts[Resource.AREA, item.name] = item.area_m2
        if item.fuel is not None:
            amounts[Resource.FUEL, item.name] = item.fuel.stock
    return Limits(
        amounts=amounts,
        hands=hands,
        tending=tending_of(farm.equipment),
        set_up_min={
            item.name: set_up_of(item) / timedelta(minutes=1)
            for item in farm.equipment
            # What starts in the night can be set up by lamplight: it takes none.
            if item.method.is_before_dark
        },
        daylight_min=None if daylight is None else _daylight_min(daylight, hands),
        ready=frozenset() if daylight is None else daylight.ready,
    )


def _daylight_min(daylight: Daylight, hands: int) -> float | None:
    """Return the person-minutes before dark that are left; None if all counts as done.

    After dark there are none: what the day left out is not laid as if it had been told.
    """
    if daylight.is_done:
        return None
    if daylight.is_dark:
        return 0.0
    return hands * daylight.left / timedelta(minutes=1)
