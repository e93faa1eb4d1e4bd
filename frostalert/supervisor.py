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
HEARTBEAT_LIMIT_S = 90.0
EXIT_HUNG = 70


class Supervisor:
    """Watches the heartbeat until the process is asked to end.

    Parameters
    ----------
    limit_s : float
        Age of the heartbeat at which the scheduler counts as dead. [s]
    """

    def __init__(self, limit_s: float = HEARTBEAT_LIMIT_S) -> None:
        self._limit_s = limit_s
        self._ended = threading.Event()
        self._beat_s = time.monotonic()

    def beat(self) -> None:
        """Record that the scheduler runs its jobs."""
        self._beat_s = time.monotonic()

    def watch(self) -> None:
        """Wait until SIGTERM or SIGINT; end the process if the heartbeat stops."""
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._end)
        tell_systemd("READY=1")
        while not self._ended.wait(_LOOK_EVERY_S):
            age_s = time.monotonic() - self._beat_s
            if age_s > self._limit_s:
                _LOG.critical("no heartbeat for %.0f s; ending to be restarted", age_s)
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
