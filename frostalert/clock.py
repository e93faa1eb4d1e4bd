"""The only reader of the system clock."""

import threading
import time
from datetime import UTC, datetime, timedelta
from typing import Protocol

AGREES = timedelta(minutes=2)
"""A machine's clock that is off by more is not believed."""


CLOCK_OFF = "clock off"
"""Mark under which the service keeps by how much its time is off the machine's. [s]"""
_PATIENCE_S = 180.0


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
        self._begun_s = time.monotonic()

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
    def is_settled(self) -> bool:
        """Whether any server named its time, or it was waited for long enough."""
        is_patient = time.monotonic() - self._begun_s < _PATIENCE_S
        return self.was_compared or not is_patient

    @property
    def off(self) -> timedelta:
        """By how much the time that counts is off the machine's: nothing if alike."""
        with self._lock:
            is_off = self._anchor is not None
        return self.now_utc() - self._system.now_utc() if is_off else timedelta(0)

    @property
    def problem(self) -> str | None:
        """What is wrong with the machine's clock, if it is not believed."""
        off = -self.off
        if not off:
            return None
        minutes = abs(off) // timedelta(minutes=1)
        way = "ahead" if off > timedelta(0) else "behind"
        return (
            f"this machine's clock is {minutes} min {way} of the forecast service's; "
            "its time is used instead. Set the clock and switch time synchronisation on"
        )


class BesideClock:
    """The time by which the service goes, for what runs beside it.

    Parameters
    ----------
    off_s : str or None
        By how much that is off the machine's clock, as the service wrote it. [s]
    """

    def __init__(self, off_s: str | None) -> None:
        self._off = timedelta(seconds=float(off_s or 0.0))
        self._system = SystemClock()

    def now_utc(self) -> datetime:
        """Return the present moment."""
        return self._system.now_utc() + self._off


class MarkBook(Protocol):
    """Where the service keeps small facts."""

    def read_mark(self, name: str) -> str | None:
        """Return a small fact kept under a name."""


def now_beside(book: MarkBook) -> datetime:
    """Return the time by which the service goes, for what runs beside it."""
    return BesideClock(book.read_mark(CLOCK_OFF)).now_utc()


class FixedClock:
    """A clock that stands still, for rehearsals."""

    def __init__(self, moment_utc: datetime) -> None:
        self._moment_utc = moment_utc

    def now_utc(self) -> datetime:
        """Return the moment it was given."""
        return self._moment_utc
