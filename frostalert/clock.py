"""The only reader of the system clock."""

import threading
import time
from datetime import UTC, datetime, timedelta

AGREES = timedelta(minutes=2)
"""A machine's clock that is off by more is not believed."""


class SystemClock:
    """The machine's wall clock."""

    def now_utc(self) -> datetime:
        """Return the present moment."""
        return datetime.now(UTC)  # noqa: TID251 - this is the one place


class CheckedClock:
    """The machine's wall clock, unless servers on the network contradict it.

    A small machine without a battery wakes up hours behind after a power cut. Then the
    time that the forecast service names counts, carried on by the monotonic clock,
    until the machine's own agrees again.
    """

    def __init__(self) -> None:
        self._system = SystemClock()
        self._lock = threading.Lock()
        self._anchor: tuple[datetime, float] | None = None
        self._was_compared = False

    def now_utc(self) -> datetime:
        """Return the present moment."""
        with self._lock:
            anchor = self._anchor
        if anchor is None:
            return self._system.now_utc()
        moment, at_s = anchor
        return moment + timedelta(seconds=time.monotonic() - at_s)

    def note(self, server_utc: datetime) -> None:
        """Take note of the time by a server."""
        is_off = abs(server_utc - self._system.now_utc()) > AGREES
        with self._lock:
            self._was_compared = True
            self._anchor = (server_utc, time.monotonic()) if is_off else None

    @property
    def was_compared(self) -> bool:
        """Whether any server named its time."""
        with self._lock:
            return self._was_compared

    @property
    def problem(self) -> str | None:
        """What is wrong with the machine's clock, if it is not believed."""
        with self._lock:
            is_off = self._anchor is not None
        if not is_off:
            return None
        off = self._system.now_utc() - self.now_utc()
        minutes = abs(off) // timedelta(minutes=1)
        way = "ahead" if off > timedelta(0) else "behind"
        return (
            f"this machine's clock is {minutes} min {way} of the forecast service's; "
            "its time is used instead. Set the clock and switch time synchronisation on"
        )


class FixedClock:
    """A clock that stands still, for rehearsals."""

    def __init__(self, moment_utc: datetime) -> None:
        self._moment_utc = moment_utc

    def now_utc(self) -> datetime:
        """Return the moment it was given."""
        return self._moment_utc
