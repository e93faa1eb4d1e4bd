"""How fast the core assesses many blocks, and how much memory that takes.

    python -m tests.benchmarks.core

Assesses blocks on forecast cells of ten nights in one process, by calling the core:
100, 1,000 and 10,000 blocks on a twentieth as many cells. Prints time and peak memory,
and the time where the record of every block's night is read besides: a look reads few.
"""

import resource
import subprocess
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from frostalert.forecast.nws import parse_grid
from frostalert.model.forecast import ForecastRun, Hours
from frostalert.model.site import Block, Farm
from tests.benchmarks.aim import Aim
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.holdings import SITE, make_block, make_holding
from tests.support.judged import assess
from tests.support.kept import nothing_kept

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


def read_all(cells: list[ForecastRun], holdings: list[Farm]) -> int:
    """Assess every cell and read every record; return how many have numbers."""
    return sum(
        block.bud is not None
        for cell, farm in zip(cells, holdings, strict=True)
        for night in assess(farm, cell, NOW).nights
        for block in night.blocks
    )


def assess_all(cells: list[ForecastRun], holdings: list[Farm]) -> int:
    """Assess every cell; return how many block nights that made."""
    return sum(
        len(night.blocks)
        for cell, farm in zip(cells, holdings, strict=True)
        for night in assess(farm, cell, NOW).nights
    )


BARE = "import metpy.calc"
MOST_TIMES_BARE, MOST_MB, MOST_TIMES_ONE = 2.6, 270.0, 1.6
_ALONE = "from tests.benchmarks.core import alone; print(*alone())"


def alone() -> tuple[float, float]:
    """Return time and peak memory of 10,000 blocks on 500 cells. [s, MB]"""
    random = np.random.default_rng(12)
    runs = make_cells(500, random)
    holdings = [make_holding(*make_blocks(random)) for _ in runs]
    assess_all(runs[:2], holdings[:2])
    start = time.perf_counter()
    assess_all(runs, holdings)
    took_s = time.perf_counter() - start
    return took_s, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def aims(rounds: int = 3) -> list[Aim]:
    """Return time beside a bare import, peak memory, and what a second source costs."""
    took_s, bare_s, peak_mb = np.inf, np.inf, 0.0
    for _ in range(rounds):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", BARE], check=True)
        bare_s = min(bare_s, time.perf_counter() - start)
        done = subprocess.run(
            [sys.executable, "-c", _ALONE], check=True, capture_output=True, text=True
        )
        seconds, peak_mb = map(float, done.stdout.split())
        took_s = min(took_s, seconds)
    return [
        Aim(
            name="core, 10,000 blocks on 500 cells, times a bare import",
            value=took_s / bare_s,
            limit=MOST_TIMES_BARE,
        ),
        Aim(name="core, peak memory", value=peak_mb, unit="MB", limit=MOST_MB),
        Aim(
            name="core, two sources, times one",
            value=second_source_ratio(),
            limit=MOST_TIMES_ONE,
        ),
    ]


def second_source_ratio(cells: int = 40, rounds: int = 5) -> float:
    """Return how many times as long two sources take as one, by processor time.

    Each round anew: one source's cells must not be found made where two sources' are
    too many to be kept. Of every cell the best round counts, with one as with two: a
    machine that is busy for a moment is busy for a few cells.
    """
    random = np.random.default_rng(13)
    firsts, others = make_cells(cells, random), make_cells(cells, random)
    others = [replace(run, source="open-meteo") for run in others]
    names = (firsts[0].source, "open-meteo")
    farms = [replace(make_holding(*make_blocks(random)), sources=names) for _ in firsts]
    best = np.full((2, cells), np.inf)
    for _ in range(rounds):
        for place, with_other in enumerate((False, True)):
            looks = enumerate(zip(firsts, others, farms, strict=True))
            with nothing_kept():
                for cell, (run, other, farm) in looks:
                    start = time.process_time()
                    assess(farm, run, NOW, others=(other,) if with_other else ())
                    took_s = time.process_time() - start
                    best[place, cell] = min(best[place, cell], took_s)
    return float(best[1].sum() / best[0].sum())


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
        others = make_cells(cells, random)  # of which nothing is kept
        start = time.perf_counter()
        read_all(others, holdings)
        read_s = time.perf_counter() - start
        print(  # noqa: T201
            f"{cells * BLOCKS_PER_CELL:>6} blocks, {cells:>3} cells: {count:>7} block "
            f"nights in {took:6.2f} s, all records read in {read_s:6.2f} s, "
            f"peak memory {peak_mb:.0f} MB"
        )


if __name__ == "__main__":
    main()
