"""What a command loads when it starts: its own module, and no library to spare.

Each starts a process of its own and looks at what it has imported in the end.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.core import TyperGroup

from frostalert.cli.commands import COMMANDS, Command
from frostalert.config.example import example_text
from frostalert.store.open import make_state_directory, open_store

MODULES = {
    f"frostalert.cli.{command.place.partition(':')[0]}": command for command in COMMANDS
}
STARTED = """
import atexit, sys
from pathlib import Path
atexit.register(lambda: Path("modules").write_text(" ".join(sys.modules)))
sys.argv[0] = "frostalert"
from frostalert.__main__ import main
main()
"""
"""What the installed command does, whose completion goes by its name, with a list left
behind of what it has imported."""
HEAVY = {"matplotlib", "metpy", "pandas", "scipy.special", "scipy.stats", "xarray"}


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder with the example configuration and the empty state of a service."""
    (tmp_path / "frostalert.toml").write_text(example_text())
    open_store(make_state_directory(tmp_path / "state")).database.close()
    return tmp_path


def loaded(
    home: Path, *arguments: str, **environment: str
) -> tuple[set[str], "subprocess.CompletedProcess[str]"]:
    """Return what one run of the program imported, and the run itself."""
    done = subprocess.run(
        [sys.executable, "-c", STARTED, *arguments],
        cwd=home,
        env={
            **os.environ,
            "HOME": str(home),
            "STATE_DIRECTORY": str(home / "state"),
            **environment,
        },
        capture_output=True,
        text=True,
        check=False,
    )
    return set((home / "modules").read_text().split()), done


def commands_in(modules: set[str]) -> set[str]:
    return modules & MODULES.keys()


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["plna"]])
def test_what_calls_no_command_imports_none(home: Path, arguments: list[str]) -> None:
    modules, done = loaded(home, *arguments)
    assert "frostalert.cli.main" in modules
    assert commands_in(modules) == set()
    assert not modules & {"numpy", "frostalert.cli.options", "frostalert.config.load"}
    assert done.returncode == (2 if arguments == ["plna"] else 0)


def test_help_has_a_line_for_every_command(home: Path) -> None:
    _, done = loaded(home, "--help")
    for command in COMMANDS:
        assert f"  {command.name:<12}  {command.line}\n" in done.stdout


def test_completion_of_a_commands_name_imports_none(home: Path) -> None:
    modules, done = loaded(
        home,
        _FROSTALERT_COMPLETE="complete_bash",
        COMP_WORDS="frostalert t",
        COMP_CWORD="1",
    )
    assert done.stdout.split() == ["tonight", "trial", "test-message"]
    assert commands_in(modules) == set()


def test_a_command_imports_itself_and_no_other(home: Path) -> None:
    modules, done = loaded(home, "crops", "--help")
    assert "List the crops" in done.stdout
    assert commands_in(modules) == {"frostalert.cli.crops"}


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_every_row_is_a_command(command: Command) -> None:
    found = command.load()
    assert found.help
    if isinstance(found, TyperGroup):
        assert found.help == command.line


@pytest.mark.parametrize(
    "arguments",
    [
        ["ack", "--by", "Ines"],
        ["stage", "Sweet cherries"],
        ["stage", "Sweet", "full", "bloom"],
        ["health"],
        ["crops", "apricot"],
        ["config", "check", "--without-secrets"],
    ],
    ids=lambda arguments: str(arguments[0]),
)
def test_what_judges_nothing_loads_no_science(home: Path, arguments: list[str]) -> None:
    modules, done = loaded(home, *arguments)
    assert f"frostalert.cli.{arguments[0]}" in modules
    assert modules & HEAVY == set(), done.stdout
    # A service that does not run is bad, and that is an answer.
    assert done.returncode == (2 if arguments[0] == "health" else 0), done.stderr


def test_a_reading_is_kept_without_metpy(home: Path) -> None:
    modules, done = loaded(home, "reading", "Post by the shed", "41 degF")
    assert done.stdout.startswith("Post by the shed: 41")
    assert not modules & {"metpy", "matplotlib"}


def test_a_judgement_loads_metpy(home: Path) -> None:
    grid = Path(__file__).parents[2] / "frostalert" / "cli" / "demo_data" / "grid.json"
    now = ["--now", "2026-04-12T15:45"]
    modules, done = loaded(home, "tonight", "--forecast", str(grid), *now)
    assert "Heron Bench" in done.stdout
    assert "metpy" in modules
