"""The main thread: waits for the end, and watches that the scheduler is alive.

On the monotonic clock, since a step of the wall clock must not blind it. It feeds
systemd's watchdog only while heartbeats and completions are young; otherwise it writes
down what every thread was doing and ends the process, so that it is started again.
"""

import faulthandler
import logging
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from types import FrameType

from frostalert.model.channel import CHANNELS

_LOG = logging.getLogger(__name__)
_LOOK_EVERY_S = 5.0
LIMITS_S: dict[str, float] = {
    "house": 90.0,
    **{row.lane: row.lane_limit_s for row in CHANNELS},
    # Judging, the plans that are waited for, pictures and a page, on a slow board.
    "decide": 600.0,
    # Three sources and an ensemble: a few questions each, a minute for every one.
    "fetch": 1800.0,
    "watch": 600.0,
    # Two seasons of state at 1 MB/s, the speed of an old card.
    "copy": 1200.0,
}
"""Age of each lane's heartbeat at which it counts as hung: four times what its longest
job needs, and longer where the network is waited for. [s]"""
EXIT_HUNG = 70
JUMP = timedelta(seconds=20)
"""A difference of the two clocks from which all jobs are planned anew."""


class Supervisor:
    """Watches the jobs until the process is asked to end.

    Parameters
    ----------
    limits_s : dict of str to float
        Age of each lane's heartbeat at which it counts as hung. [s]
    wall : callable
        The machine's wall clock.
    """

    def __init__(
        self,
        limits_s: dict[str, float] | None = None,
        *,
        wall: Callable[[], datetime] | None = None,
    ) -> None:
        self._limits_s = dict(LIMITS_S if limits_s is None else limits_s)
        self._wall = wall
        self._ended = threading.Event()
        now_s = time.monotonic()
        self._beats_s = dict.fromkeys(self._limits_s, now_s)
        self._ends_s: dict[str, float] = {}
        self._job_limits_s: dict[str, float] = {}
        self._failures: dict[str, int] = {}
        self._clocks: tuple[datetime, float] | None = None

    def beat(self, lane: str) -> None:
        """Record that a lane runs its jobs."""
        self._beats_s[lane] = time.monotonic()

    def expect(self, job: str, every: timedelta, lane: str) -> None:
        """Watch that a job ends again and again."""
        self._job_limits_s[job] = 3 * every.total_seconds() + self._limits_s[lane]
        self._ends_s[job] = time.monotonic()

    def note_end(self, job: str, is_good: bool) -> None:
        """Record that a job ended, well or badly."""
        self._ends_s[job] = time.monotonic()
        self._failures[job] = 0 if is_good else self._failures.get(job, 0) + 1

    def failing(self) -> dict[str, int]:
        """Return the jobs whose last runs failed, with how many in a row."""
        return {job: count for job, count in self._failures.items() if count}

    def hung(self) -> str | None:
        """Return what hangs, in words, if anything does."""
        now_s = time.monotonic()
        for lane, limit_s in self._limits_s.items():
            if now_s - self._beats_s[lane] > limit_s:
                return f"the lane {lane} hangs"
        for job, limit_s in self._job_limits_s.items():
            if now_s - self._ends_s[job] > limit_s:
                return f"the job {job} has not ended for {limit_s:.0f} s"
        return None

    def jump(self) -> timedelta | None:
        """Return by how much the wall clock was moved since the last look, or None."""
        if self._wall is None:
            return None
        wall, at_s = self._wall(), time.monotonic()
        before, self._clocks = self._clocks, (wall, at_s)
        if before is None:
            return None
        moved = (wall - before[0]) - timedelta(seconds=at_s - before[1])
        return moved if abs(moved) >= JUMP else None

    def watch(self, on_jump: Callable[[timedelta], None] | None = None) -> None:
        """Wait until SIGTERM or SIGINT; end the process if something hangs.

        Parameters
        ----------
        on_jump : callable, optional
            Told by how much the wall clock was moved, when it was.
        """
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._end)
        tell_systemd("READY=1")
        while not self._ended.wait(_LOOK_EVERY_S):
            hung = self.hung()
            if hung is not None:
                _LOG.critical("%s; ending to be restarted", hung)
                faulthandler.dump_traceback(sys.stderr)
                logging.shutdown()
                os._exit(EXIT_HUNG)
            moved = self.jump()
            if moved is not None and on_jump is not None:
                _LOG.warning("the wall clock was moved by %s", moved)
                on_jump(moved)
            tell_systemd("WATCHDOG=1")
        tell_systemd("STOPPING=1")

    def _end(self, number: int, _frame: FrameType | None) -> None:
        """Begin the end."""
        _LOG.info("ending on signal %s", signal.Signals(number).name)
        self._ended.set()


def tell_systemd(state: str) -> None:
    """Send a line to systemd's notification socket, if it gave us one."""
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    if address.startswith("@"):
        address = "\0" + address[1:]
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as connection:
            # A reader that falls behind must not stop the one who watches.
            connection.setblocking(False)
            connection.sendto(state.encode(), address)
    except OSError as error:
        _LOG.warning("systemd could not be told %s: %s", state, error)
