"""Hundreds of cycles leave neither memory nor open files behind.

Thousands run in `tests.benchmarks.running`.
"""

import gc
import os
from pathlib import Path

from frostalert.cycle.cycle import redecide
from frostalert.forecast.nws import parse_grid
from frostalert.ports import Fetched, SourceMemory
from frostalert.store.open import open_store
from tests.scenario.test_service import MORNING
from tests.support.grids import grid_text
from tests.support.holdings import make_holding

_CYCLES = 700
_MOST_GROWTH_MB = 8.0


def resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def open_files() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


def test_hundreds_of_cycles_leak_nothing(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    run = parse_grid(grid_text(), MORNING)
    store.save_run(Fetched(run=run, memory=SourceMemory()), "nws", MORNING)
    farm = make_holding()

    def cycles(count: int) -> None:
        for _ in range(count):
            redecide(farm, store, MORNING, faults={"config": "something is wrong"})

    cycles(100)
    gc.collect()
    memory_mb, files = resident_mb(), open_files()
    cycles(_CYCLES)
    gc.collect()
    assert resident_mb() - memory_mb < _MOST_GROWTH_MB
    assert open_files() <= files
    store.database.close()
