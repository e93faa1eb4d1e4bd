"""Which tests take longest, so that they start first.

A worker gets a run of neighbouring tests to begin with, and gives the last of them away
when another has none left. So the slow ones are dealt out, each worker's to the front.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import chain, cycle, islice
from typing import TypeVar

TOGETHER = (
    "tests/agreement/test_agreement.py",
    "tests/conventions/test_how_to_add.py",
    "tests/scenario/test_sources_part.py",
    "tests/evaluation/test_hindcast.py",
)
"""Files whose tests share what takes long to set up, and so stay with one worker."""
SLOWEST = (
    "tests/scenario/test_daemon_faults.py::test_a_full_disk_keeps_no_warning",
    "tests/scenario/test_past.py::test_an_errand_does_it_once",
    "tests/scenario/test_past.py::test_three_springs_take_less",
    "tests/season/test_kept.py::test_a_season_is_the_same",
    "tests/scenario/test_daemon_faults.py::test_the_end_waits_for_the_mail",
    "tests/scenario/test_daemon.py::test_it_warns_takes_up_changes",
    "tests/scenario/test_daemon_faults.py::test_people_answer_and_monitors_ask",
    "tests/scenario/test_kill_loop.py::test_nothing_is_lost",
    "tests/scenario/test_kill_loop.py::test_a_night_is_called",
    "tests/scenario/test_daemon_faults.py::test_a_state_that_cannot_be_written",
    "tests/season/test_season.py::test_a_season_with_faults",
    "tests/season/test_season.py::test_a_planted_defect_is_caught",
    "tests/scenario/test_daemon_faults.py::test_a_clock_that_is_moved",
    "tests/golden/test_golden.py::test_nothing_is_said_otherwise_than_before",
    "tests/season/test_season.py::test_a_season_follows_from_its_seed",
    "tests/season/test_season.py::test_each_start_of_an_equipped_planting",
    "tests/season/test_season.py::test_people_as_they_are",
    "tests/season/test_season.py::test_the_season_in_which_mails",
    "tests/season/test_season.py::test_starts_that_are_forgotten",
    "tests/benchmarks/test_aims.py::test_each_part_measures",
    "tests/benchmarks/test_running.py::test_the_real_daemon_writes",
    "tests/scenario/test_past.py::test_it_teaches_the_service",
    "tests/benchmarks/test_running.py::test_the_daemon_is_measured",
    "tests/scenario/test_once.py::test_killing_it_between_queueing_and_sending",
    "tests/scenario/test_daemon.py::test_a_broken_configuration_at_start",
    "tests/scenario/test_daemon_faults.py::test_one_server_that_contradicts",
    "tests/scenario/test_daemon_faults.py::test_two_servers_that_contradict",
    "tests/scenario/test_secrets.py::test_no_secret_is_printed",
    "tests/scenario/test_past.py::test_where_a_unit_kills",
    "tests/scenario/test_past.py::test_a_service_that_runs",
    "tests/scenario/test_line_down.py::test_an_evening_without_the_line",
    "tests/scenario/test_lanes.py::test_a_copy_that_takes_long",
    "tests/scenario/test_bare_warning.py::test_the_bare_warning",
    "tests/conventions/test_tools.py::test_tool_is_content",
    "tests/conventions/test_skips.py::test_each_reason_stands_once",
    "tests/scenario/test_people_change.py::test_after_a_night_without_network",
    "tests/evaluation/test_false_alarms.py::test_tiers_over_a_bloom",
    "tests/browser/test_pages.py::test_a_person_answers",
)
"""Beginnings of the names of other tests that take some seconds, the longest first."""

_SLOW = (*TOGETHER, *SLOWEST)
_Test = TypeVar("_Test")


def slowest_first(
    tests: Sequence[_Test], name: Callable[[_Test], str], workers: int
) -> list[_Test]:
    """Return tests dealt out to workers, each worker's slowest in front.

    The runner cuts the list into as many runs as there are workers. The others keep
    their order, so that neighbours stay together.

    Examples
    --------
    >>> slow = SLOWEST[:3]
    >>> dealt = slowest_first(["a", *slow, "b", "c"], str, 2)
    >>> [test if len(test) == 1 else slow.index(test) for test in dealt]
    [0, 2, 'a', 1, 'b', 'c']
    """
    hands: dict[tuple[int, int], list[_Test]] = {}
    quick: list[_Test] = []
    for number, test in enumerate(tests):
        place = _place(name(test))
        own = (place, 0 if place < len(TOGETHER) else number)
        (quick if place < 0 else hands.setdefault(own, [])).append(test)
    shares = [(len(tests) + worker) // workers for worker in range(workers)]
    dealt: list[list[_Test]] = [[] for _ in shares]
    places = cycle(range(workers))
    for own in sorted(hands):
        _deal(hands[own], dealt, shares, places)
    left = iter(quick)
    filled = (
        chain(slow, islice(left, share - len(slow)))
        for slow, share in zip(dealt, shares, strict=True)
    )
    return list(chain.from_iterable(filled))


def _deal(
    hand: list[_Test],
    dealt: list[list[_Test]],
    shares: list[int],
    places: Iterator[int],
) -> None:
    """Give tests to the next worker with room for all of them, or to several."""
    room = max(share - len(own) for own, share in zip(dealt, shares, strict=True))
    for part in [hand] if len(hand) <= room else [[test] for test in hand]:
        worker = next(n for n in places if len(dealt[n]) + len(part) <= shares[n])
        dealt[worker] += part


def _place(name: str) -> int:
    """Return a test's place among the slowest, -1 if it is not one of them."""
    return next((n for n, start in enumerate(_SLOW) if name.startswith(start)), -1)
