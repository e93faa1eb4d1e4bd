"""Compare what the program says now with what is kept, or keep it.

    python -m tests.golden [GROUP ...] [--write] [--full FOLDER]

Without an option it names what differs and ends with 1 if anything does. `--full`
writes everything to a folder, the hashed messages of the seasons in words: do so before
and after a change, and compare the two folders.
"""

import argparse
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from tests.golden.documents import GROUPS, changes, made, stored, write


def main() -> int:
    """Do what the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.golden")
    parser.add_argument("groups", nargs="*", metavar="GROUP", help=", ".join(GROUPS))
    parser.add_argument("--write", action="store_true", help="keep what comes out now")
    parser.add_argument("--full", type=Path, metavar="FOLDER")
    given = parser.parse_args()
    groups = given.groups or list(GROUPS)
    if unknown := set(groups) - GROUPS.keys():
        parser.error(f"no such group: {', '.join(sorted(unknown))}")
    one = partial(made, is_full=given.full is not None)
    different = 0
    with ProcessPoolExecutor(os.cpu_count() or 1) as pool:
        for group, files in zip(groups, pool.map(one, groups), strict=True):
            if given.full is not None:
                write(group, files, given.full)
                continue
            found = changes(group, stored(group), files)
            different += len(found)
            for difference in found:
                sys.stdout.write(f"{difference}\n\n")
            if given.write:
                write(group, files)
    sys.stdout.write(f"{len(groups)} groups, {different} files differ.\n")
    return 1 if different and not given.write else 0


if __name__ == "__main__":
    sys.exit(main())
