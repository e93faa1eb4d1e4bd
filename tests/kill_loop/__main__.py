"""Kill the real service at chosen moments: nothing may be lost.

    python -m tests.kill_loop [--kills 200] [--seed 1]

The service runs as a process against a real SMTP server that takes a while over each
mail and refuses one in ten for the time being. Three kills (SIGKILL) in four meet it
while it sends what waits: as it loads, with a mail under way, with one mail gone and
others waiting. One in four meets it after a forecast of a night that freezes: before
its decision is kept, or when it is kept and nothing has left. Where the kills fell is
printed. Every message must arrive, twice only where a kill left the outcome unknown,
each decision must have its messages, and the state must be whole.
"""

import argparse
import sys
import tempfile
from pathlib import Path
from random import Random

from tests.kill_loop.moments import DECIDING, SENDING
from tests.kill_loop.rounds import Outcome, kill_while_deciding, kill_while_sending

_DECIDING_SHARE = 4


def main() -> int:
    """Run the loop that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.kill_loop")
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    chance = Random(given.seed)  # noqa: S311 - no secret
    deciding = given.kills // _DECIDING_SHARE
    with tempfile.TemporaryDirectory(prefix="kill-loop-") as name:
        folder = Path(name)
        sent = kill_while_sending(folder / "sending", given.kills - deciding, chance)
        decided = kill_while_deciding(folder / "deciding", deciding, chance)
    _print("while sending", sent, SENDING)
    _print("while deciding", decided, DECIDING)
    return 0 if sent.is_good and decided.is_good else 1


def _print(title: str, outcome: Outcome, places: tuple[str, ...]) -> None:
    """Print where the kills fell, and what became of the messages."""
    sys.stdout.write(f"{title}:\n")
    for place in places:
        sys.stdout.write(f"  {outcome.fell[place]} kills fell: {place}\n")
    for name, value in vars(outcome).items():
        if name != "fell":
            sys.stdout.write(f"  {name.replace('_', ' ')}: {value}\n")


if __name__ == "__main__":
    sys.exit(main())
