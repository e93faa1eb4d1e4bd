"""Change the package by one token at a time, and count which changes tests notice.

    python -m tests.mutants [--cases N] [--seed S] [--minutes M] [--rooms A,B]
        [--dangerous]

The changes are a closed list (`kinds.py`), chosen by the seed. The tests run once
without a change, and are watched; each change is then tried in a copy of the tree
against the tests that run the changed line (`nearest.py`). The last lines are
`killed: x %` and `survivors of the dangerous kinds: n`. A try that takes four times as
long as without the change counts as killed, and is counted apart.
"""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from random import Random

from tests.mutants.kinds import Mutant, every_mutant
from tests.mutants.nearest import watch
from tests.mutants.rooms import ROOMS, is_dangerous, room_of
from tests.mutants.tries import try_all
from tests.mutants.workshop import ROOT, Tried


def main() -> int:
    """Try what the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants")
    parser.add_argument("--cases", type=int, default=150, metavar="N")
    parser.add_argument("--seed", type=int, default=1, metavar="S")
    parser.add_argument("--minutes", type=float, default=30.0, metavar="M")
    parser.add_argument("--rooms", default=",".join(ROOMS), metavar="ROOM,ROOM")
    parser.add_argument("--dangerous", action="store_true", help="of these kinds alone")
    given = parser.parse_args()
    rooms = set(given.rooms.split(","))
    if not rooms <= set(ROOMS):
        parser.error(f"no such room: {', '.join(sorted(rooms - set(ROOMS)))}")
    files = sources()
    everything = [m for m in every_mutant(files) if room_of(m.path) in rooms]
    if given.dangerous:
        everything = [m for m in everything if is_dangerous(m.path, m.kind)]
    chosen = choose(everything, given.cases, given.seed)
    latest = time.monotonic() + 60.0 * given.minutes
    found = list(try_all(chosen, watch(ROOT, files), latest))
    for line in lines(found, len(chosen)):
        sys.stdout.write(f"{line}\n")
    return 0


def sources(root: Path = ROOT) -> dict[str, str]:
    """Return the package's files that are changed, by path."""
    return {
        str(path.relative_to(root)): path.read_text(encoding="utf-8")
        for path in sorted((root / "frostalert").rglob("*.py"))
        if room_of(str(path.relative_to(root))) in ROOMS
    }


def choose(mutants: Sequence[Mutant], count: int, seed: int) -> list[Mutant]:
    """Return some changes: file by file, so that long files do not have them all."""
    random = Random(seed)  # noqa: S311 - no secret
    by_file: dict[str, list[Mutant]] = {}
    for mutant in mutants:
        by_file.setdefault(mutant.path, []).append(mutant)
    for own in by_file.values():
        random.shuffle(own)
    chosen: list[Mutant] = []
    while len(chosen) < count and any(by_file.values()):
        files = [path for path, own in by_file.items() if own]
        random.shuffle(files)
        chosen += [by_file[path].pop() for path in files]
    return chosen[:count]


def lines(found: Sequence[Tried], asked: int) -> Iterator[str]:
    """Give the result, a line at a time: the last two are for machines too."""
    survivors = [tried for tried in found if tried.end == "survived"]
    yield f"changes tried: {len(found)} of {asked}"
    yield f"of them timed out: {sum(tried.end == 'timed out' for tried in found)}"
    yield from _rates("room", ((room_of(t.mutant.path), t) for t in found))
    yield from _rates("kind", ((t.mutant.kind, t) for t in found))
    for tried in sorted(survivors, key=lambda item: item.mutant.name):
        mutant = tried.mutant
        mark = "DANGEROUS " * is_dangerous(mutant.path, mutant.kind)
        yield f"survived: {mark}{mutant.name}"
    dangerous = sum(is_dangerous(t.mutant.path, t.mutant.kind) for t in survivors)
    killed = len(found) - len(survivors)
    yield f"killed: {100.0 * killed / max(1, len(found)):.0f} %"
    yield f"survivors of the dangerous kinds: {dangerous}"


def _rates(title: str, named: Iterable[tuple[str, Tried]]) -> Iterator[str]:
    """Give how many changes were noticed, by name."""
    all_of, killed = Counter[str](), Counter[str]()
    for name, tried in named:
        all_of[name] += 1
        killed[name] += tried.end != "survived"
    for name, count in sorted(all_of.items()):
        share = 100.0 * killed[name] / count
        yield f"{title} {name}: {killed[name]} of {count} killed, {share:.0f} %"


if __name__ == "__main__":
    sys.exit(main())
