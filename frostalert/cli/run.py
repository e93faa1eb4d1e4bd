"""`frostalert run`: the unattended service."""

import logging
import os
import sys
from datetime import timedelta
from functools import partial
from pathlib import Path

from frostalert.cli.options import ConfigOption, find_config


def run(config: ConfigOption = None) -> None:
    """Run the service until it is told to end (SIGTERM, Ctrl-C)."""
    from frostalert.app import state_directory
    from frostalert.config.load import named_state_directory
    from frostalert.store.lock import StateLock
    from frostalert.store.open import make_state_directory

    _log_to_stderr()
    path = find_config(config)
    # Even a broken file can say where the copy of the last accepted one is.
    directory = state_directory(named_state_directory(path))
    with StateLock(make_state_directory(directory)):
        _serve(path, directory)
    logging.shutdown()
    # A job that hangs must not keep the process: what is queued is on disk.
    sys.stdout.flush()
    os._exit(0)


def _serve(path: Path, directory: Path) -> None:
    """Run the jobs until the process is told to end."""
    from frostalert.app import Service, jobs
    from frostalert.clock import SystemClock
    from frostalert.config.accepted import AcceptedConfig
    from frostalert.schedule import LANES, Job, Schedule
    from frostalert.store.open import open_store
    from frostalert.supervisor import Supervisor

    log = logging.getLogger("frostalert")
    accepted = AcceptedConfig(path, directory)
    if accepted.problem is not None:
        log.error("running on the last accepted copy: %s", accepted.problem)
    service = Service(accepted, open_store(directory), SystemClock())
    supervisor = Supervisor()
    heartbeats = [
        Job(
            name=f"heartbeat {lane}",
            every=timedelta(seconds=5),
            run=partial(supervisor.beat, lane),
            lane=lane,
        )
        for lane in LANES
    ]
    schedule = Schedule([*jobs(service), *heartbeats])
    schedule.start()
    log.info("started on %s, state in %s", path, directory)
    supervisor.watch()
    schedule.stop()
    log.info("ended")


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
