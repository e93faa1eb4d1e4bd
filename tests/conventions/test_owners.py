"""Which rooms may import which library; the core does no input or output.

The rooms are read from the layers in pyproject.toml and the imports from the code, so
that a new module or package is covered without being listed here.
"""

import shutil
import sys
import tomllib
from collections.abc import Collection
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "frostalert"

OWNERS = {
    "apscheduler": {"schedule"},
    "astral": {"physics"},
    "flask": {"web"},
    "icalendar": {"messages"},
    "jinja2": {"messages", "report"},
    "matplotlib": {"report"},
    "metpy": {"physics"},
    "pint": {"physics"},
    "pydantic": {"config"},
    "requests": {"transport"},
    "rich": {"cli"},
    "scipy": {"agronomy", "physics", "plan"},
    "smtplib": {"notify"},
    "socket": {"supervisor", "notify"},
    "sqlite3": {"store"},
    "ssl": {"notify"},
    "tomlkit": {"config"},
    "typer": {"cli"},
    "tzlocal": {"cli"},
    "waitress": {"web", "cli.web"},
}
"""The rooms, or single modules, that may import a library. One that does not come with
Python must stand here."""
FREE_TO_ALL = {"numpy"}

OUTER_BELOW = "transport"
"""Line of the layers below which nothing touches the world outside."""
MAY_SPEAK = {"cycle", "messages"}
"""Rooms below it that log and write words; all others are the core."""
OUTSIDE_WORLD = {
    "networks": "ftplib http imaplib poplib requests select selectors smtplib socket "
    "socketserver ssl urllib xmlrpc",
    "files": "fcntl fileinput glob io mmap os pathlib shutil sqlite3 tempfile",
    "programs": "asyncio concurrent ctypes multiprocessing signal subprocess sys "
    "threading",
    "clock and chance": "random secrets time",
    "edges": "apscheduler flask matplotlib pydantic rich tomlkit typer tzlocal "
    "waitress",
}
NOT_BELOW = set(" ".join(OUTSIDE_WORLD.values()).split())
NOT_IN_CORE = NOT_BELOW | {"icalendar", "jinja2", "logging"}
# Its Protocol of the configuration says where the file stands; nothing is opened.
LET_THROUGH = {("ports", "pathlib")}


def core_and_speaking() -> tuple[list[str], list[str]]:
    """Return the rooms of the core and those that may speak, by the layers."""
    text = (ROOT / "pyproject.toml").read_text()
    contracts = tomllib.loads(text)["tool"]["importlinter"]["contracts"]
    [layers] = [one["layers"] for one in contracts if one["type"] == "layers"]
    rooms = _rooms_on(layers[layers.index(OUTER_BELOW) + 1 :])
    return (
        [room for room in rooms if room not in MAY_SPEAK],
        [room for room in rooms if room in MAY_SPEAK],
    )


def _rooms_on(lines: list[str]) -> list[str]:
    return [room.strip() for line in lines for room in line.split("|")]


def _is_in(module: str, rooms: Collection[str]) -> bool:
    return any(f"{module}.".startswith(f"{room}.") for room in rooms)


def outside_imports(package: str) -> list[tuple[str, str]]:
    """Return each module, named from its room down, with each library it imports."""
    graph = grimp.build_graph(package, include_external_packages=True, cache_dir=None)
    return sorted(
        (module.partition(".")[2], library)
        for module in graph.modules
        if f"{module}.".startswith(f"{package}.")
        for imported in graph.find_modules_directly_imported_by(module)
        if (library := imported.partition(".")[0]) not in (package, PACKAGE.name)
    )


def breaches(package: str) -> list[str]:
    """Return in words what a package imports where it may not."""
    core, speaking = core_and_speaking()
    found = []
    for module, library in outside_imports(package):
        owners = OWNERS.get(library)
        if owners is None and library not in sys.stdlib_module_names | FREE_TO_ALL:
            found.append(f"{module}: {library} has no owner")
        if owners is not None and not _is_in(module, owners):
            found.append(
                f"{module}: {library} belongs to {' and '.join(sorted(owners))}"
            )
        if (module, library) in LET_THROUGH:
            continue
        if library in NOT_IN_CORE and _is_in(module, core):
            found.append(f"{module}: no {library} in the core")
        if library in NOT_BELOW and _is_in(module, speaking):
            found.append(f"{module}: no {library} in cycle and messages")
    return found


def test_each_library_is_imported_by_its_owners_alone() -> None:
    assert breaches(PACKAGE.name) == []


def test_the_rooms_of_the_core_are_found() -> None:
    core, speaking = core_and_speaking()
    assert {"ports", "physics", "agronomy", "model", "errors"} <= set(core)
    assert set(speaking) == MAY_SPEAK
    for room in (*core, *speaking):
        assert (PACKAGE / room).is_dir() or (PACKAGE / f"{room}.py").is_file(), room


def test_every_owner_exists() -> None:
    for name in sorted(set().union(*OWNERS.values())):
        place = PACKAGE.joinpath(*name.split("."))
        assert place.is_dir() or place.with_suffix(".py").is_file(), name


def test_every_module_is_looked_at() -> None:
    # A folder without __init__.py would be passed over in silence.
    for path in PACKAGE.rglob("*.py"):
        assert (path.parent / "__init__.py").is_file(), path


def test_what_is_planted_where_it_may_not_stand_is_caught(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    core, speaking = core_and_speaking()
    folder = next(room for room in core if (PACKAGE / room).is_dir())
    planted = tmp_path / "planted"
    shutil.copytree(PACKAGE, planted, ignore=shutil.ignore_patterns("__pycache__"))
    (planted / "orchard").mkdir()
    lines = {
        "observations.py": "import sqlite3, requests",
        "status.py": "import pydantic",
        "web/page.py": "from time import sleep\nfrom requests import Session",
        "orchard/__init__.py": "import matplotlib.pyplot",
        "store/state.py": "import pandas",
        "clock.py": "def ask():\n    import smtplib",
        f"{speaking[0]}/__init__.py": "import logging, os\nfrom urllib import parse",
        f"{folder}/__init__.py": "import logging\nfrom pathlib import Path",
        "physics/__init__.py": "import sqlite3",
    }
    for name, line in lines.items():
        with (planted / name).open("a") as module:
            module.write(f"\n{line}\n")
    monkeypatch.syspath_prepend(tmp_path)
    assert sorted(breaches("planted")) == sorted(
        [
            "clock: smtplib belongs to notify",
            f"{folder}: no logging in the core",
            f"{folder}: no pathlib in the core",
            "observations: requests belongs to transport",
            "observations: sqlite3 belongs to store",
            "orchard: matplotlib belongs to report",
            "physics: sqlite3 belongs to store",
            "physics: no sqlite3 in the core",
            f"{speaking[0]}: no os in cycle and messages",
            f"{speaking[0]}: no urllib in cycle and messages",
            "status: pydantic belongs to config",
            "store.state: pandas has no owner",
            "web.page: requests belongs to transport",
        ]
    )
