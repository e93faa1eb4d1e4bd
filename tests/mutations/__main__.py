"""Spoil recorded forecasts in every way, and count what the program makes of them.

    python -m tests.mutations --documents FOLDER [--cases N] [--seed S] [--only CASE]

The folder holds recorded answers of forecast services, one a file. Each is cut to three
nights, spoiled by one of the kinds of `kinds.py`, and goes through the real
`frostalert tonight --json --forecast FILE`. The last lines are `crashes: N`, `hangs: N`
and `silently warmer: N`; it ends with 1 if any is not zero. A night is silently warmer
if a low of it is warmer than the good document's by more than half a degree Celsius, it
begins within 36 hours, and nothing is said: no note, no remark, no missing hours.
What nobody can see in one document is a closed list, played as well and counted apart.
"""

import argparse
import logging
import os
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from tests.mutations.documents import Original, recorded
from tests.mutations.kinds import KINDS, SEEN, UNSEEN
from tests.mutations.play import FAR_C, Outcome, play

_PROCESSES = 2
_CHUNK = 50
_MOST_LINES = 40
_ENDS = ("refused", "said", "same", "warmer", "crash", "hang")


def main() -> int:
    """Play the cases that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutations")
    parser.add_argument("--documents", type=Path, required=True, metavar="FOLDER")
    parser.add_argument("--cases", type=int, default=1000, metavar="N")
    parser.add_argument("--seed", type=int, default=1, metavar="S")
    parser.add_argument("--only", metavar="CASE", help="play one case again, as SEED/N")
    parser.add_argument("--said", action="store_true", help="show what is far warmer")
    given = parser.parse_args()
    originals = list(recorded(given.documents))
    if not originals:
        parser.error(f"no forecast of three nights in {given.documents}")
    names = [f"{given.seed}/{n}" for n in range(given.cases)]
    found = play_all([given.only] if given.only else names, originals)
    _say(*lines(found, is_full=given.said))
    return 0 if is_clean(found) else 1


def play_all(cases: Sequence[str], originals: Sequence[Original]) -> list[Outcome]:
    """Return what became of some cases, two at a time."""
    parts = [cases[n : n + _CHUNK] for n in range(0, len(cases), _CHUNK)]
    alone = partial(_play_alone, originals=originals)
    with ProcessPoolExecutor(min(_PROCESSES, os.cpu_count() or 1)) as pool:
        return [outcome for part in pool.map(alone, parts) for outcome in part]


def _play_alone(cases: Sequence[str], originals: Sequence[Original]) -> list[Outcome]:
    """Play some cases in a process of its own."""
    logging.disable(logging.CRITICAL)
    return play_some(cases, originals)


def play_some(
    cases: Sequence[str],
    originals: Sequence[Original],
    kinds: Sequence[str] = tuple(KINDS),
) -> list[Outcome]:
    """Play some cases in this process; each is known by its name alone."""
    found = []
    with TemporaryDirectory() as folder:
        for case in cases:
            random = Random(f"{case} of")  # noqa: S311 - no secret
            original, kind = random.choice(originals), random.choice(list(kinds))
            found.append(play(case, original, kind, Path(folder)))
    return found


def is_clean(found: Sequence[Outcome]) -> bool:
    """Return whether nothing crashed, hung or grew warmer in silence."""
    count = _counted(found)
    return not (count["crash"] or count["hang"] or count["warmer"])


def _counted(found: Sequence[Outcome]) -> Counter[str]:
    """Count the ends; warmth that nobody can see apart."""
    return Counter(
        "unseen" if item.end == "warmer" and item.kind in UNSEEN else item.end
        for item in found
    )


def lines(found: Sequence[Outcome], *, is_full: bool = False) -> Iterator[str]:
    """Give what became of the cases in words."""
    yield f"{'':<22}" + "".join(f"{end:>9}" for end in _ENDS)
    for kinds, title in ((SEEN, "must be seen"), (UNSEEN, "nobody can see")):
        yield f"-- {title} in one document"
        for kind in kinds:
            count = Counter(item.end for item in found if item.kind == kind)
            yield f"{kind:<22}" + "".join(f"{count[end] or '.':>9}" for end in _ENDS)
    yield ""
    wrong = [
        item
        for item in found
        if item.end in ("crash", "hang") or (item.end == "warmer" and item.kind in SEEN)
    ]
    for item in wrong[:_MOST_LINES]:
        yield f"{item.end} {item.case} {item.kind} {item.name}: {item.words}"
    if is_full:
        for item in found:
            if item.end == "said" and item.warmer_c > FAR_C:
                yield f"said {item.case} {item.kind} {item.name}: {item.words}"
    if len(wrong) > _MOST_LINES:
        yield f"... and {len(wrong) - _MOST_LINES} more"
    count = _counted(found)
    yield f"cases: {len(found)}"
    yield f"warmer where nobody can see it ({', '.join(UNSEEN)}): {count['unseen']}"
    far = [item for item in found if item.end == "said" and item.warmer_c > FAR_C]
    yield f"said, and warmer by more than {FAR_C:g} C: {len(far)}"
    yield f"crashes: {count['crash']}"
    yield f"hangs: {count['hang']}"
    yield f"silently warmer: {count['warmer']}"


def _say(*texts: str) -> None:
    """Print lines."""
    sys.stdout.writelines(f"{text}\n" for text in texts)


if __name__ == "__main__":
    sys.exit(main())
