"""A look at past springs in a process of its own, beside the service.

It takes a minute of computing and as much memory again as the service: done inside,
both would be missing where warnings are decided.
"""

import logging
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from datetime import datetime, timedelta
from pathlib import Path
from typing import IO

_LOG = logging.getLogger(__name__)
_UNAVAILABLE = 69
_SOON, _LATER = timedelta(hours=1), timedelta(days=1)
_LONGEST = timedelta(hours=2)
_PATIENCE_S = 5.0


class Errand:
    """Runs `frostalert past` and looks after it.

    Parameters
    ----------
    command : tuple of str, optional
        What is run, without its options.
    """

    def __init__(
        self, command: tuple[str, ...] = (sys.executable, "-m", "frostalert", "past")
    ) -> None:
        self._command = command
        self._child: subprocess.Popen[bytes] | None = None
        self._said: IO[bytes] | None = None
        self._began_utc: datetime | None = None
        self._not_before_utc: datetime | None = None
        self._may_be_nice = True

    @property
    def is_busy(self) -> bool:
        """Whether a process runs, as far as it was looked at."""
        return self._child is not None

    def go_on(self, config: Path, now_utc: datetime) -> None:
        """Begin if it is time, or see what became of what was begun."""
        if self._child is not None:
            self._look(now_utc)
        elif self._not_before_utc is None or now_utc >= self._not_before_utc:
            self._begin(config, now_utc)

    def end(self) -> None:
        """End what runs; what its archives have answered is kept."""
        if self._child is None:
            return
        self._child.terminate()
        try:
            self._child.wait(_PATIENCE_S)
        except subprocess.TimeoutExpired:
            self._child.kill()
            self._child.wait()
        self._forget()

    def _begin(self, config: Path, now_utc: datetime) -> None:
        """Start the process, which yields to all others."""
        nice = shutil.which("nice") if self._may_be_nice else None
        first = (nice, "-n", "19") if nice else ()
        self._said = tempfile.TemporaryFile()  # noqa: SIM115 - as long as the process
        self._child = subprocess.Popen(  # noqa: S603 - our own program
            [*first, *self._command, "--config", str(config)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=self._said,
            env=os.environ.copy(),
        )
        self._began_utc = now_utc
        _LOG.info("past springs are looked at, beside the service")

    def _look(self, now_utc: datetime) -> None:
        """See whether the process has ended, and end it if it takes too long."""
        assert self._child is not None  # noqa: S101 - the caller has asked
        code = self._child.poll()
        if code is None:
            began = self._began_utc
            if began is not None and now_utc - began > _LONGEST:
                _LOG.warning("past springs took too long and were broken off")
                self.end()
                self._not_before_utc = now_utc + _LATER
            return
        if code == -signal.SIGSYS and self._may_be_nice:
            # A unit that lets nobody yield kills who tries to.
            self._may_be_nice = False
            self._forget()
            return
        if code:
            _LOG.warning("past springs (exit %d): %s", code, self._words())
        else:
            _LOG.info("past springs are looked at: frostalert past shows them")
        wait = _SOON if code == _UNAVAILABLE else _LATER
        self._not_before_utc = now_utc + wait
        self._forget()

    def _words(self) -> str:
        """Return what the process said."""
        if self._said is None:
            return ""
        self._said.seek(0)
        return " ".join(self._said.read(2000).decode(errors="replace").split())

    def _forget(self) -> None:
        """Be ready for another one."""
        if self._said is not None:
            self._said.close()
        self._child = self._said = self._began_utc = None
