"""How long commands take to start, beside a bare import of MetPy's calculations.

    python -m tests.benchmarks.start_up

Both are translated to bytecode beforehand, as an installed package is.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from frostalert.config.example import example_text
from frostalert.store.open import make_state_directory, open_store
from tests.benchmarks.aim import Aim

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
    environment = {
        **os.environ,
        "STATE_DIRECTORY": f"{folder}/state",
        "PYTHONPYCACHEPREFIX": f"{folder}/bytecode",
        "PYTHONDONTWRITEBYTECODE": "",
    }
    start = time.perf_counter()
    subprocess.run(
        COMMANDS[name],
        cwd=folder,
        env=environment,
        check=name not in JUDGING,
        capture_output=True,
    )
    return time.perf_counter() - start


MOST_TIMES_BARE = {"frostalert tonight": 1.25}
"""Most times a bare import that a command may take; a quarter for those that do not
judge a night."""
_LIGHT = 0.25
_HEAVY = ("frostalert crops", BARE)


def aims(rounds: int = ROUNDS) -> list[Aim]:
    """Return each command's start beside a bare import."""
    best = best_of(rounds)
    return [
        Aim(
            name=f"start of {name}, times a bare import",
            value=took_s / best[BARE],
            limit=MOST_TIMES_BARE.get(name, _LIGHT),
        )
        for name, took_s in best.items()
        if name not in _HEAVY
    ]


def best_of(rounds: int) -> dict[str, float]:
    """Return each command's least disturbed start of several. [s]"""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "frostalert.toml").write_text(example_text())
        open_store(make_state_directory(Path(folder, "state"))).database.close()
        for name in COMMANDS:
            # Translates what it loads.
            seconds_of(name, folder)
        # In turn, so that what else the machine does falls on all alike.
        taken = [
            {name: seconds_of(name, folder) for name in COMMANDS} for _ in range(rounds)
        ]
    return {name: min(row[name] for row in taken) for name in COMMANDS}


def main() -> None:
    """Print each start, the least disturbed of several, with its ratio to the bare."""
    best = best_of(ROUNDS)
    for name, took in best.items():
        print(f"{name:<20} {took:6.2f} s   {took / best[BARE]:5.2f} times")  # noqa: T201


if __name__ == "__main__":
    main()
