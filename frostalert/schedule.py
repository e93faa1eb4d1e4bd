"""The only importer of APScheduler: runs the jobs that `app.jobs` names.

Measured on 3.11: a job that is late by more than a second is dropped unless the grace
is None; an error out of a job store or trigger kills the scheduler's thread while it
still says that it runs. So: memory store, UTC, grace None, one run at a time, executors
that cannot starve each other, and a heartbeat that the supervisor watches.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, timedelta

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.interval import IntervalTrigger

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


LANES = ("fetch", "email", "sms", "house")


class Schedule:
    """Runs jobs until it is stopped."""

    def __init__(self, jobs: list[Job]) -> None:
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
                _guarded(job),
                IntervalTrigger(seconds=int(job.every.total_seconds()), timezone=UTC),
                executor=job.lane,
                id=job.name,
                name=job.name,
            )

    def start(self) -> None:
        """Begin; the first runs come after one interval."""
        self._scheduler.start()

    def stop(self) -> None:
        """Take no new work; what runs is left to end by itself."""
        if self._scheduler.running:
            self._scheduler.shutdown(wait=False)


def _guarded(job: Job) -> Callable[[], None]:
    """Return a job that logs its error and stays scheduled."""

    def run() -> None:
        try:
            job.run()
        except Exception:  # noqa: BLE001 - one bad cycle must not end the service
            _LOG.exception("job %s failed; it runs again in %s", job.name, job.every)

    return run
