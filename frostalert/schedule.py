"""The only importer of APScheduler: runs the jobs that `app.jobs` names.

Measured on 3.11: a job that is late by more than a second is dropped unless the grace
is None; an error out of a job store or trigger kills the scheduler's thread while it
still says that it runs; after a backward step of the clock nothing runs for as long.
So: memory store, UTC, grace None, one run at a time, executors that cannot starve each
other, a heartbeat that the supervisor watches, and all jobs planned anew after a step.
"""

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.interval import IntervalTrigger

from frostalert.model.channel import CHANNELS

_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Something done again and again.

    Attributes
    ----------
    name : str
        Its name in logs.
    every : timedelta
        Time between two runs.
    run : callable
        What is done.
    lane : str
        One of `LANES`: jobs in different lanes never wait for each other.
    """

    name: str
    every: timedelta
    run: Callable[[], object]
    lane: str


LANES = ("fetch", "decide", *(row.lane for row in CHANNELS), "house", "watch", "copy")


class Schedule:
    """Runs jobs until it is stopped.

    Parameters
    ----------
    jobs : list of Job
        What to run.
    on_end : callable, optional
        Told the name of each job that ended, and whether it went well.
    """

    def __init__(
        self, jobs: list[Job], *, on_end: Callable[[str, bool], None] | None = None
    ) -> None:
        self._on_end = on_end
        self._busy = 0
        self._changed = threading.Condition()
        self._scheduler = BackgroundScheduler(
            timezone=UTC,
            executors={lane: ThreadPoolExecutor(1) for lane in LANES},
            job_defaults={
                "misfire_grace_time": None,
                "coalesce": True,
                "max_instances": 1,
            },
        )
        for job in jobs:
            self._scheduler.add_job(
                self._guarded(job),
                IntervalTrigger(seconds=int(job.every.total_seconds()), timezone=UTC),
                executor=job.lane,
                id=job.name,
                name=job.name,
            )

    def start(self, now_utc: datetime) -> None:
        """Begin: every job runs at once, then at its interval."""
        self._scheduler.start(paused=True)
        self.replan(now_utc)
        self._scheduler.resume()

    def replan(self, now_utc: datetime) -> None:
        """Let every job run at once: its plan was made by a clock that was moved."""
        for job in self._scheduler.get_jobs():
            job.modify(next_run_time=now_utc)

    def stop(self, patience_s: float = 20.0) -> bool:
        """Take no new work and wait for what runs; return whether all of it ended.

        Parameters
        ----------
        patience_s : float
            Longest wait. [s]
        """
        if self._scheduler.running:
            self._scheduler.pause()
        ends_at = time.monotonic() + patience_s
        with self._changed:
            while self._busy and time.monotonic() < ends_at:
                self._changed.wait(ends_at - time.monotonic())
            is_idle = not self._busy
        if self._scheduler.running:
            self._scheduler.shutdown(wait=False)
        return is_idle

    def _guarded(self, job: Job) -> Callable[[], None]:
        """Return a job that logs its error, stays scheduled, and reports its end."""

        def run() -> None:
            with self._changed:
                self._busy += 1
            is_good = False
            try:
                job.run()
                is_good = True
            except Exception:  # noqa: BLE001 - one bad cycle must not end the service
                _LOG.exception(
                    "job %s failed; it runs again in %s", job.name, job.every
                )
            finally:
                with self._changed:
                    self._busy -= 1
                    self._changed.notify_all()
                if self._on_end is not None:
                    self._on_end(job.name, is_good)

        return run
