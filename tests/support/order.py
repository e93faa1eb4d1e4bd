"""Which tests take longest, so that they start first.

A worker gets a run of neighbouring tests to begin with, and gives the last of them away
when another has none left. So the slow ones are dealt out, each worker's to the front.
"""

from collections.abc import Callable, Sequence
from itertools import chain, cycle, islice
from typing import TypeVar

SLOWEST = (
    "tests/scenario/test_daemon_faults.py::test_a_full_disk_keeps_no_warning",
    "tests/scenario/test_daemon.py::test_it_warns_takes_up_changes",
    "tests/scenario/test_kill_loop.py::test_nothing_is_lost",
    "tests/scenario/test_kill_loop.py::test_a_night_is_called",
    "tests/scenario/test_daemon_faults.py::test_a_clock_that_is_moved",
    "tests/scenario/test_line_down.py::test_an_evening_without_the_line",
    "tests/scenario/test_daemon_faults.py::test_two_servers_that_contradict",
    "tests/scenario/test_daemon_faults.py::test_one_server_that_contradicts",
    "tests/scenario/test_past.py::test_three_springs_take_less",
    "tests/scenario/test_secrets.py::test_no_secret_is_printed",
    "tests/scenario/test_daemon_faults.py::test_people_answer_and_monitors_ask",
    "tests/scenario/test_daemon_faults.py::test_the_end_waits_for_the_mail",
    "tests/scenario/test_daemon.py::test_a_broken_configuration_at_start",
    "tests/conventions/test_how_to_add.py::test_a_method_of_a_new_kind",
    "tests/conventions/test_how_to_add.py::test_a_new_channel",
    "tests/agreement/test_agreement.py::test_each_correction",
    "tests/scenario/test_line_down.py::test_each_line_down_alone",
    "tests/scenario/test_lanes.py::test_a_copy_that_takes_long",
    "tests/scenario/test_bare_warning.py::test_the_bare_warning",
    "tests/golden/test_golden.py::test_nothing_is_said_otherwise_than_before",
    "tests/season/test_season.py::test_a_season_with_faults",
    "tests/season/test_season.py::test_each_start_of_an_equipped_planting",
    "tests/season/test_season.py::test_starts_that_are_forgotten",
    "tests/season/test_season.py::test_the_season_in_which_mails",
    "tests/season/test_season.py::test_people_as_they_are",
    "tests/season/test_kept.py::test_a_season_is_the_same",
    "tests/season/test_season.py::test_a_season_follows_from_its_seed",
    "tests/season/test_season.py::test_a_planted_defect_is_caught",
    "tests/scenario/test_daemon_faults.py::test_a_state_that_cannot_be_written",
    "tests/scenario/test_sources_part.py::test_both_members",
    "tests/scenario/test_sources_part.py::test_a_cold_reading_calls_hands",
    "tests/benchmarks/test_running.py::test_the_daemon_is_measured",
    "tests/conventions/test_tools.py::test_tool_is_content",
    "tests/benchmarks/test_running.py::test_the_real_daemon_writes",
    "tests/test_payloads.py::test_the_script_judges_grids",
    "tests/scenario/test_people_change.py::test_after_a_night_without_network",
    "tests/scenario/test_once.py::test_killing_it_between_queueing_and_sending",
    "tests/conventions/test_skips.py::test_each_reason_stands_once",
    "tests/evaluation/test_false_alarms.py::test_tiers_over_a_bloom",
    "tests/evaluation/test_hindcast.py::test_pooled_lows_are_nearer",
    "tests/evaluation/test_hindcast.py::test_no_station_s_outcome",
    "tests/evaluation/test_hindcast.py::test_errors_of_one_size",
    "tests/evaluation/test_hindcast.py::test_where_spread_tells_the_error",
    "tests/browser/test_pages.py::test_a_person_answers",
    "tests/scenario/test_past.py::test_it_teaches_the_service",
    "tests/scenario/test_past.py::test_an_errand_does_it_once",
    "tests/scenario/test_past.py::test_where_a_unit_kills",
    "tests/scenario/test_past.py::test_one_screen_says",
    "tests/scenario/test_past.py::test_a_service_that_runs",
)
"""Beginnings of the names of all tests that take some seconds, the longest first."""

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
    slow = sorted(
        (test for test in tests if _place(name(test)) is not None),
        key=lambda test: _place(name(test)) or 0,
    )
    shares = [(len(tests) + worker) // workers for worker in range(workers)]
    dealt: list[list[_Test]] = [[] for _ in shares]
    places = cycle(range(workers))
    for test in slow:
        dealt[next(n for n in places if len(dealt[n]) < shares[n])].append(test)
    quick = iter([test for test in tests if _place(name(test)) is None])
    filled = (
        chain(own, islice(quick, share - len(own)))
        for own, share in zip(dealt, shares, strict=True)
    )
    return list(chain.from_iterable(filled))


def _place(name: str) -> int | None:
    """Return a test's place among the slowest, None if it is not one of them."""
    return next((n for n, start in enumerate(SLOWEST) if name.startswith(start)), None)
