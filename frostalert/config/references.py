"""Names by which one table speaks of another; upper and lower case are alike."""

from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import Any

from frostalert.config.lines import Location


class Names:
    """The names of a list of tables.

    Parameters
    ----------
    written : iterable of str
        The names as they stand in the file.
    """

    def __init__(self, written: Iterable[str]) -> None:
        self._written = {_plain(name): name.strip() for name in written}

    def find(self, name: str) -> str | None:
        """Return a name as it is written where it belongs."""
        return self._written.get(_plain(name))

    def remedy(self, name: str) -> str:
        """Return what to write in place of a name that is not there."""
        near = get_close_matches(_plain(name), self._written, n=2)
        shown = [self._written[key] for key in near] or [*self._written.values()]
        listed = " or ".join(f'"{item}"' for item in shown)
        return f"write {listed}" if listed else "leave it out"


def unknown_names(raw: Mapping[str, Any]) -> Iterator[tuple[Location, str]]:
    """Give the places at which a block or an equipment is named that is not there.

    Parameters
    ----------
    raw : mapping of str to object
        The file as it was read.
    """
    blocks = Names(_names(raw, "blocks"))
    equipment = Names(_names(raw, "equipment"))
    for place, item in tables(raw, "equipment"):
        listed = item.get("blocks")
        for number, name in enumerate(listed if isinstance(listed, list) else ()):
            location = ("equipment", place, "blocks", number)
            yield from _unknown(location, "block", name, blocks)
    for place, item in tables(raw, "sensors"):
        here = ("sensors", place)
        yield from _unknown((*here, "block"), "block", item.get("block"), blocks)
        beside = item.get("equipment")
        yield from _unknown((*here, "equipment"), "equipment", beside, equipment)


def tables(
    raw: Mapping[str, Any], section: str
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Give the tables of a list with their places, whatever else stands there."""
    value = raw.get(section)
    for place, table in enumerate(value if isinstance(value, list) else ()):
        if isinstance(table, dict):
            yield place, table


def _names(raw: Mapping[str, Any], section: str) -> list[str]:
    """Return the names of the tables of a list."""
    found = (table.get("name") for _, table in tables(raw, section))
    return [name for name in found if isinstance(name, str)]


def _unknown(
    location: Location, kind: str, name: Any, known: Names
) -> Iterator[tuple[Location, str]]:
    """Give a name that is not there, with what to write."""
    if isinstance(name, str) and known.find(name) is None:
        yield location, f'there is no {kind} "{name}"; {known.remedy(name)}'


def _plain(name: str) -> str:
    """Return a name as it is looked up."""
    return " ".join(name.lower().split())
