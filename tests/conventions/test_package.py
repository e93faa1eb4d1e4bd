"""What is shipped: it builds, says what it is, and holds all that it needs."""

import os
import subprocess
import sys
import tarfile
import zipfile
from email.message import Message
from email.parser import Parser
from fnmatch import fnmatch
from pathlib import Path
from typing import NamedTuple

import pytest

from frostalert import __version__
from tests.support.needs import needs_modules

pytestmark = needs_modules("build", "hatchling", "twine", "check_wheel_contents")

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "frostalert"
RECORDS = f"frostalert-{__version__}.dist-info"
LICENCE = "frostalert/LICENSE"
AT_LEAST = (
    "frostalert/agronomy/crops/*.toml",
    "frostalert/cli/demo_data/*.json",
    "frostalert/messages/templates/*.j2",
    "frostalert/report/static/*.css",
    "frostalert/report/templates/*.j2",
    "frostalert/web/static/*.css",
    "frostalert/web/templates/*.j2",
    "frostalert/py.typed",
    f"{RECORDS}/licenses/{LICENCE}",
)
TOP_OF_THE_SOURCE = {
    "README.md",
    "DEVELOPERS.md",
    "PKG-INFO",
    "pyproject.toml",
    "frostalert",
    "config",
    "tests",
    "deploy",
}


class Shipped(NamedTuple):
    """What a release consists of."""

    wheel: Path
    source: Path

    def names(self) -> set[str]:
        """Return the names of the files in the wheel."""
        with zipfile.ZipFile(self.wheel) as archive:
            return set(archive.namelist())

    def text(self, name: str) -> str:
        """Return a file of the wheel."""
        with zipfile.ZipFile(self.wheel) as archive:
            return archive.read(name).decode()

    def metadata(self) -> Message:
        """Return what the wheel says of itself."""
        return Parser().parsestr(self.text(f"{RECORDS}/METADATA"))


def run(*command: str, **environment: str) -> str:
    done = subprocess.run(
        command,
        cwd=environment.pop("cwd", str(ROOT)),
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        timeout=250,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def shipped(tmp_path_factory: pytest.TempPathFactory) -> Shipped:
    """The wheel, made from the source archive as an installer would."""
    folder = tmp_path_factory.mktemp("shipped")
    # With what is installed here: nothing is fetched.
    run(sys.executable, "-m", "build", "--no-isolation", f"--outdir={folder}", ".")
    [wheel], [source] = folder.glob("*.whl"), folder.glob("*.tar.gz")
    return Shipped(wheel, source)


def test_the_checkers_are_content(shipped: Shipped) -> None:
    both = (str(shipped.wheel), str(shipped.source))
    run(sys.executable, "-m", "twine", "check", "--strict", *both)
    run(sys.executable, "-m", "check_wheel_contents", str(shipped.wheel))


def test_the_wheel_holds_the_package_whole_and_nothing_else(shipped: Shipped) -> None:
    names = shipped.names()
    assert {name.partition("/")[0] for name in names} == {PACKAGE.name, RECORDS}
    assert {name for name in names if name.startswith("frostalert/")} == {
        str(path.relative_to(ROOT))
        for path in PACKAGE.rglob("*")
        if path.is_file() and path.suffix != ".pyc"
    } - {LICENCE}


@pytest.mark.parametrize("pattern", AT_LEAST)
def test_what_the_program_reads_is_in_the_wheel(shipped: Shipped, pattern: str) -> None:
    assert any(fnmatch(name, pattern) for name in shipped.names())


def test_the_source_holds_what_the_repository_shows(shipped: Shipped) -> None:
    with tarfile.open(shipped.source) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    top = {name.partition("/")[0] for name in names}
    assert {name for name in top if not name.startswith(".")} == TOP_OF_THE_SOURCE
    assert {LICENCE, "deploy/README.md", "tests/conftest.py"} <= names
    assert not [name for name in names if "__pycache__" in name]


def test_the_description_is_complete(shipped: Shipped) -> None:
    said = shipped.metadata()
    assert said["Version"] == __version__
    assert said["License-Expression"] == "BSD-3-Clause"
    assert said["License-File"] == LICENCE
    text = shipped.text(f"{RECORDS}/licenses/{LICENCE}")
    assert text == (PACKAGE / "LICENSE").read_text()
    assert text.startswith("BSD 3-Clause License\n")
    assert said["Summary"]
    assert said["Keywords"]
    assert said["Requires-Python"] == ">=3.11"
    assert said["Description-Content-Type"] == "text/markdown"
    classifiers = said.get_all("Classifier", [])
    assert "Typing :: Typed" in classifiers
    assert any(line.startswith("Development Status :: ") for line in classifiers)


def test_the_demonstration_runs_from_the_wheel_alone(
    shipped: Shipped, tmp_path: Path
) -> None:
    with zipfile.ZipFile(shipped.wheel) as archive:
        archive.extractall(tmp_path / "installed")  # noqa: S202 - made by ourselves
    place = {"PYTHONPATH": str(tmp_path / "installed"), "cwd": str(tmp_path)}
    asked = "import frostalert; print(frostalert.__file__)"
    assert run(sys.executable, "-c", asked, **place).startswith(str(tmp_path))
    shown = run(sys.executable, "-m", "frostalert", "demo", **place)
    assert "Heron Bench" in shown
