"""Style, types, layers and spelling, by the tools that check them."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TOOLS = {
    "format": ("ruff", "format", "--check", "."),
    "lint": ("ruff", "check", "."),
    "types": ("mypy",),
    "layers": ("importlinter.cli", "lint-imports", "--no-cache"),
    "spelling": (
        "codespell_lib",
        "frostalert",
        "config",
        "deploy",
        "README.md",
        "DEVELOPERS.md",
        "tests/README.md",
    ),
}


@pytest.mark.parametrize("name", TOOLS)
def test_tool_is_content(name: str) -> None:
    module, *arguments = TOOLS[name]
    command = [sys.executable, "-m", module, *arguments]
    if name == "layers":
        command = [str(Path(sys.executable).with_name("lint-imports")), "--no-cache"]
    done = subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, timeout=280, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
