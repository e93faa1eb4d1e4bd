"""Which blocks are watched on which nights: one item each, measured and judged at once.

Items come night by night. Those that are judged come first; after them come the nights
of each source alone, of which only starts are asked.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from frostalert.model.assessment import StageInForce
from frostalert.model.crop import StageThreshold
from frostalert.model.site import Block

Places = NDArray[np.intp]


class Compared(NamedTuple):
    """All that a block is compared with. [degC, min, %]

    Attributes
    ----------
    is_judged : bool
        Whether more than a start is asked: no loss is counted otherwise.
    """

    alarm_c: float
    t10_c: float | None
    t90_c: float | None
    exposure_min: float
    plans_water: bool
    needed_pct: float | None
    buds_lost_pct: float
    is_judged: bool


class Items(NamedTuple):
    """The items, told as equal by their content.

    Attributes
    ----------
    nights, blocks : tuple of int
        The place of each item's night and of its block.
    rows : tuple of int
        What each is compared with, as a place among `compared`.
    own : int
        How many of the items are judged.
    """

    nights: tuple[int, ...]
    blocks: tuple[int, ...]
    rows: tuple[int, ...]
    compared: tuple[Compared, ...]
    own: int

    def places(self) -> tuple[Places, Places, Places]:
        """Return nights, blocks and rows as arrays."""
        nights, blocks, rows = np.array(self[:3], dtype=np.intp)
        return nights, blocks, rows


def watched_items(
    blocks: Sequence[Block], stages: Sequence[Sequence[StageInForce]], judged: int
) -> Items:
    """Return every block with something to be compared with, night by night.

    Parameters
    ----------
    blocks : sequence of Block
        The blocks.
    stages : sequence of sequence of StageInForce
        Each night's stages, one a block; none of a night that is not looked at.
    judged : int
        How many of the nights are judged; after them starts alone are asked.
    """
    nights, places, rows = [], [], []
    # A stage lasts for nights: what a block is compared with is put together once.
    known: dict[tuple[int, int, bool], int] = {}
    compared: list[Compared] = []
    for night, in_force in enumerate(stages):
        is_judged = night < judged
        for place, stage in enumerate(in_force):
            threshold = stage.threshold
            if threshold is None:
                continue
            key = (place, id(threshold), is_judged)
            row = known.get(key)
            if row is None:
                row = known[key] = len(compared)
                compared.append(
                    _compared(blocks[place], threshold, is_judged=is_judged)
                )
            nights.append(night)
            places.append(place)
            rows.append(row)
    own = sum(night < judged for night in nights)
    return Items(tuple(nights), tuple(places), tuple(rows), tuple(compared), own)


def _compared(block: Block, threshold: StageThreshold, *, is_judged: bool) -> Compared:
    """Return what a block's numbers rest on: no loss, where a start alone is asked."""
    return Compared(
        alarm_c=threshold.alarm_c,
        t10_c=threshold.t10_c if is_judged else None,
        t90_c=threshold.t90_c if is_judged else None,
        exposure_min=block.crop.exposure_minutes,
        plans_water=block.plans_water,
        needed_pct=block.crop.needed_pct if is_judged else None,
        buds_lost_pct=block.buds_lost_pct,
        is_judged=is_judged,
    )
