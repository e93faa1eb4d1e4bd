"""The real service as a process among faults: clock, disk, end, answers."""

import shutil
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path

import pytest

from tests.adapters.test_nws import Office
from tests.scenario.test_daemon import Daemon, tonight_grid, wait_for
from tests.support.configs import config_text
from tests.support.mails import WARNS
from tests.support.needs import needs
from tests.support.servers import Reply, Seen, SlowBox, http_server, smtp_server

can_mount = needs("unshare", as_root=True)


class Place:
    """A daemon with the servers that it talks to."""

    def __init__(self, daemon: Daemon, box: SlowBox, office: Office) -> None:
        self.daemon = daemon
        self.box = box
        self.office = office


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    box, office = SlowBox(), Office()
    office.grid = Reply(200, tonight_grid())
    with (
        http_server(office) as nws,
        http_server(lambda _: Reply(201, '{"id": "SM1"}')) as texts,
        smtp_server(box) as server,
    ):
        yesterday = datetime.now(UTC).date() - timedelta(days=1)  # noqa: TID251 - the daemon's own clock
        config = config_text(
            smtp_port=server.port,
            sms_url=texts.url,
            nws_url=nws.url,
            state=str(tmp_path / "state"),
        ).replace("2026-04-10", str(yesterday))
        running = Daemon(tmp_path, box, config)
        try:
            yield Place(running, box, office)
        finally:
            running.close()


def bodies(place: Place) -> str:
    texts = []
    for mail in place.box.mails:
        body = mail.get_body(("plain",))
        assert body is not None
        texts.append(" ".join(body.get_content().split()))
    return " ".join(texts)


def test_people_answer_and_monitors_ask_beside_the_running_service(
    place: Place,
) -> None:
    daemon = place.daemon
    wait_for(lambda: len(daemon.box.mails) >= 1, "a warning")
    health = daemon.ask("health")
    assert health.returncode == 2
    assert "set [watcher]" in health.stdout
    assert "not running" not in health.stdout
    unknown = daemon.ask("ack", "--by", "Nobody")
    assert unknown.returncode == 64
    assert 'write one of "Ines", "Tobias"' in " ".join(unknown.stderr.split())
    done = daemon.ask("ack", "--by", "ines")
    assert done.returncode == 0
    assert "Ines, acting" in done.stdout
    late = daemon.ask("ack", "--by", "Ines", "--later", "40 h")
    assert late.returncode == 64
    assert "past noon" in " ".join(late.stderr.split())
    with_watcher = daemon.config + '\n[watcher]\nchecked_by = "the barn computer"\n'
    daemon.path.write_text(with_watcher)
    wait_for(lambda: daemon.ask("health").returncode == 0, "good health")
    assert daemon.end() == 0
    ended = daemon.ask("health", "--json")
    assert ended.returncode == 2
    assert "frostalert run is not running" in ended.stdout


class Witness(Office):
    """A second server that names its time, and has no forecast."""

    off = timedelta(0)

    def __call__(self, seen: Seen) -> Reply:
        del seen
        now = datetime.now(UTC) + self.off  # noqa: TID251 - its own clock
        return Reply(404, "", {"Date": format_datetime(now, usegmt=True)})


def contradicted(place: Place, *servers: str) -> timedelta:
    """Start anew, these servers two hours ahead; return how far its mail is."""
    daemon, witness = place.daemon, Witness()
    now = datetime.now(UTC)  # noqa: TID251 - the daemon's own clock
    ahead = timedelta(hours=2)
    if "first" in servers:
        date = format_datetime(now + ahead, usegmt=True)
        place.office.grid = Reply(200, tonight_grid(), {"Date": date})
        place.office.points.headers["Date"] = date
    witness.off = ahead if "second" in servers else timedelta(0)
    with http_server(witness) as second:
        daemon.end()
        shutil.rmtree(daemon.folder / "state", ignore_errors=True)
        place.box.mails.clear()
        daemon.path.write_text(
            daemon.config.replace(
                "[forecast]\n",
                f'[forecast]\nsources = ["nws", "met-norway"]\n'
                f'met_norway_url = "{second.url}"\n',
            )
        )
        daemon.process = daemon.start()
        wait_for(lambda: bool(place.box.mails), "a warning")
        stamps = [mail["Date"].datetime for mail in place.box.mails]
        if len(servers) > 1:
            wait_for(lambda: "clock is" in bodies(place), "word of the clock")
            assert "min behind of the forecast service's" in bodies(place)
        else:
            assert "clock is" not in bodies(place)
        assert daemon.end() == 0
    found: timedelta = max(stamps) - now
    return found


def test_two_servers_that_contradict_the_clock_are_believed(place: Place) -> None:
    # What is written bears the time that counts.
    assert contradicted(place, "first", "second") > timedelta(hours=1, minutes=50)


def test_one_server_that_contradicts_the_clock_and_another_moves_nothing(
    place: Place,
) -> None:
    assert contradicted(place, "first") < timedelta(minutes=10)


@pytest.mark.parametrize("seconds", [-1800, 12 * 3600], ids=["back", "ahead"])
def test_a_clock_that_is_moved_stops_no_job_and_calls_nobody(
    place: Place, seconds: int
) -> None:
    """The real command: the wall clock jumps, its jobs go on."""
    daemon, log = place.daemon, place.daemon.log
    wait_for(lambda: "started on" in log.read_text(), "a start")
    daemon.end()
    moved = daemon.folder / "moved"
    daemon.program = ["tests.support.moved_clock", str(moved)]
    daemon.process = daemon.start()
    wait_for(lambda: log.read_text().count("started on") == 2, "a second start")
    time.sleep(7.0)
    moved.write_text(str(seconds))
    wait_for(lambda: "the wall clock was moved by" in log.read_text(), "the jump seen")
    # Left alone, the scheduler would sleep through the half hour.
    told = len(daemon.box.mails)
    daemon.path.write_text("[site\n")
    wait_for(lambda: "not taken up" in log.read_text(), "the broken file seen")
    # One server's one answer contradicts the clock: by it nobody is called.
    assert len(daemon.box.mails) == told
    assert daemon.end() == 0


def test_the_end_waits_for_the_mail_that_is_under_way(place: Place) -> None:
    daemon = place.daemon
    wait_for(lambda: len(daemon.box.mails) >= 1, "a warning")
    told = len(daemon.box.mails)
    place.box.wait_s = 4.0
    place.box.begun.clear()
    daemon.path.write_text("[site\n")
    assert place.box.begun.wait(40), "the fault's mail was never begun"
    begun_at = time.monotonic()
    assert daemon.end() == 0
    assert time.monotonic() - begun_at < 30.0
    assert len(daemon.box.mails) == told + 1
    place.box.wait_s = 0.0
    daemon.path.write_text(daemon.config)
    daemon.process = daemon.start()
    wait_for(lambda: daemon.log.read_text().count("started on") == 2, "a second start")
    time.sleep(8.0)
    assert not any("(again)" in subject for subject in daemon.subjects())
    assert daemon.end() == 0


@can_mount
def test_a_full_disk_keeps_no_warning_and_mends_itself(place: Place) -> None:
    daemon = place.daemon
    wait_for(lambda: len(daemon.box.mails) >= 1, "a warning")
    daemon.end()
    place.box.mails.clear()
    state = daemon.folder / "state"
    daemon.restart_inside(
        f"mount -t tmpfs -o size=1500k tmpfs {state}\n"
        f"dd if=/dev/zero of={state}/filler bs=1k 2>/dev/null || true\n"
        f"(sleep 20; rm {state}/filler) &"
    )
    wait_for(lambda: "warnings still go out" in bodies(place), "word of the full disk")
    assert any(subject.startswith(WARNS) for subject in daemon.subjects())
    wait_for(
        lambda: "the state is back on disk" in daemon.log.read_text(),
        "the state back on disk",
    )
    told = len(daemon.box.mails)
    time.sleep(8.0)
    # Nothing that was told from memory is told again from disk.
    warnings = [s for s in daemon.subjects() if "frostalert needs you" not in s]
    assert len(warnings) == len(set(warnings))
    assert len(daemon.box.mails) <= told + 1
    assert daemon.end() == 0


@can_mount
def test_a_state_that_cannot_be_written_at_all_stops_no_warning(place: Place) -> None:
    daemon = place.daemon
    wait_for(lambda: len(daemon.box.mails) >= 1, "a warning")
    daemon.end()
    place.box.mails.clear()
    state = daemon.folder / "state"
    daemon.restart_inside(
        f"mount -t tmpfs -o size=1500k tmpfs {state} && mount -o remount,ro {state}"
    )
    wait_for(lambda: "warnings still go out" in bodies(place), "word of the state")
    assert any("needs you" not in subject for subject in daemon.subjects())
    assert daemon.process.poll() is None
    assert daemon.end() == 0
