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


def test_a_failure_is_made_small_for_seconds_and_then_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert engine.MAX_SHRINKING_SECONDS == 20
    made_small = _tries_of_a_failure()
    assert "took too long to shrink" not in capsys.readouterr().out
    monkeypatch.setattr(engine, "MAX_SHRINKING_SECONDS", 0)
    # Told as it was found, and once more to see that it fails again.
    assert _tries_of_a_failure() <= 3 < made_small
    assert "took too long to shrink" in capsys.readouterr().out


def _tries_of_a_failure() -> int:
    """Return how often a property that does not hold was tried and failed."""
    failed = 0

    @settings(database=None, report_multiple_bugs=False)
    @given(st.lists(st.integers(min_value=10**6), min_size=30))
    def fails(numbers: list[int]) -> None:
        nonlocal failed
        failed += 1
        assert len(numbers) < 30

    with pytest.raises(AssertionError):
        fails()
    return failed
