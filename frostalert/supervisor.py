"""The main thread: waits for the end, and watches that the scheduler is alive.

On the monotonic clock, since a step of the wall clock must not blind it. It feeds
systemd's watchdog only while the heartbeat is young; otherwise it writes down what
every thread was doing and ends the process, so that it is started again.
"""

import faulthandler
import logging
import os
import signal
import socket
import sys
import threading
import time
from types import FrameType

_LOG = logging.getLogger(__name__)
_LOOK_EVERY_S = 5.0
LIMITS_S = {"house": 90.0, "email": 600.0, "sms": 600.0, "fetch": 600.0}
"""Age of each lane's heartbeat at which it counts as hung: longer where the network is
waited for, which has deadlines of its own. [s]"""
EXIT_HUNG = 70


class Supervisor:
    """Watches the heartbeat until the process is asked to end.

    Parameters
    ----------
    limits_s : dict of str to float
        Age of each lane's heartbeat at which it counts as hung. [s]
    """

    def __init__(self, limits_s: dict[str, float] | None = None) -> None:
        self._limits_s = dict(LIMITS_S if limits_s is None else limits_s)
        self._ended = threading.Event()
        self._beats_s = dict.fromkeys(self._limits_s, time.monotonic())

    def beat(self, lane: str) -> None:
        """Record that a lane runs its jobs."""
        self._beats_s[lane] = time.monotonic()

    def hung_lane(self) -> str | None:
        """Return a lane whose heartbeat is too old, if there is one."""
        now_s = time.monotonic()
        for lane, limit_s in self._limits_s.items():
            if now_s - self._beats_s[lane] > limit_s:
                return lane
        return None

    def watch(self) -> None:
        """Wait until SIGTERM or SIGINT; end the process if the heartbeat stops."""
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._end)
        tell_systemd("READY=1")
        while not self._ended.wait(_LOOK_EVERY_S):
            lane = self.hung_lane()
            if lane is not None:
                _LOG.critical("the lane %s hangs; ending to be restarted", lane)
                faulthandler.dump_traceback(sys.stderr)
                logging.shutdown()
                os._exit(EXIT_HUNG)
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
            connection.sendto(state.encode(), address)
    except OSError as error:
        _LOG.warning("systemd could not be told %s: %s", state, error)
