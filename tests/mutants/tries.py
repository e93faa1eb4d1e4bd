"""Try many changes, two processes at a time, each in a copy of the tree of its own."""

import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context

from tests.mutants.kinds import Mutant
from tests.mutants.rooms import NEAREST, nearest_tests, room_of, units_of
from tests.mutants.workshop import ROOT, Tried, Workshop

_PROCESSES = 2
_LONGEST_CONTROL_S = 400.0
_LEAST_LIMIT_S, _TIMES_CONTROL = 30.0, 4.0
_workshops: list[Workshop] = []


def try_all(
    chosen: Sequence[Mutant], latest: float, *, has_scenarios: bool
) -> Iterator[Tried]:
    """Give what became of each change, as long as there is time."""
    tests = {
        mutant.path: nearest_tests(mutant.path, ROOT)
        if has_scenarios
        else units_of(nearest_tests(mutant.path, ROOT))
        for mutant in chosen
    }
    rooms = sorted({room_of(mutant.path) for mutant in chosen})
    with ProcessPoolExecutor(_PROCESSES, mp_context=get_context("spawn")) as pool:
        limits: dict[str, float] = {}
        for room, (passes, lasted_s) in zip(
            rooms,
            pool.map(_control, [_of_room(room, has_scenarios) for room in rooms]),
            strict=True,
        ):
            sys.stderr.write(f"without a change {room}: {passes}, {lasted_s:.0f} s\n")
            if passes:
                limits[room] = max(_LEAST_LIMIT_S, _TIMES_CONTROL * lasted_s)
        known = [mutant for mutant in chosen if room_of(mutant.path) in limits]
        work = [
            (mutant, tests[mutant.path], limits[room_of(mutant.path)], latest)
            for mutant in known
        ]
        for done in as_completed([pool.submit(_attempt, item) for item in work]):
            tried = done.result()
            if tried is not None:
                sys.stderr.write(f"{tried.end} {tried.mutant.name}\n")
                yield tried
        for _ in range(2 * _PROCESSES):
            pool.submit(_close)


def _workshop() -> Workshop:
    """Return this process's own copy of the tree."""
    if not _workshops:
        _workshops.append(Workshop())
    return _workshops[0]


def _of_room(room: str, has_scenarios: bool) -> tuple[str, ...]:
    """Return the nearest tests of a room."""
    return NEAREST[room] if has_scenarios else units_of(NEAREST[room])


def _control(tests: Sequence[str]) -> tuple[bool, float]:
    """Return whether tests pass without a change, and how long they take."""
    return _workshop().control(tests, _LONGEST_CONTROL_S)


def _attempt(work: tuple[Mutant, tuple[str, ...], float, float]) -> Tried | None:
    """Return what became of one change; None where the time is up."""
    mutant, tests, most_s, latest = work
    if time.monotonic() > latest:
        return None
    return _workshop().attempt(mutant, tests, most_s)


def _close() -> None:
    """Clear up."""
    while _workshops:
        _workshops.pop().close()
