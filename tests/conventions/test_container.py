"""What goes into an image, and when its health check fails."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
FILE = (ROOT / "deploy" / "Containerfile").read_text()


def copied() -> set[str]:
    lines = re.findall(r"^COPY (.+) \S+$", FILE, re.MULTILINE)
    return {name for line in lines for name in line.split()}


def test_the_program_alone_goes_into_the_image() -> None:
    # The passwords' folder may lie beside it: ./etc, as its head proposes.
    assert copied() == {"pyproject.toml", "README.md", "frostalert"}
    assert not re.search(r"^(COPY|ADD) \.", FILE, re.MULTILINE)


def test_the_build_context_leaves_everything_else_out() -> None:
    lines = (ROOT / ".dockerignore").read_text().splitlines()
    rules = [line for line in lines if line and not line.startswith("#")]
    assert rules[0] == "*"
    let_in = {rule.removeprefix("!") for rule in rules if rule.startswith("!")}
    assert let_in == copied()


def test_the_health_check_asks_only_whether_it_runs() -> None:
    [command] = re.findall(r"HEALTHCHECK[^\n]*\\\n\s+CMD (.+)", FILE)
    assert command.startswith("frostalert health --alive ")
    # The other image format drops it.
    assert "--format docker" in FILE
