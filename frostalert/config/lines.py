"""On which line of a file something stands: the parsed tables do not remember it."""

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

Location = tuple[str | int, ...]
"""Keys and places in lists, from the outermost table inwards."""


class Lines:
    """The lines of a file that is TOML.

    Parameters
    ----------
    text : str
        The file.
    """

    def __init__(self, text: str) -> None:
        self._numbers: dict[Location, int] = {}
        counts: dict[Location, int] = {}
        here: Location = ()
        for number, statement in _statements(text):
            header = statement.lstrip()
            path = _path(tomllib.loads(statement))
            if header.startswith("["):
                path = _inside(path, counts)
            if header.startswith("[["):
                counts[path] = counts.get(path, -1) + 1
                self._numbers.setdefault(path, number)
                here = (*path, counts[path])
                self._numbers[here] = number
            elif header.startswith("["):
                here = path
                self._note(here, number)
            else:
                self._note((*here, *path), number, beyond=len(here))

    def of(self, location: Sequence[str | int]) -> int | None:
        """Return the line of the innermost part of a place that is written."""
        wanted = tuple(location)
        while wanted:
            if wanted in self._numbers:
                return self._numbers[wanted]
            wanted = wanted[:-1]
        return None

    def _note(self, path: Location, number: int, beyond: int = 0) -> None:
        """Keep a line for a place and for what it makes on the way."""
        for length in range(beyond + 1, len(path) + 1):
            self._numbers.setdefault(path[:length], number)


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Give each statement with its first line: what is read by itself, over lines."""
    pending, begun = "", 0
    for number, line in enumerate(text.split("\n"), 1):
        if not pending:
            begun = number
        pending += f"{line}\n"
        try:
            content = tomllib.loads(pending)
        except tomllib.TOMLDecodeError:
            continue
        if content:
            yield begun, pending
        pending = ""


def _inside(path: Location, counts: Mapping[Location, int]) -> Location:
    """Return a table's path through the last entries of the lists on its way."""
    found: Location = ()
    for place, step in enumerate(path):
        found = (*found, step)
        if place < len(path) - 1 and found in counts:
            found = (*found, counts[found])
    return found


def _path(content: Mapping[str, Any]) -> Location:
    """Return the key that a single statement sets."""
    path: Location = ()
    value: Any = content
    while isinstance(value, dict) and len(value) == 1:
        [(key, value)] = value.items()
        path = (*path, key)
    return path
