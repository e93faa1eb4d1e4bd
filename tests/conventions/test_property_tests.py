"""A property test fails by what it finds, never because the machine is busy."""

import re
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.internal.conjecture import engine

TESTS = Path(__file__).parents[1]


@given(st.none())
def test_a_slow_example_fails_no_test(nothing: None) -> None:
    # Longer than the 200 ms that hypothesis grants of itself.
    assert nothing is None
    time.sleep(0.3)


def test_no_test_has_a_deadline_of_its_own() -> None:
    own = [
        str(path.relative_to(TESTS))
        for path in sorted(TESTS.rglob("*.py"))
        if "hypothesis" in (text := path.read_text())
        and re.search(r"\bdeadline=", text)
    ]
    assert own == ["conftest.py"]


# Hypothesis draws the same examples in every run where the environment names a CI, and
# then leaves out the part of its message that names a seed.
@pytest.mark.parametrize("same_in_every_run", [False, True])
def test_a_failure_is_made_small_for_seconds_and_then_told(
    same_in_every_run: bool,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert engine.MAX_SHRINKING_SECONDS == 20
    made_small = _tries_of_a_failure(same_in_every_run)
    assert "very slow progress" not in capsys.readouterr().out
    monkeypatch.setattr(engine, "MAX_SHRINKING_SECONDS", 0)
    # Told as it was found, and once more to see that it fails again.
    assert _tries_of_a_failure(same_in_every_run) <= 3 < made_small
    assert "very slow progress" in capsys.readouterr().out


def _tries_of_a_failure(same_in_every_run: bool) -> int:
    """Return how often a property that does not hold was tried and failed."""
    failed = 0

    @settings(database=None, report_multiple_bugs=False, derandomize=same_in_every_run)
    @given(st.lists(st.integers(min_value=10**6), min_size=30))
    def fails(numbers: list[int]) -> None:
        nonlocal failed
        failed += 1
        assert len(numbers) < 30

    with pytest.raises(AssertionError):
        fails()
    return failed
