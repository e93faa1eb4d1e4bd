"""Every promise in promises.toml names tests that exist."""

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
PROMISES: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parent / "promises.toml").read_text()
)["promise"]
_COUNT = 52
_NAMED = re.compile(r"([\w/.-]+\.(?:py|service))(?:: (\w+))?")


def test_all_promises_are_listed_once() -> None:
    assert [row["number"] for row in PROMISES] == list(range(1, _COUNT + 1))


@pytest.mark.parametrize("promise", PROMISES, ids=lambda row: str(row["number"]))
def test_each_names_tests_that_exist(promise: dict[str, Any]) -> None:
    assert promise["state"].startswith(("kept", "decided against"))
    assert promise["shown_by"]
    for shown in promise["shown_by"]:
        named = _NAMED.fullmatch(shown)
        if named is None:
            # A long run of its own.
            assert shown == "seasons" or shown.startswith("python -m ")
            continue
        place = ROOT / "tests" / named[1]
        place = place if place.is_file() else ROOT / named[1]
        assert place.is_file(), named[1]
        if named[2] is not None:
            assert f"def test_{named[2]}(" in place.read_text(), named[2]
