"""How fast the core assesses many blocks, and how much memory that takes.

    python -m tests.benchmarks.core

Assesses blocks on forecast cells of ten nights in one process, by calling the core:
100, 1,000 and 10,000 blocks on a twentieth as many cells. Prints time and peak memory.
"""

import resource
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from frostalert.forecast.nws import parse_grid
from frostalert.model.forecast import ForecastRun, Hours
from frostalert.model.site import Block, Farm
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.holdings import SITE, make_block, make_holding
from tests.support.judged import assess

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
HOURS = 10 * 24 + 7
BLOCKS_PER_CELL = 20
CROPS = (
    ("apricot", "full bloom", 3.0),
    ("sweet-cherry", "first white", 3.0),
    ("concord-grape", "second leaf", 1.6),
    ("strawberry", "popcorn", 0.15),
    ("apple", "full pink", 3.0),
)


def make_cells(count: int, random: np.random.Generator) -> list[ForecastRun]:
    """Return forecast cells that differ by some tenths of a degree an hour."""
    base = parse_grid(grid_text(air_c=frosty_hours(hours=HOURS)), NOW)
    return [
        replace(base, hours=_shifted(base.hours, random.normal(0.0, 2.0, HOURS)))
        for _ in range(count)
    ]


def _shifted(hours: Hours, by_c: np.ndarray) -> Hours:
    air = hours.air_c + by_c
    return replace(hours, air_c=air, dewpoint_c=np.minimum(hours.dewpoint_c, air))


def make_blocks(random: np.random.Generator) -> tuple[Block, ...]:
    """Return the blocks of one cell, each with an offset of its own."""
    rows = [CROPS[n % len(CROPS)] for n in range(BLOCKS_PER_CELL)]
    return tuple(
        make_block(
            f"block {n}",
            crop,
            stage,
            height_m=height,
            cold_spot_delta_c=round(float(random.uniform(-3.0, 0.0)), 1),
        )
        for n, (crop, stage, height) in enumerate(rows)
    )


def assess_all(cells: list[ForecastRun], holdings: list[Farm]) -> int:
    """Assess every cell; return how many block nights that made."""
    return sum(
        len(night.blocks)
        for cell, farm in zip(cells, holdings, strict=True)
        for night in assess(farm, cell, NOW).nights
    )


def main() -> None:
    """Print one line a size."""
    random = np.random.default_rng(12)
    print(f"forecasts of {HOURS} hours from {FIRST:%Y-%m-%d}, {SITE.name}")  # noqa: T201
    for cells in (5, 50, 500):
        runs = make_cells(cells, random)
        holdings = [make_holding(*make_blocks(random)) for _ in range(cells)]
        assess_all(runs[:2], holdings[:2])
        start = time.perf_counter()
        count = assess_all(runs, holdings)
        took = timedelta(seconds=time.perf_counter() - start).total_seconds()
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(  # noqa: T201
            f"{cells * BLOCKS_PER_CELL:>6} blocks, {cells:>3} cells: {count:>7} block "
            f"nights in {took:6.2f} s, peak memory {peak_mb:.0f} MB"
        )


if __name__ == "__main__":
    main()
