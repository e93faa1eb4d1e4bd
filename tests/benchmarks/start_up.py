"""How long commands take to start, beside a bare import of MetPy's calculations.

python -m tests.benchmarks.start_up
"""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from frostalert.config.example import example_text

ROUNDS = 5
DEMO_GRID = Path(__file__).parents[2] / "frostalert" / "cli" / "demo_data" / "grid.json"


def best_of(command: list[str], folder: str) -> float:
    """Return the least disturbed of several runs. [s]"""
    seconds = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        subprocess.run(command, cwd=folder, check=True, capture_output=True)
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def main() -> None:
    """Print each start with its ratio to the bare import."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "frostalert.toml").write_text(example_text())
        program = [sys.executable, "-m", "frostalert"]
        tonight = ["tonight", "--forecast", str(DEMO_GRID), "--now", "2026-04-12T15:45"]
        bare = best_of([sys.executable, "-c", "import metpy.calc"], folder)
        for name, command in (
            ("import metpy.calc", [sys.executable, "-c", "import metpy.calc"]),
            ("frostalert tonight", [*program, *tonight]),
            ("frostalert --help", [*program, "--help"]),
        ):
            took = best_of(command, folder)
            print(f"{name:<20} {took:6.2f} s   {took / bare:5.2f} times")  # noqa: T201


if __name__ == "__main__":
    main()
