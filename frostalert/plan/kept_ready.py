"""Water that its chance alone refuses by day: it is set up, and judged at its start."""

from collections.abc import Sequence

from frostalert.model.plan import Option, WaterFacts
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.daylight import Daylight
from frostalert.plan.water_options import saves_enough


def kept_ready(
    options: Sequence[Option],
    chosen: Sequence[Option],
    cases: Sequence[BlockAtRisk],
    daylight: Daylight,
) -> tuple[Option, ...]:
    """Return the water that is set up by day though it may not be started.

    Parameters
    ----------
    options, chosen : sequence of Option
        All that was judged, and what is done.
    cases : sequence of BlockAtRisk
        The blocks at risk.
    daylight : Daylight
        The time for work before dark.

    Returns
    -------
    tuple of Option
        Where the evening's forecast turns out milder it can start at its hour; laid in
        the dark it would come too late. None after dark, and none of what is in use.
    """
    if daylight.is_dark:
        return ()
    of_block = {case.block.name: case for case in cases}
    in_use = {item.equipment for item in chosen}
    return tuple(
        item
        for item in options
        if item.is_by_chance_alone
        and item.equipment not in in_use
        and _would_gain(item, of_block[item.block])
    )


def _would_gain(item: Option, case: BlockAtRisk) -> bool:
    """Return whether nothing but the chance speaks against water."""
    return isinstance(item.facts, WaterFacts) and saves_enough(case, item.facts)
