"""Every promise in DEVELOPERS.md names tests that exist."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
_ROW = re.compile(r"^\| (\d+) \| .* \| (.*) \| (.*) \|$")
_COUNT = 52


def rows() -> list[tuple[int, str, str]]:
    text = (ROOT / "DEVELOPERS.md").read_text()
    section = text.split("\n## Promises\n")[1].split("\n## ")[0]
    found = (_ROW.match(line) for line in section.splitlines())
    return [(int(row[1]), row[2], row[3]) for row in found if row is not None]


def test_all_promises_are_listed_once() -> None:
    assert [number for number, _, _ in rows()] == list(range(1, _COUNT + 1))


def test_each_names_tests_that_exist() -> None:
    for number, state, shown in rows():
        assert state.startswith(("kept", "decided against")), number
        part = None
        for piece in re.split(r"[;,] ", shown):
            named = re.search(r"`([\w/.-]+\.(?:py|service))`", piece)
            if named is not None:
                place = ROOT / "tests" / named[1]
                part = place if place.is_file() else ROOT / named[1]
                assert part.is_file(), (number, named[1])
            test = re.search(r"(?:^|: )([a-z]\w*_\w+_\w+)$", piece.strip())
            if test is not None:
                assert part is not None, number
                assert f"def test_{test[1]}(" in part.read_text(), (number, test[1])
