"""Try many changes, two processes at a time, each in a copy of the tree of its own."""

import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context

from tests.mutants.kinds import Mutant
from tests.mutants.nearest import WATCHED, Touched
from tests.mutants.workshop import Tried, Workshop

_PROCESSES = 2
_LEAST_LIMIT_S, _TIMES_CONTROL = 30.0, 4.0
_workshops: list[Workshop] = []


def try_all(
    chosen: Sequence[Mutant], touched: Touched, latest: float
) -> Iterator[Tried]:
    """Give what became of each change, as long as there is time."""
    with ProcessPoolExecutor(_PROCESSES, mp_context=get_context("spawn")) as pool:
        work = []
        for mutant in chosen:
            tests = touched.tests_of(mutant)
            usual_s = sum(touched.lasted_s[test] for test in tests)
            most_s = _LEAST_LIMIT_S + _TIMES_CONTROL * usual_s
            work.append(pool.submit(_attempt, mutant, tests, most_s, latest))
        for done in as_completed(work):
            tried = done.result()
            if tried is not None:
                name = f"{tried.mutant.name} {tried.by}"
                sys.stderr.write(f"{tried.end} {tried.lasted_s:.0f} s {name}\n")
                yield tried
        for _ in range(2 * _PROCESSES):
            pool.submit(_close)


def _attempt(
    mutant: Mutant, tests: tuple[str, ...], most_s: float, latest: float
) -> Tried | None:
    """Return what became of one change; None where the time is up."""
    if time.monotonic() > latest:
        return None
    if not _workshops:
        _workshops.append(Workshop())
        _workshops[0].warm_up(WATCHED)
    return _workshops[0].attempt(mutant, tests, most_s)


def _close() -> None:
    """Clear up."""
    while _workshops:
        _workshops.pop().close()
