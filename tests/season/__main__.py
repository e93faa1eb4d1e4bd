"""Run simulated seasons and print their figures.

    python -m tests.season --seasons N --seed S [--nights 120] [--defect NAME]
        [--equipped] [--lively]

Ends with 1 if a limit is broken; the limits stand in `tests/season/season.py`.
"""

import argparse
import logging
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from tests.season.defects import DEFECTS, planted
from tests.season.score import Score
from tests.season.season import limits_broken, run_season


def main() -> int:
    """Run the seasons that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.season")
    parser.add_argument("--seasons", type=int, default=1, metavar="N")
    parser.add_argument("--seed", type=int, default=1, metavar="S")
    parser.add_argument("--nights", type=int, default=120)
    parser.add_argument("--defect", default="none", choices=["none", *DEFECTS])
    parser.add_argument("--equipped", action="store_true", help="with heaters")
    parser.add_argument("--lively", action="store_true", help="people as they are")
    given = parser.parse_args()
    total, begun = Score(), time.monotonic()
    one = partial(
        play,
        nights=given.nights,
        defect=given.defect,
        has_equipment=given.equipped,
        is_lively=given.lively,
    )
    seeds = range(given.seed, given.seed + given.seasons)
    with ProcessPoolExecutor(min(os.cpu_count() or 1, given.seasons)) as pool:
        for seed, found in zip(seeds, pool.map(one, seeds), strict=True):
            total.add(found)
            _tell_progress(seed, found, time.monotonic() - begun)
    lasted_s = time.monotonic() - begun
    rows = [("seasons", str(given.seasons)), ("first seed", str(given.seed))]
    rows += [*total.rows(), *total.waived_rows(), ("time [s]", f"{lasted_s:.0f}")]
    for name, value in rows:
        sys.stdout.write(f"{name}: {value}\n")
    broken = limits_broken(total, given.seasons)
    for line in broken:
        sys.stdout.write(f"BROKEN {line}\n")
    return 1 if broken else 0


def _tell_progress(seed: int, found: Score, since_s: float) -> None:
    """Say on stderr how a season ended: a long run that is cut has told so far."""
    sys.stderr.write(
        f"seed {seed} after {since_s:.0f} s: {found.risky} risky nights, "
        f"{found.in_time} in time, {found.told_blind} told cannot-judge, "
        f"{len(found.missed)} missed where {found.implied:.1f} are implied, "
        f"{found.false_alarms} false alarms, {found.duplicates} duplicates\n"
    )
    for line in found.missed:
        sys.stderr.write(f"seed {seed} missed {line}\n")
    for line in (*found.failed, *found.absurd, *found.violations):
        sys.stderr.write(f"seed {seed} BROKEN {line}\n")


def play(
    seed: int, *, nights: int, defect: str, has_equipment: bool, is_lively: bool
) -> Score:
    """Return one season's figures; in a process of its own."""
    logging.disable(logging.CRITICAL)
    with planted(defect):
        return run_season(
            seed, nights=nights, has_equipment=has_equipment, is_lively=is_lively
        )


if __name__ == "__main__":
    sys.exit(main())
