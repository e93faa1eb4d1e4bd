"""Ask every mouth of the program about the same minute, and count what does not agree.

    python -m tests.agreement --cases N --seed S [--plant TERM | --plant all]

The last line is `disagreements: N`. It ends with 1 if there are any. With `--plant` one
correction is dropped in one mouth, and that mouth alone is asked, with the correction
and without it; then it ends with 1 unless dropping it was noticed. `all` drops each in
turn, a line each, and counts together what was noticed.
"""

import argparse
import logging
import os
import sys
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from tests.agreement.mouths import SHOWS
from tests.agreement.place import servers
from tests.agreement.play import Played, play
from tests.agreement.record import QUANTITIES
from tests.agreement.seams import DEFECTS, load_program

LEAST_SHARES = {"prepare or above": 0.4, "a start due": 0.2}
"""What share of many cases must be an example of what."""
MANY_CASES = 50
_MOST_LINES = 60
_PROCESSES = 2


def main() -> int:
    """Play the cases that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.agreement")
    parser.add_argument("--cases", type=int, default=20, metavar="N")
    parser.add_argument("--seed", type=int, default=1, metavar="S")
    parser.add_argument("--plant", choices=[*DEFECTS, "all"], metavar="TERM")
    parser.add_argument("--lines", type=int, default=_MOST_LINES, metavar="N")
    given = parser.parse_args()
    if given.plant is None:
        return _tell(play_all(given.cases, given.seed), given.lines)
    terms = tuple(DEFECTS) if given.plant == "all" else (given.plant,)
    found = play_all(given.cases, given.seed, terms)
    return _tell_planted(terms, found, given.lines)


def play_all(cases: int, seed: int, terms: tuple[str, ...] = ()) -> list[Played]:
    """Return what became of some cases, two at a time.

    Each seed of the command line names its own cases: they do not overlap.
    """
    seeds = range(1000 * seed, 1000 * seed + cases)
    with ProcessPoolExecutor(min(_PROCESSES, os.cpu_count() or 1)) as pool:
        return list(pool.map(partial(play_alone, terms=terms), seeds))


def play_alone(seed: int, *, terms: tuple[str, ...]) -> Played:
    """Play a case with servers of its own."""
    logging.disable(logging.CRITICAL)
    load_program()
    with servers() as given:
        if not terms:
            return play(seed, given)
        mouths = {DEFECTS[term].mouth for term in terms}
        return play(seed, given, mouths=sorted(mouths), terms=terms)


def share_lines(found: list[Played]) -> Iterator[str]:
    """Give how many of the cases are an example of what."""
    count = Counter(name for item in found for name in item.shares)
    for name, cases in sorted(count.items()):
        yield f"{name}: {cases} of {len(found)}"


def blind_spots(found: list[Played]) -> Iterator[str]:
    """Give what the cases are no test of: too few examples, or nothing compared."""
    count = Counter(name for item in found for name in item.shares)
    for name, share in LEAST_SHARES.items():
        if count[name] < share * len(found):
            yield f"TOO FEW: {name}: {count[name]} of {len(found)}"
    compared = {pair for item in found for pair in item.compared}
    for mouth, quantities in SHOWS.items():
        for quantity in quantities:
            if (mouth, quantity) not in compared:
                yield f"NEVER COMPARED: {mouth}, {quantity}"


def matrix(count: Counter[tuple[str, str]]) -> Iterator[str]:
    """Give a count by mouth and quantity, a dot where a mouth does not show it."""
    columns = [*QUANTITIES, "process"]
    yield f"{'':<16}" + "".join(f"{name:>9}" for name in columns)
    for mouth, shown in SHOWS.items():
        cells = (
            str(count[mouth, name]) if name in shown or count[mouth, name] else "."
            for name in columns
        )
        yield f"{mouth:<16}" + "".join(f"{cell:>9}" for cell in cells)


def _tell(found: list[Played], most_lines: int) -> int:
    """Print what was found; return the exit code."""
    _say(*share_lines(found), "")
    blind = list(blind_spots(found)) if len(found) >= MANY_CASES else []
    differences = [line for item in found for line in item.differences]
    _say(*map(str, differences[:most_lines]))
    if len(differences) > most_lines:
        _say(f"... and {len(differences) - most_lines} more; see --lines")
    compared = Counter(pair for item in found for pair in item.compared)
    _say("", "compared", *matrix(compared))
    counted = Counter((line.mouth, line.quantity) for line in differences)
    _say("", "not agreeing", *matrix(counted), "", *blind)
    _say(f"disagreements: {len(differences)}")
    return 1 if differences or blind else 0


def _tell_planted(terms: tuple[str, ...], found: list[Played], most_lines: int) -> int:
    """Print what dropping corrections changed; return the exit code."""
    total, is_noticed = 0, True
    for term in terms:
        mouth = DEFECTS[term].mouth
        plain = {
            str(line)
            for item in found
            for line in item.differences
            if line.mouth == mouth
        }
        planted = [str(line) for item in found for line in item.planted[term]]
        if len(terms) == 1:
            _say(*[line for line in planted if line not in plain][:most_lines], "")
        _say(f"{term}, dropped in {mouth}: {len(planted)}; with it: {len(plain)}")
        total += len(planted)
        is_noticed = is_noticed and len(planted) > len(plain)
    _say(f"disagreements: {total}")
    return 0 if is_noticed else 1


def _say(*lines: str) -> None:
    """Print lines."""
    sys.stdout.writelines(f"{line}\n" for line in lines)


if __name__ == "__main__":
    sys.exit(main())
