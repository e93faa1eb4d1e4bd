"""The daemon's own jobs in a process of their own, by a clock that is told the time.

Reads one moment a line and answers each with memory, processor time and file size.
"""

import json
import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from frostalert.app import build_service, jobs
from frostalert.clock import CheckedClock
from frostalert.config.accepted import AcceptedConfig
from frostalert.schedule import Job
from frostalert.store.open import FILE_NAME
from frostalert.store.steady import FailoverStore


class ToldClock(CheckedClock):
    """A clock that says what it was told."""

    def __init__(self) -> None:
        super().__init__()
        self.moment_utc = datetime(1970, 1, 1, tzinfo=UTC)

    def now_utc(self) -> datetime:
        """Return the moment it was told."""
        return self.moment_utc

    @property
    def is_settled(self) -> bool:
        """What it is told is the truth here."""
        return True

    @property
    def is_sure(self) -> bool:
        """What it is told is the truth here."""
        return True

    def note(self, server_utc: datetime, server: str = "") -> None:
        """Believe no server: it names the true time."""


def resident_mb() -> float:
    """Return how much memory this process holds. [MB]"""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def state_mb(folder: Path) -> float:
    """Return how large the state is, with what is not yet written back. [MB]"""
    files = folder.glob(f"{FILE_NAME}*")
    return sum(file.stat().st_size for file in files) / 1e6


def run_due(work: list[Job], last: dict[str, datetime], now_utc: datetime) -> None:
    """Run the jobs whose time has come."""
    for job in work:
        if job.name not in last or now_utc - last[job.name] >= job.every:
            last[job.name] = now_utc
            job.run()


def main() -> None:
    """Go on until there is no next moment."""
    path, folder = Path(sys.argv[1]), Path(sys.argv[2])
    clock = ToldClock()
    last: dict[str, datetime] = {}
    work: list[Job] = []
    for line in sys.stdin:
        clock.moment_utc = datetime.fromisoformat(line.strip())
        if not work:
            store = FailoverStore(folder, clock.now_utc())
            service, watchman = build_service(
                AcceptedConfig(path, folder), store, clock, dict
            )
            work = jobs(service, watchman, clock)
        run_due(work, last, clock.now_utc())
        # Once more: what was decided in this round goes out in this round.
        for job in work:
            if job.every <= timedelta(seconds=5):
                job.run()
        times = os.times()
        figures = {
            "resident_mb": resident_mb(),
            "processor_s": times.user + times.system,
            "state_mb": state_mb(folder),
        }
        print(json.dumps(figures), flush=True)  # noqa: T201 - this is the answer


if __name__ == "__main__":
    main()
