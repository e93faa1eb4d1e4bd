"""What a simulated night costs, with what is kept between looks and without.

    python -m tests.benchmarks.season

The same season is lived twice, in turn: as it is, and with nothing kept of a forecast
that has not changed. Its figures must be the same; only the processor time may differ.
"""

import logging
import time

from tests.benchmarks.aim import Aim
from tests.season.season import run_season
from tests.support.kept import nothing_kept

SEED, NIGHTS = 301, 20


def season_aims(nights: int = NIGHTS) -> list[Aim]:
    """Return the cost of a night, and what keeping saves of it."""
    logging.getLogger("frostalert").setLevel(logging.CRITICAL)
    quick_s, quick = _lived(nights)
    with nothing_kept():
        slow_s, slow = _lived(nights)
    differing = sum(a != b for a, b in zip(quick, slow, strict=True))
    return [
        Aim(name="season, processor time a night", value=quick_s / nights, unit="s"),
        Aim(
            name="season, of its time with nothing kept",
            value=quick_s / slow_s,
            unit="times",
            limit=0.9,
        ),
        Aim(name="season, figures that keeping changes", value=differing, limit=0),
    ]


def _lived(nights: int) -> tuple[float, list[tuple[str, str]]]:
    """Return the processor time of one season, and its figures. [s]"""
    start = time.process_time()
    score = run_season(SEED, nights=nights, has_equipment=True)
    return time.process_time() - start, list(score.rows())


if __name__ == "__main__":
    for found in season_aims():
        print(found.row())  # noqa: T201
