"""The program on a machine whose wall clock is moved, as `... FILE run`.

The file holds by how many seconds the clock is off; it is read again and again. What
nobody can set, the ticks since the machine was switched on, goes on as it is.
"""

import sys
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import time_machine

from frostalert.cli.main import main


def _follow(path: Path, traveller: "time_machine.Traveller") -> None:
    """Move the clock as the file says."""
    moved = 0.0
    while True:
        time.sleep(0.1)
        try:
            asked = float(path.read_text())
        except (OSError, ValueError):
            continue
        if asked != moved:
            traveller.shift(asked - moved)
            moved = asked


def _run() -> None:
    """Run the program by a clock that can be moved."""
    now = datetime.now(UTC)  # noqa: TID251 - where the travel begins
    path = Path(sys.argv[1])
    sys.argv = ["frostalert", *sys.argv[2:]]
    with time_machine.travel(now, tick=True) as traveller:
        threading.Thread(target=_follow, args=(path, traveller), daemon=True).start()
        main()


if __name__ == "__main__":
    _run()
