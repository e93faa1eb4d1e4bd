"""What commands that judge no night do not load: people wait for each of them."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from frostalert.config.example import example_text
from frostalert.store.open import make_state_directory, open_store

HEAVY = {
    "apscheduler",
    "flask",
    "icalendar",
    "jinja2",
    "matplotlib",
    "metpy",
    "numpy",
    "pandas",
    "pint",
    "requests",
    "rich",
    "scipy",
    "xarray",
}
COMMANDS = (
    ["ack", "--by", "Ines"],
    ["health"],
    ["stage", "Sweet cherries"],
    ["reading", "Post by the shed", "41 degF"],
)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("home")
    (folder / "frostalert.toml").write_text(example_text())
    open_store(make_state_directory(folder / "state")).database.close()
    return folder


def loaded(folder: Path, arguments: list[str]) -> tuple[set[str], str]:
    """Return the libraries that a command loads, and what it printed."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "frostalert", *arguments],
        cwd=folder,
        env={**os.environ, "STATE_DIRECTORY": str(folder / "state")},
        capture_output=True,
        text=True,
        check=False,
    )
    rows = [row for row in done.stderr.splitlines() if row.startswith("import time:")]
    names = {row.rpartition("|")[2].strip().partition(".")[0] for row in rows}
    assert "frostalert" in names, done.stderr
    return names, done.stdout


@pytest.mark.parametrize("arguments", COMMANDS, ids=lambda words: words[0])
def test_what_judges_no_night_loads_nothing_heavy(
    home: Path, arguments: list[str]
) -> None:
    names, said = loaded(home, arguments)
    assert said
    assert not names & HEAVY


def test_help_does_not_even_load_the_schema(home: Path) -> None:
    names, said = loaded(home, ["--help"])
    assert "Exit codes" in said
    assert not names & (HEAVY | {"pydantic", "sqlite3", "tomlkit"})


def test_what_judges_a_night_would_be_seen(home: Path) -> None:
    # Were nothing found at all, the tests above would say nothing.
    assert {"numpy", "rich"} <= loaded(home, ["tonight", "--config", "none.toml"])[0]
