"""Judge random looks by column and by record, and say what differs.

    python -m tests.by_record [LOOKS] [--from SEED]

Some 750 looks are 20,000 blocks' nights.
"""

import argparse
import sys
from collections import Counter

from tests.by_record.looks import draw_look
from tests.by_record.nights import differences, program_of


def main() -> int:
    """Do what the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.by_record")
    parser.add_argument("looks", nargs="?", type=int, default=750)
    parser.add_argument("--from", dest="first", type=int, default=0)
    given = parser.parse_args()
    tiers: Counter[str] = Counter()
    different = 0
    for seed in range(given.first, given.first + given.looks):
        found = program_of(draw_look(seed))
        for night in found.assessment.nights:
            tiers.update(block.tier.value for block in night.blocks)
        if lines := differences(found):
            different += 1
            sys.stdout.write(f"look {seed}: " + "\n  ".join(lines[:5]) + "\n")
    told = ", ".join(f"{name} {count}" for name, count in tiers.most_common())
    sys.stdout.write(
        f"{tiers.total()} blocks' nights ({told}); looks that differ: {different}\n"
    )
    return 1 if different else 0


if __name__ == "__main__":
    sys.exit(main())
