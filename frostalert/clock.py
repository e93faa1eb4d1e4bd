"""The only reader of the system clock."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from enum import Enum, auto
from typing import Protocol

AGREES = timedelta(minutes=2)
"""A machine's clock that is off by more is not believed."""


CLOCK_OFF = "clock off"
"""Mark under which the service keeps by how much its time is off the machine's. [s]"""
_PATIENCE_S = 180.0
APART = timedelta(minutes=10)
"""So far apart two answers of one server count as two opinions.

A wrong header in a single answer is the commoner fault. Our own limit.
"""
_DOUBTED_S = 900.0
"""How long a doubt that nobody resolves holds calls up. [s]"""
_REMEMBERED_S = 3 * 3600.0
"""What was said so much before the newest word does not count any more. [s]"""


class SystemClock:
    """The machine's wall clock."""

    def now_utc(self) -> datetime:
        """Return the present moment."""
        return datetime.now(UTC)  # noqa: TID251 - this is the one place


def ticks_s() -> float:
    """Return the seconds of a clock that nobody sets; it goes on while we sleep."""
    kind = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)
    return time.clock_gettime(kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Word:
    """What a server said last.

    It names its time as the moment at which our ticks stood at nothing, so that a word
    stays true while both go on, and whatever becomes of the machine's clock.
    """

    zero_utc: datetime
    first_s: float
    at_s: float

    def agrees(self, zero_utc: datetime) -> bool:
        """Return whether it means the same time."""
        return abs(self.zero_utc - zero_utc) <= AGREES

    @property
    def is_repeated(self) -> bool:
        """Whether it was said twice, long enough apart."""
        return self.at_s - self.first_s >= APART.total_seconds()


class _Belief(Enum):
    """What is thought of the machine's clock."""

    UNKNOWN = auto()
    RIGHT = auto()
    DOUBTED = auto()
    WRONG = auto()


class CheckedClock:
    """The machine's wall clock, unless servers on the network contradict it.

    A small machine without a battery wakes up hours behind after a power cut. Then the
    time that others name counts, carried on by ticks that nobody sets, until the
    machine's own agrees again. One odd answer moves nothing: two servers must agree, or
    one in two answers that lie apart, and no more may side with the machine.

    Parameters
    ----------
    wall : callable
        The machine's wall clock.
    ticks : callable
        Seconds of a clock that nobody sets. [s]
    """

    def __init__(
        self,
        wall: Callable[[], datetime] | None = None,
        ticks: Callable[[], float] = ticks_s,
    ) -> None:
        self._wall = wall or SystemClock().now_utc
        self._ticks = ticks
        self._lock = threading.Lock()
        self._words: dict[str, _Word] = {}
        self._doubted_since_s: float | None = None
        self._begun_s = ticks()

    def now_utc(self) -> datetime:
        """Return the present moment."""
        belief, word = self._belief()
        if belief is _Belief.WRONG and word is not None:
            return word.zero_utc + timedelta(seconds=self._ticks())
        return self._wall()

    def note(self, server_utc: datetime, server: str = "") -> None:
        """Take note of the time by a server."""
        at_s = self._ticks()
        zero_utc = server_utc - timedelta(seconds=at_s)
        word = _Word(zero_utc=zero_utc, first_s=at_s, at_s=at_s)
        with self._lock:
            before = self._words.get(server)
            if before is not None and before.agrees(zero_utc):
                word = replace(word, first_s=before.first_s)
            self._words[server] = word
        # From now on a doubt counts its minutes.
        self._belief()

    def _belief(self) -> tuple[_Belief, _Word | None]:
        """Return what is thought of the machine's clock, and whose word contradicts."""
        with self._lock:
            belief, word = self._weighed(list(self._words.values()))
            if belief is not _Belief.DOUBTED:
                self._doubted_since_s = None
            elif self._doubted_since_s is None:
                self._doubted_since_s = self._ticks()
        return belief, word

    def _weighed(self, words: list[_Word]) -> tuple[_Belief, _Word | None]:
        """Return what words make of the machine's clock, and the one against it."""
        if not words:
            return _Belief.UNKNOWN, None
        newest_s = max(word.at_s for word in words)
        words = [word for word in words if newest_s - word.at_s < _REMEMBERED_S]
        machine = self._wall() - timedelta(seconds=self._ticks())
        siding = [word for word in words if word.agrees(machine)]
        against = [word for word in words if not word.agrees(machine)]
        groups = [[o for o in against if o.agrees(word.zero_utc)] for word in against]
        group = max(groups, key=len, default=[])
        if len(group) <= len(siding):
            return _Belief.RIGHT, None
        last = max(group, key=lambda word: word.at_s)
        is_sure = len(group) > 1 or last.is_repeated
        return (_Belief.WRONG if is_sure else _Belief.DOUBTED), last

    def ticks_s(self) -> float:
        """Return the seconds of a clock that nobody sets."""
        return self._ticks()

    @property
    def was_compared(self) -> bool:
        """Whether any server named its time."""
        return self._belief()[0] is not _Belief.UNKNOWN

    @property
    def is_settled(self) -> bool:
        """Whether the time is known well enough to call people by it.

        Or it was waited for long enough: no doubt may silence a warning for longer.
        """
        belief, _ = self._belief()
        if belief is _Belief.UNKNOWN:
            return self._ticks() - self._begun_s >= _PATIENCE_S
        since_s = self._doubted_since_s
        return since_s is None or self._ticks() - since_s >= _DOUBTED_S

    @property
    def is_sure(self) -> bool:
        """Whether the machine's clock was compared and agrees.

        Only then is anything given up or deleted by it.
        """
        return self._belief()[0] is _Belief.RIGHT

    @property
    def off(self) -> timedelta:
        """By how much the time that counts is off the machine's: nothing if alike."""
        return self._off(_Belief.WRONG)

    def _off(self, belief: _Belief) -> timedelta:
        """Return by how much others contradict the machine, if that is believed so."""
        found, word = self._belief()
        if found is not belief or word is None:
            return timedelta(0)
        return word.zero_utc + timedelta(seconds=self._ticks()) - self._wall()

    @property
    def problem(self) -> str | None:
        """What is wrong with the machine's clock, if it is not believed."""
        is_wrong = bool(self.off)
        off = -(self.off or self._off(_Belief.DOUBTED))
        if not off:
            return None
        minutes = abs(off) // timedelta(minutes=1)
        way = "ahead" if off > timedelta(0) else "behind"
        return f"this machine's clock is {minutes} min {way} of the " + (
            "forecast service's; its time is used instead. Set the clock and switch "
            "time synchronisation on"
            if is_wrong
            else "time that one server names; nobody else says so yet, so it still "
            "counts. See whether the clock is right"
        )


class TimeKeeper(Protocol):
    """What is known of the machine's clock."""

    def ticks_s(self) -> float:
        """Return the seconds of a clock that nobody sets."""

    @property
    def is_settled(self) -> bool:
        """Whether the time is known well enough to call people by it."""

    @property
    def is_sure(self) -> bool:
        """Whether others agree with the machine."""

    @property
    def off(self) -> timedelta:
        """By how much the time that counts is off the machine's."""

    @property
    def problem(self) -> str | None:
        """What is wrong with the machine's clock, if it is not believed."""


class Unquestioned:
    """The machine's clock where nobody doubts it: in rehearsals."""

    is_settled = is_sure = True
    off = timedelta(0)
    problem: str | None = None

    def ticks_s(self) -> float:
        """Return the seconds of a clock that nobody sets."""
        return ticks_s()


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
