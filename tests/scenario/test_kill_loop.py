"""A short run of the kill loop; the long one is `python -m tests.kill_loop`."""

from pathlib import Path
from random import Random

from tests.kill_loop.moments import (
    AFTER_FIRST,
    BEFORE_DECISION,
    BEFORE_SENDING,
    BEFORE_WORK,
    DECIDING,
    MAIL_UNDER_WAY,
    SENDING,
)
from tests.kill_loop.rounds import (
    MESSAGES_A_ROUND,
    kill_while_deciding,
    kill_while_sending,
)


def test_nothing_is_lost_when_the_service_is_killed_while_it_sends(
    tmp_path: Path,
) -> None:
    kills = 3
    outcome = kill_while_sending(tmp_path, kills, Random(7))  # noqa: S311 - no secret
    assert outcome.is_good, outcome
    assert outcome.queued == kills * MESSAGES_A_ROUND
    # The kills met it at work, not only while it loaded.
    assert outcome.fell[MAIL_UNDER_WAY] >= 1, outcome.fell
    assert outcome.fell[AFTER_FIRST] >= 1, outcome.fell
    assert outcome.fell[BEFORE_WORK] <= 1
    assert set(outcome.fell) <= set(SENDING)
    assert sum(outcome.fell.values()) == kills


def test_a_night_is_called_though_the_service_is_killed_while_it_decides(
    tmp_path: Path,
) -> None:
    outcome = kill_while_deciding(tmp_path, 2, Random(7))  # noqa: S311 - no secret
    assert outcome.is_good, outcome
    assert outcome.fell[BEFORE_DECISION] + outcome.fell[BEFORE_SENDING] >= 1
    assert set(outcome.fell) <= set(DECIDING)
