"""`frostalert run`: the unattended service."""

import logging
import os
import sys

from frostalert.cli.options import ConfigOption, find_config


def run(config: ConfigOption = None) -> None:
    """Run the service until it is told to end (SIGTERM, Ctrl-C)."""
    from frostalert.app import Service, default_state_directory, jobs, state_directory
    from frostalert.clock import SystemClock
    from frostalert.config.accepted import AcceptedConfig
    from frostalert.config.load import load_settings
    from frostalert.errors import ConfigError
    from frostalert.schedule import Job, Schedule
    from frostalert.store.lock import StateLock
    from frostalert.store.open import make_state_directory, open_store
    from frostalert.supervisor import Supervisor
    from datetime import timedelta

    _log_to_stderr()
    path = find_config(config)
    try:
        directory = state_directory(load_settings(path))
    except ConfigError:
        # The copy of the last accepted file may still stand in the usual place.
        directory = default_state_directory()
    log = logging.getLogger("frostalert")
    with StateLock(make_state_directory(directory)):
        accepted = AcceptedConfig(path, directory)
        if accepted.problem is not None:
            log.error("running on the last accepted copy: %s", accepted.problem)
        service = Service(accepted, open_store(directory), SystemClock())
        supervisor = Supervisor()
        schedule = Schedule(
            [
                *jobs(service),
                Job(
                    name="heartbeat",
                    every=timedelta(seconds=5),
                    run=supervisor.beat,
                    lane="house",
                ),
            ]
        )
        schedule.start()
        log.info("started on %s, state in %s", path, directory)
        supervisor.watch()
        schedule.stop()
        log.info("ended")
    logging.shutdown()
    # A job that hangs must not keep the process: what is queued is on disk.
    sys.stdout.flush()
    os._exit(0)


def _log_to_stderr() -> None:
    """Log one line an event; the journal adds the time by itself."""
    in_journal = "JOURNAL_STREAM" in os.environ
    stamp = "" if in_journal else "%(asctime)s "
    logging.basicConfig(
        level=logging.INFO,
        format=stamp + "%(levelname)s %(name)s: %(message)s",
        stream=sys.stderr,
    )
    # Its lines name jobs every few seconds.
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
