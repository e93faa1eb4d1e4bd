"""The supervisor names a lane that hangs, and is not stopped by who reads it."""

import socket
import time
from pathlib import Path

import pytest

from frostalert.supervisor import Supervisor, tell_systemd


def test_a_lane_without_a_heartbeat_hangs() -> None:
    supervisor = Supervisor({"house": 10.0, "deliver": 0.05})
    assert supervisor.hung() is None
    time.sleep(0.1)
    assert supervisor.hung() == "the lane deliver hangs"
    supervisor.beat("deliver")
    assert supervisor.hung() is None


def test_a_socket_that_nobody_reads_stops_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as unread:
        unread.bind(str(tmp_path / "notify"))
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
        for _ in range(2000):
            tell_systemd("WATCHDOG=1")
        assert unread.recv(100) == b"WATCHDOG=1"


def test_without_systemd_nothing_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    tell_systemd("READY=1")
    monkeypatch.setenv("NOTIFY_SOCKET", "/nowhere/at/all")
    tell_systemd("READY=1")  # a warning in the log, and no error
