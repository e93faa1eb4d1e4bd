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
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert engine.MAX_SHRINKING_SECONDS == 20
    monkeypatch.setattr(engine, "MAX_SHRINKING_SECONDS", 1)
    failed = 0

    @settings(database=None, report_multiple_bugs=False)
    @given(st.lists(st.integers(min_value=10**6), min_size=30))
    def fails_slowly(numbers: list[int]) -> None:
        nonlocal failed
        failed += 1
        time.sleep(0.02)
        assert len(numbers) < 30

    begun_s = time.monotonic()
    with pytest.raises(AssertionError):
        fails_slowly()
    assert time.monotonic() - begun_s < 10.0
    assert failed > 10
