"""The slowest tests start first, and all of them are still there."""

import ast
from pathlib import Path

import pytest

from tests.support.order import SLOWEST, TOGETHER, slowest_first

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("start", SLOWEST)
def test_each_of_the_slowest_is_a_test(start: str) -> None:
    path, _, beginning = start.partition("::")
    tree = ast.parse((ROOT / path).read_text())
    names = [node.name for node in tree.body if isinstance(node, ast.FunctionDef)]
    assert sum(name.startswith(beginning) for name in names) == 1


@pytest.mark.parametrize("workers", [1, 2, 4, 40])
@pytest.mark.parametrize("file", TOGETHER)
def test_what_is_set_up_for_a_file_is_set_up_once(file: str, workers: int) -> None:
    assert (ROOT / file).exists()
    own = [f"{file}::test_{n}" for n in range(9)]
    others = [f"tests/test_{n}.py::test" for n in range(200)]
    dealt = slowest_first([*others[:7], *own, *others[7:], *SLOWEST], str, workers)
    places = [dealt.index(name) for name in own]
    if len(dealt) // workers >= len(own):
        assert places == list(range(places[0], places[0] + len(own)))
        share = len(dealt) // workers
        assert places[0] // share == places[-1] // share
    assert set(own) <= set(dealt)


@pytest.mark.parametrize("workers", [1, 2, 4, 40])
@pytest.mark.parametrize("quick", [0, 1, 7, 100])
def test_no_test_is_lost_and_each_worker_begins_with_a_slow_one(
    workers: int, quick: int
) -> None:
    tests = [*(str(n) for n in range(quick)), *reversed(SLOWEST)]
    dealt = slowest_first(tests, str, workers)
    assert sorted(dealt) == sorted(tests)
    assert [test for test in dealt if test not in SLOWEST] == tests[:quick]
    # As the runner cuts the list, from its beginning on.
    left, begins = list(dealt), set()
    for worker in range(workers):
        share = len(left) // (workers - worker)
        begins |= set(left[:1] if share else [])
        left = left[share:]
    assert begins >= set(SLOWEST[: min(workers, len(tests)) // 2])
    if workers <= 4:
        assert begins == set(SLOWEST[:workers])
