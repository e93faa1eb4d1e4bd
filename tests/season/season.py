"""Run one season: true time goes on in steps, and everything is checked after each."""

import gc
import shutil
import tempfile
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import numpy as np

from frostalert.store.backup import Condition, examine
from frostalert.store.open import FILE_NAME
from tests.season.checks import (
    Judge,
    check_budget,
    check_calling,
    check_decisions,
    check_everybody,
)
from tests.season.faults import Fault, FaultKind, draw_faults
from tests.season.moments import noting
from tests.season.people import Crowd, line_faults
from tests.season.score import SIGNIFICANT, Score, score
from tests.season.silences import (
    check_crowd,
    silences,
    undelivered,
    unsaid_another_way,
)
from tests.season.weather import SOURCES, ZONE, Season
from tests.season.world import (
    PEOPLE,
    CrashError,
    Process,
    WallClock,
    World,
    damage,
    people_answer,
)

FIRST = date(2026, 3, 1)
_COLLECTED_EVERY = 50_000
"""New objects between two looks for cycles. [1]"""
_STEP, _CLOSE_STEP = timedelta(minutes=30), timedelta(minutes=10)
MOST_FALSE_ALARMS, MOST_BLIND_NIGHTS, MOST_DUPLICATES = 50, 15, 30
"""Limits a season of 120 nights, on average. A fifth of a chance calls for hands, so
that most nights within two degrees of harm are false alarms by design."""


def limits_broken(found: Score, seasons: int) -> list[str]:
    """Return which limits some seasons break, in words; none if they keep them all."""
    # A season that is shorter than a whole one has a whole one's limits all the same.
    length = max(1.0, found.nights / seasons / 120)
    broken = [f"failed: {line}" for line in found.failed]
    if found.is_missed_too_often:
        broken.append(
            f"missed: {len(found.missed)} of {found.risky} harmed nights, where the "
            f"chances told imply {found.implied:.1f}: a chance of "
            f"{found.surprise:.4f} (binomial), limit {SIGNIFICANT}"
        )
    broken += [f"invariant: {line}" for line in found.violations]
    for words, count, most in (
        ("false alarms", found.false_alarms, MOST_FALSE_ALARMS),
        ("nights told cannot-judge", found.blind_nights, MOST_BLIND_NIGHTS),
        ("duplicates", found.duplicates, MOST_DUPLICATES),
        ("false alarms beyond any error", found.absurd_alarms, 0),
    ):
        each = most * length
        if count > each * seasons:
            broken.append(f"{words}: {count} in {seasons} seasons, limit {each:g} each")
    broken += [f"beyond any error: {line}" for line in found.absurd]
    return broken


def run_season(
    seed: int,
    *,
    nights: int = 120,
    has_faults: bool = True,
    ends_when_found: bool = False,
    has_equipment: bool = False,
    is_lively: bool = False,
    is_plain: bool = False,
    folder: Path | None = None,
    on_end: Callable[[World], object] = lambda _: None,
) -> Score:
    """Return the figures of one season.

    Parameters
    ----------
    seed : int
        Everything follows from it.
    nights : int
        How long it is.
    has_faults : bool
        Whether anything goes wrong.
    ends_when_found : bool
        Whether it ends at the noon after the first thing that did not hold.
    has_equipment : bool
        Whether the planting has heaters, whose starts are called for.
    is_lively : bool
        Whether people are as they are, with the page's links and a picture, and the
        line is out at times.
    is_plain : bool
        Whether there is one source alone, and no thermometer.
    folder : Path, optional
        Where the state is kept meanwhile; a folder in memory by default.
    on_end : callable
        Shown the world when all is over, with everything that was delivered.
    """
    if folder is None:
        place = Path("/dev/shm") if Path("/dev/shm").is_dir() else None  # noqa: S108 - memory
        folder = Path(tempfile.mkdtemp(prefix="season-", dir=place))
    folder.mkdir(exist_ok=True)
    # What is loaded by now stays, and a season leaves few cycles: to look for them all
    # the time takes a tenth of it.
    thresholds = gc.get_threshold()
    gc.freeze()
    gc.set_threshold(_COLLECTED_EVERY)
    try:
        run = _Run(seed, folder, nights, has_faults=has_faults, is_plain=is_plain)
        run.world.has_equipment = has_equipment
        if is_lively:
            run.enliven(seed)
        with noting(run.world.moments, run.world):
            found = run.play_until_found() if ends_when_found else run.play()
        on_end(run.world)
        return found
    finally:
        gc.set_threshold(*thresholds)
        gc.unfreeze()
        shutil.rmtree(folder, ignore_errors=True)


class _Run:
    """One season being played."""

    def __init__(
        self,
        seed: int,
        folder: Path,
        nights: int,
        *,
        has_faults: bool,
        is_plain: bool,
    ) -> None:
        season = Season(seed, FIRST, nights)
        start = datetime.combine(FIRST, time(9), tzinfo=ZONE).astimezone(UTC)
        self.nights = nights
        self.end_utc = start + timedelta(days=nights)
        self.world = World(
            season=season,
            folder=folder,
            now_utc=start,
            random=np.random.default_rng([seed, 4]),
            sources=SOURCES[:1] if is_plain else SOURCES,
            has_thermometer=not is_plain,
        )
        if has_faults:
            self.world.faults = draw_faults(seed, start, self.end_utc, nights)
        self.clock = WallClock(self.world)
        self.process = Process(self.world, self.clock)
        self.judge = Judge(self.world)
        self.up_since_utc = start
        self.waiting = list(self.world.faults)

    def enliven(self, seed: int) -> None:
        """Have people as they are, and let the line be out at times."""
        world, start = self.world, self.world.now_utc
        world.crowd = Crowd(seed, FIRST, PEOPLE)
        world.faults += line_faults(seed, start, self.end_utc, self.nights)
        world.faults.sort(key=lambda fault: fault.start_utc)
        self.waiting = list(world.faults)

    def play(self) -> Score:
        """Play to the end, and two days on without faults, so that every row ends."""
        while self.world.now_utc < self.end_utc + timedelta(days=2):
            self._step()
        self._check_end()
        return score(self.judge, self.nights)

    def play_until_found(self) -> Score:
        """Play until something does not hold, and score the nights that are over."""
        for passed in range(self.nights):
            noon = self.end_utc - timedelta(days=self.nights - passed - 1, hours=-3)
            while self.world.now_utc < noon:
                self._step()
            found = score(self.judge, passed + 1)
            if found.is_missed_too_often or found.failed or found.violations:
                return found
        return self.play()

    def _step(self) -> None:
        """Let one step of true time pass."""
        world = self.world
        self._end_faults()
        self._begin_faults()
        has_died = True
        with suppress(CrashError):
            if not self.process.is_up and world.now_utc >= self.process.starts_utc:
                self.process.start()
                self.up_since_utc = world.now_utc
            if self.process.is_up:
                self.process.step()
                people_answer(world, self.process)
            has_died = False
        fault = world.active.get(FaultKind.CRASH)
        if fault is not None and world.crash_in is None:
            has_died = True
            del world.active[FaultKind.CRASH]
        if has_died and self.process.is_up:
            back = world.now_utc if fault is None else fault.end_utc
            self.process.die(max(world.now_utc, back))
        self.judge.look(is_up=self.process.is_up, up_since_utc=self.up_since_utc)
        local = world.now_utc.astimezone(ZONE)
        # Finer steps where hours count: from the afternoon to the morning.
        is_close = local.hour >= 14 or local.hour < 7
        is_line_due = local.hour == 7
        is_fine = is_line_due or (is_close and world.active)
        world.now_utc += _CLOSE_STEP if is_fine else _STEP

    def _begin_faults(self) -> None:
        """Let what is due go wrong."""
        world = self.world
        while self.waiting and self.waiting[0].start_utc <= world.now_utc:
            fault = self.waiting.pop(0)
            self._begin(fault)

    def _begin(self, fault: Fault) -> None:
        """Let one thing go wrong."""
        world = self.world
        if fault.kind is FaultKind.SECOND_DAEMON:
            self._begin_second()
            return
        if fault.kind is FaultKind.FILE_DAMAGED:
            if self.process.is_up:
                self.process.die(fault.end_utc)
                damage(world.folder)
            return
        world.active[fault.kind] = fault
        if fault.kind is FaultKind.CRASH:
            # Within the next calls to the outside, or else at the end of this step.
            world.crash_in = int(world.random.integers(0, 4))
        if fault.kind is FaultKind.CLOCK_STEP:
            self.clock.offset = timedelta(minutes=round(60 * fault.size))
            self._clock_moved()
        is_full = fault.kind is FaultKind.DISK_FULL
        if is_full and self.process.is_up and self.process.store.trouble is None:
            self.process.fill_disk()

    def _begin_second(self) -> None:
        """Try to start a second daemon; it must be refused."""
        second = self.process.try_second() if self.process.is_up else None
        if second is None:
            return
        self.judge.note("a second daemon was not refused")
        world = self.world

        def meddle() -> None:
            world.in_channel = None
            second.step()
            world.in_channel = meddle

        world.in_channel = meddle

    def _end_faults(self) -> None:
        """Let pass what has passed."""
        world = self.world
        for kind, fault in list(world.active.items()):
            if fault.end_utc > world.now_utc:
                continue
            if kind is FaultKind.CRASH and world.crash_in is not None:
                world.crash_in = None  # it happens between two calls
                continue
            if kind is FaultKind.CRASH:
                continue
            del world.active[kind]
            if kind is FaultKind.CLOCK_STEP:
                self.clock.offset = timedelta(0)
                self._clock_moved()

    def _clock_moved(self) -> None:
        """Do as the supervisor does when the wall clock is moved."""
        if self.process.is_up:
            self.process.service.clock_moved()

    def _check_end(self) -> None:
        """Check what must hold when all is over."""
        check_budget(self.judge)
        check_calling(self.judge)
        check_everybody(self.judge)
        check_decisions(self.judge)
        check_crowd(self.judge)
        unsaid_another_way(self.judge)
        undelivered(self.judge)
        silences(self.judge)
        # What is of use beyond the last day is still tried, or held: it has no end yet.
        now = self.world.now_utc
        rows = self.process.store.unsent(now, is_forced=True)
        left = [row.message.key for row in rows if row.message.deadline_utc < now]
        if left:
            self.judge.note(f"rows that never ended: {left}")
        if self.process.failures:
            self.judge.note(f"jobs that failed: {self.process.failures}")
        if self.process.store.trouble is not None:
            self.judge.note("the state never came back to disk")
        self.process.die(self.world.now_utc)
        if examine(self.world.folder / FILE_NAME) is not Condition.SOUND:
            self.judge.note("the database is not sound")
