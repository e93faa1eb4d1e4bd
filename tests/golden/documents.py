"""All documents by group: made anew, stored, compared."""

import difflib
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.golden.commands import COMMANDS
from tests.golden.nights import NIGHTS
from tests.golden.seasons import SEASONS

Files = dict[str, str]
FOLDER = Path(__file__).parent / "files"
GROUPS: dict[str, Callable[..., Files]] = {**COMMANDS, **NIGHTS, **SEASONS}
_DIGITS = 5
"""Digits of a number that count: the solver and the processor make the rest."""
_MOST_LINES = 80
"""Lines of a difference that are shown."""
_FRACTION = re.compile(r"(\d\d:\d\d:\d\d)\.\d+")


def made(group: str, *, is_full: bool = False) -> Files:
    """The files of a group as they come out now; in full with all that is hashed."""
    given = {"is_full": True} if is_full and group in SEASONS else {}
    files = GROUPS[group](**given)
    return {name: canonical(name, text) for name, text in files.items()}


def stored(group: str) -> Files:
    """The files of a group as they are kept."""
    folder = FOLDER / group
    return {
        path.name: path.read_text(encoding="utf-8") for path in folder.glob("[!.]*")
    }


def write(group: str, files: Files, folder: Path = FOLDER) -> None:
    """Keep the files of a group, and none that it has no more."""
    place = folder / group
    place.mkdir(parents=True, exist_ok=True)
    for path in place.glob("[!.]*"):
        if path.name not in files:
            path.unlink()
    for name, text in files.items():
        (place / name).write_text(text, encoding="utf-8")


def changes(group: str, before: Files, now: Files) -> list[str]:
    """What differs in a group, a readable difference a file; none if nothing does."""
    found = []
    for name in sorted(before.keys() | now.keys()):
        old, new = before.get(name), now.get(name)
        if old is None or new is None:
            found.append(f"{group}/{name}: {'not kept' if old is None else 'gone'}")
        elif old != new:
            found.append(_difference(f"{group}/{name}", old, new))
    return found


def canonical(name: str, text: str) -> str:
    """A document without what varies from one machine to the next."""
    text = _FRACTION.sub(r"\1", text).replace("\r\n", "\n")
    if not name.endswith(".json"):
        return text
    head, _, end = text.rpartition("}")
    content = _rounded(json.loads(head + "}"))
    return json.dumps(content, indent=0, ensure_ascii=False) + end


def _rounded(value: Any) -> Any:
    """A JSON value with its numbers cut to the digits that count."""
    if isinstance(value, float):
        return float(f"{value:.{_DIGITS}g}")
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    return value


def _difference(name: str, old: str, new: str) -> str:
    """Where two texts differ, as far as it can be read at one sitting."""
    kept, now = old.splitlines(), new.splitlines()
    lines = list(
        difflib.unified_diff(kept, now, f"{name} kept", f"{name} now", n=2, lineterm="")
    )
    shown = [f"{name} differs", *lines[:_MOST_LINES]]
    if len(lines) > _MOST_LINES:
        shown.append(f"... and {len(lines) - _MOST_LINES} lines more")
    return "\n".join(shown)
