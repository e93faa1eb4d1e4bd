"""How long commands take to start, beside a bare import of MetPy's calculations.

python -m tests.benchmarks.start_up
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from frostalert.config.example import example_text
from frostalert.store.open import make_state_directory, open_store

ROUNDS = 7
DEMO_GRID = Path(__file__).parents[2] / "frostalert" / "cli" / "demo_data" / "grid.json"
BARE = "import metpy.calc"
PROGRAM = [sys.executable, "-m", "frostalert"]
COMMANDS = {
    BARE: [sys.executable, "-c", BARE],
    **{
        f"frostalert {arguments[0]}": [*PROGRAM, *arguments]
        for arguments in (
            ["--help"],
            ["ack", "--by", "Ines"],
            ["health"],
            ["stage", "Sweet cherries"],
            ["reading", "Post by the shed", "41 degF"],
            ["crops"],
            ["tonight", "--forecast", str(DEMO_GRID), "--now", "2026-04-12T15:45"],
        )
    },
}
JUDGING = {"frostalert health"}
"""Commands whose exit code is a verdict: a service that does not run is bad."""


def seconds_of(name: str, folder: str) -> float:
    """Return how long one run takes. [s]"""
    environment = {**os.environ, "STATE_DIRECTORY": f"{folder}/state"}
    start = time.perf_counter()
    subprocess.run(
        COMMANDS[name],
        cwd=folder,
        env=environment,
        check=name not in JUDGING,
        capture_output=True,
    )
    return time.perf_counter() - start


def main() -> None:
    """Print each start, the least disturbed of several, with its ratio to the bare."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "frostalert.toml").write_text(example_text())
        open_store(make_state_directory(Path(folder, "state"))).database.close()
        # In turn, so that what else the machine does falls on all alike.
        rounds = [
            {name: seconds_of(name, folder) for name in COMMANDS} for _ in range(ROUNDS)
        ]
    best = {name: min(row[name] for row in rounds) for name in COMMANDS}
    for name, took in best.items():
        print(f"{name:<20} {took:6.2f} s   {took / best[BARE]:5.2f} times")  # noqa: T201


if __name__ == "__main__":
    main()
