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
    nights, blocks : tuple of int
        The place of each item's night and of its block.
    rows : tuple of int
        What each is compared with, as a place among `limits`.
    sorts : tuple of Sort
        Of every block.
    """

    nights: tuple[int, ...]
    blocks: tuple[int, ...]
    rows: tuple[int, ...]
    limits: tuple[Limit, ...]
    sorts: tuple[Sort, ...]

    def places(self) -> tuple[Places, Places, Places]:
        """Return nights, blocks and rows as arrays."""
        nights, blocks, rows = np.array(self[:3], dtype=np.intp)
        return nights, blocks, rows


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
    nights, places, rows = [], [], []
    # A stage lasts for nights and for blocks: what it bears is put together once.
    known: dict[int, int] = {}
    limits: list[Limit] = []
    for night, in_force in enumerate(stages):
        for place, stage in enumerate(in_force):
            row = stage.threshold
            if row is None:
                continue
            if id(row) not in known:
                known[id(row)] = len(limits)
                limits.append(Limit(row.alarm_c, row.t10_c, row.t90_c))
            nights.append(night)
            places.append(place)
            rows.append(known[id(row)])
    return Items(
        nights=tuple(nights),
        blocks=tuple(places),
        rows=tuple(rows),
        limits=tuple(limits),
        sorts=tuple(_sort(block) for block in blocks),
    )


def _sort(block: Block) -> Sort:
    """Return what a block's numbers rest on."""
    return Sort(
        exposure_min=block.crop.exposure_minutes,
        plans_water=block.plans_water,
        needed_pct=block.crop.needed_pct,
        buds_lost_pct=block.buds_lost_pct,
    )
