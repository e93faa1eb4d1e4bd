"""Run all benchmarks and hold their figures against their aims.

    python -m tests.benchmarks --aims [--cycles N]

Prints `name: value (aim)` and ends in `aims missed: N`; ends with 1 if any was missed.
Every ratio is of two times taken in turn in this run: others use the machine too. Some
ten minutes on two idle cores, most of it the daemon's cycles.
"""

import argparse
import sys
from collections.abc import Callable, Iterator

from tests.benchmarks import core, running, start_up, wet_bulb
from tests.benchmarks.aim import Aim
from tests.benchmarks.season import season_aims


def main() -> int:
    """Run what the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks")
    parser.add_argument("--aims", action="store_true", help="the default")
    parser.add_argument("--cycles", type=int, default=running.CYCLES)
    given = parser.parse_args()
    parts: tuple[Callable[[], list[Aim]], ...] = (
        core.aims,
        wet_bulb.aims,
        season_aims,
        lambda: running.aims(given.cycles),
        start_up.aims,
    )
    return tell(aim for part in parts for aim in part())


def tell(aims: Iterator[Aim]) -> int:
    """Print each figure as it comes, and how many aims were missed."""
    missed = 0
    for aim in aims:
        sys.stdout.write(f"{aim.row()}\n")
        sys.stdout.flush()
        missed += aim.is_missed
    sys.stdout.write(f"aims missed: {missed}\n")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
