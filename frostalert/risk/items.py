"""Which blocks are watched on which nights: one item each, measured and judged at once.

Items come night by night.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from frostalert.model.assessment import StageInForce
from frostalert.model.site import Block

Places = NDArray[np.intp]
_NONE = -1
"""The row of a stage that nothing is compared with."""


class Limit(NamedTuple):
    """What a stage bears. [degC]"""

    alarm_c: float
    t10_c: float | None
    t90_c: float | None


class Sort(NamedTuple):
    """What numbers rest on besides, the same of a block on every night. [min, %]"""

    exposure_min: float
    plans_water: bool
    needed_pct: float | None
    buds_lost_pct: float


class Items(NamedTuple):
    """The items, told as equal by their content.

    Attributes
    ----------
    told : bytes
        Night, block and row of each: see `places`.
    limits : tuple of Limit
        What items are compared with.
    sorts : tuple of Sort
        Of every block.
    """

    told: bytes
    limits: tuple[Limit, ...]
    sorts: tuple[Sort, ...]

    def places(self) -> tuple[Places, Places, Places]:
        """Return the place of each item's night, of its block, and of its limit."""
        nights, blocks, rows = np.frombuffer(self.told, dtype=np.intp).reshape(3, -1)
        return nights, blocks, rows


def items_at(
    places: tuple[Places, Places, Places],
    limits: Sequence[Limit],
    sorts: Sequence[Sort],
) -> Items:
    """Return items by what `Items.places` is to return of them."""
    return Items(np.array(places, dtype=np.intp).tobytes(), tuple(limits), tuple(sorts))


def watched_items(
    blocks: Sequence[Block], stages: Sequence[Sequence[StageInForce]]
) -> Items:
    """Return every block with something to be compared with, night by night.

    Parameters
    ----------
    blocks : sequence of Block
        The blocks.
    stages : sequence of sequence of StageInForce
        Each night's stages, one a block.
    """
    # A stage lasts for nights and for blocks: what it bears is put together once.
    thresholds = [stage.threshold for in_force in stages for stage in in_force]
    keys = [id(row) for row in thresholds]
    by_key = dict(zip(keys, thresholds, strict=True))
    bears = [row for row in by_key.values() if row is not None]
    numbers = {id(row): number for number, row in enumerate(bears)} | {id(None): _NONE}
    table = np.array([numbers[key] for key in keys], dtype=np.intp)
    table = table.reshape(len(stages), len(blocks))
    nights, places = np.nonzero(table != _NONE)
    return items_at(
        (nights, places, table[nights, places]),
        [Limit(row.alarm_c, row.t10_c, row.t90_c) for row in bears],
        [_sort(block) for block in blocks],
    )


def _sort(block: Block) -> Sort:
    """Return what a block's numbers rest on."""
    return Sort(
        exposure_min=block.crop.exposure_minutes,
        plans_water=block.plans_water,
        needed_pct=block.crop.needed_pct,
        buds_lost_pct=block.buds_lost_pct,
    )
