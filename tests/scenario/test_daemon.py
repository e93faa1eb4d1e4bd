"""The real service as a process: warns, takes up changes, ends cleanly."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.adapters.test_nws import Office
from tests.support.commands import run_command
from tests.support.configs import config_text
from tests.support.grids import frosty_hours, grid_text
from tests.support.mails import WARNS
from tests.support.servers import MailBox, Reply, http_server, smtp_server

PATIENCE_S = 120.0
ROOT = Path(__file__).parents[2]


def wait_for(what: Callable[[], bool], described: str, every_s: float = 0.1) -> None:
    end = time.monotonic() + PATIENCE_S
    while not what():
        assert time.monotonic() < end, f"never: {described}"
        time.sleep(every_s)


class Daemon:
    """`frostalert run` with everything that it talks to."""

    def __init__(self, folder: Path, box: MailBox, config: str) -> None:
        self.folder = folder
        self.box = box
        self.config = config
        self.path = folder / "frostalert.toml"
        self.path.write_text(config)
        self.log = folder / "log"
        self.notices = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.notices.bind(str(folder / "notify"))
        self.notices.settimeout(PATIENCE_S)
        self.wrapping: list[str] = []
        self.program = ["frostalert"]
        self.process = self.start()

    def start(self) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", *self.program, "run"]
        if self.wrapping:
            command = [*self.wrapping, f"exec {' '.join(command)}"]
        with self.log.open("ab") as log:
            return subprocess.Popen(
                command,
                cwd=self.folder,
                env={
                    **os.environ,
                    "HOME": str(self.folder),
                    "PYTHONPATH": str(ROOT),
                    "NOTIFY_SOCKET": str(self.folder / "notify"),
                },
                stdout=log,
                stderr=log,
            )

    def end(self) -> int:
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(30)

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self.notices.close()

    def restart_inside(self, preparation: str) -> None:
        """Start it again in mounts of its own, after some shell commands."""
        shell = f'{preparation}\neval "$0"'
        self.wrapping = ["unshare", "-m", "sh", "-ec", shell]
        self.process = self.start()

    def ask(self, *arguments: str) -> "subprocess.CompletedProcess[str]":
        """Run another command beside it."""
        return run_command(*arguments, cwd=self.folder)

    def subjects(self) -> list[str]:
        return [str(mail["Subject"]) for mail in self.box.mails]


def tonight_grid(low_c: float = -6.0) -> str:
    """A forecast made now that freezes every night of the next days."""
    first = datetime.now(UTC).replace(  # noqa: TID251 - the daemon's own clock
        minute=0, second=0, microsecond=0
    ) - timedelta(hours=6)
    turn = (first.hour - 12) % 24
    air = frosty_hours(low_c=low_c, hours=96 + 24)[turn : turn + 96]
    return grid_text(air_c=air, first=first, updated=first + timedelta(hours=6))


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    box = MailBox()
    office = Office()
    office.grid = Reply(200, tonight_grid())
    with (
        http_server(office) as nws,
        http_server(lambda _: Reply(201, '{"id": "SM1"}')) as texts,
        smtp_server(box) as server,
    ):
        today = datetime.now(UTC).date()  # noqa: TID251 - the daemon's own clock
        config = config_text(
            smtp_port=server.port,
            sms_url=texts.url,
            nws_url=nws.url,
            state=str(tmp_path / "state"),
        ).replace("2026-04-10", str(today - timedelta(days=1)))
        running = Daemon(tmp_path, box, config)
        try:
            yield running
        finally:
            running.close()


def test_it_warns_takes_up_changes_and_ends_cleanly(daemon: Daemon) -> None:
    assert daemon.notices.recv(100) == b"READY=1"
    wait_for(lambda: len(daemon.box.mails) >= 1, "a warning")
    assert daemon.subjects()[0].startswith(WARNS)
    assert daemon.box.mails[0]["To"] == "ines@heron-bench.example"

    daemon.path.write_text(daemon.config.replace("46.2205", "146.2205"))
    wait_for(
        lambda: any("frostalert needs you" in s for s in daemon.subjects()),
        "word of the broken configuration",
    )
    body = daemon.box.mails[-1].get_body(("plain",))
    assert body is not None
    assert "146.2205 cannot be right here" in " ".join(body.get_content().split())

    daemon.path.write_text(daemon.config.replace('"Heron Bench"', '"Heron Terrace"'))
    wait_for(lambda: "taken up" in daemon.log.read_text(), "the mended configuration")

    second = daemon.start()
    assert second.wait(30) == 75
    assert "another frostalert is running" in daemon.log.read_text()

    assert daemon.end() == 0
    log = daemon.log.read_text()
    assert "Traceback" not in log
    assert log.rstrip().endswith("ended")

    # Started again, it says nothing twice.
    told = len(daemon.box.mails)
    daemon.process = daemon.start()
    wait_for(
        lambda: (
            daemon.log.read_text().count("said nothing") > log.count("said nothing")
        ),
        "a decision after the restart",
    )
    time.sleep(6.0)
    assert len(daemon.box.mails) == told
    assert daemon.end() == 0


def test_a_broken_configuration_at_start_runs_on_the_accepted_copy(
    daemon: Daemon,
) -> None:
    wait_for(lambda: len(daemon.box.mails) >= 1, "a warning")
    assert daemon.end() == 0
    daemon.path.write_text("[site\n" + daemon.config)
    daemon.process = daemon.start()
    wait_for(
        lambda: any("frostalert needs you" in s for s in daemon.subjects()),
        "word of the broken configuration",
    )
    assert "running on the last accepted copy" in daemon.log.read_text()
    assert daemon.end() == 0


def test_without_any_good_configuration_it_exits_with_78(tmp_path: Path) -> None:
    (tmp_path / "frostalert.toml").write_text("[site\n")
    done = subprocess.run(
        [sys.executable, "-m", "frostalert", "run"],
        cwd=tmp_path,
        env={**os.environ, "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 78
    assert "not valid TOML" in done.stderr
    assert "Traceback" not in done.stderr
