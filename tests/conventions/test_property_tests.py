"""A property test fails by what it finds, never because the machine is busy."""

import re
import time
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

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
