"""A short run of the kill loop; the long one is `python -m tests.kill_loop`."""

from pathlib import Path

from tests.kill_loop import run_kills


def test_nothing_is_lost_when_the_service_is_killed_again_and_again(
    tmp_path: Path,
) -> None:
    outcome = run_kills(tmp_path, kills=8, seed=7)
    assert outcome.lost == 0
    assert outcome.unmarked == 0
    assert outcome.is_sound
    assert outcome.queued >= 30
