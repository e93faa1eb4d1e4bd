"""`frostalert run`: the unattended service."""

import logging
import os
import sys
from contextlib import AbstractContextManager, ExitStack
from datetime import timedelta
from functools import partial
from pathlib import Path

from frostalert.app import build_service, jobs
from frostalert.cli.options import ConfigOption, find_config
from frostalert.clock import CheckedClock, SystemClock
from frostalert.config.accepted import AcceptedConfig
from frostalert.config.state_folder import state_directory_of
from frostalert.errors import StoreBusyError, StoreError
from frostalert.physics.saturation import load_metpy
from frostalert.schedule import LANES, Job, Schedule
from frostalert.store.lock import StateLock
from frostalert.store.open import make_state_directory
from frostalert.store.steady import FailoverStore
from frostalert.supervisor import Supervisor


def run(config: ConfigOption = None) -> None:
    """Run the service until it is told to end (SIGTERM, Ctrl-C)."""
    _log_to_stderr()
    path = find_config(config)
    # Even a broken file can say where the copy of the last accepted one is.
    directory = state_directory_of(path)
    with _lock(directory):
        _serve(path, directory)
    logging.shutdown()
    # A job that hangs must not keep the process: what is queued is on disk.
    sys.stdout.flush()
    os._exit(0)


def _lock(directory: Path) -> AbstractContextManager[object]:
    """Return the lock of the state folder; no lock where there can be no folder.

    A second daemon is refused. A folder that cannot be used at all must not keep the
    warnings from going out: then the state is kept in memory.
    """
    stack = ExitStack()
    try:
        stack.enter_context(StateLock(make_state_directory(directory)))
    except StoreBusyError:
        raise
    except StoreError as error:
        logging.getLogger("frostalert").critical("no lock: %s", error)
    return stack


def _serve(path: Path, directory: Path) -> None:
    """Run the jobs until the process is told to end."""
    log = logging.getLogger("frostalert")
    load_metpy()
    accepted = AcceptedConfig(path, directory)
    if accepted.problem is not None:
        log.error("running on the last accepted copy: %s", accepted.problem)
    clock = CheckedClock()
    store = FailoverStore(directory, clock.now_utc())
    supervisor = Supervisor(wall=SystemClock().now_utc)
    service, watchman = build_service(accepted, store, clock, supervisor.failing)
    heartbeats = [
        Job(
            name=f"heartbeat {lane}",
            every=timedelta(seconds=5),
            run=partial(supervisor.beat, lane),
            lane=lane,
        )
        for lane in LANES
    ]
    work = jobs(service, watchman, clock)
    schedule = Schedule([*work, *heartbeats], on_end=supervisor.note_end)
    for job in work:
        supervisor.expect(job.name, job.every, job.lane)

    def plan_anew(_moved: timedelta) -> None:
        service.clock_moved()
        schedule.replan(SystemClock().now_utc())

    watchman.beat()
    schedule.start(SystemClock().now_utc())
    log.info("started on %s, state in %s", path, directory)
    supervisor.watch(on_jump=plan_anew)
    service.end()
    is_idle = schedule.stop()
    log.info("ended" if is_idle else "ended while a job still ran")


class OneLineFormatter(logging.Formatter):
    """Keeps an event on one line, a traceback or a list of problems included."""

    def format(self, record: logging.LogRecord) -> str:
        """Return a record as one line."""
        return " | ".join(super().format(record).splitlines())


def _log_to_stderr() -> None:
    """Log one line an event; the journal adds the time by itself."""
    in_journal = "JOURNAL_STREAM" in os.environ
    stamp = "" if in_journal else "%(asctime)s "
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(
        OneLineFormatter(stamp + "%(levelname)s %(name)s: %(message)s")
    )
    logging.basicConfig(level=logging.INFO, handlers=[handler])
    # Its lines name jobs every few seconds.
    logging.getLogger("apscheduler").setLevel(logging.ERROR)
