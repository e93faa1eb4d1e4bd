"""The real page as a process beside the service: takes up what changes."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from datetime import timedelta
from pathlib import Path

import pytest
import requests

from frostalert.clock import SystemClock
from frostalert.model.job_sheet import Job, JobSheet
from frostalert.model.ticket import Ticket
from frostalert.store.key import make_key
from frostalert.store.open import open_store
from frostalert.web.reading import readings_key
from tests.scenario.test_daemon import wait_for
from tests.support.configs import config_text
from tests.support.servers import free_port

SENSOR = '\n[[sensors]]\nname = "{name}"\nkind = "reference"\n'


class Beside:
    """`frostalert web` with a state of its own."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        state = folder / "state"
        state.mkdir()
        open_store(state).database.close()
        self.key = readings_key(make_key(state))
        web = f'\n[web]\nport = {self.port}\npublic_url = "https://frost.example"\n'
        self.folder = state
        self.text = config_text(state=str(state), more=web)
        self.path = folder / "frostalert.toml"
        self.path.write_text(self.text + SENSOR.format(name="Post"))
        with (folder / "log").open("w") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "frostalert", "web"],
                cwd=folder,
                env={**os.environ, "HOME": str(folder)},
                stdout=subprocess.DEVNULL,
                stderr=log,
            )
        wait_for(lambda: self.send("Post") is not None, "an answer of the page")

    def send(self, sensor: str) -> int | None:
        with suppress(requests.ConnectionError):
            return requests.request(
                "POST",
                f"http://127.0.0.1:{self.port}/reading",
                headers={"Authorization": f"Bearer {self.key}"},
                json={"sensor": sensor, "value": "28.4 degF"},
                timeout=5,
            ).status_code
        return None


@pytest.fixture
def beside(tmp_path: Path) -> Iterator[Beside]:
    made = Beside(tmp_path)
    yield made
    made.process.terminate()
    made.process.wait()


def test_a_sensor_written_down_later_is_known_at_once(beside: Beside) -> None:
    assert beside.send("Orchard gate") == 400
    more = SENSOR.format(name="Post") + SENSOR.format(name="Orchard gate")
    beside.path.write_text(beside.text + more)
    assert beside.send("Orchard gate") in (200, 201)


def test_a_broken_file_leaves_the_page_as_it_was(
    beside: Beside, tmp_path: Path
) -> None:
    beside.path.write_text("[site\n")
    assert beside.send("Post") in (200, 201)
    assert "the earlier configuration stays in force" in (tmp_path / "log").read_text()
    more = SENSOR.format(name="Orchard gate")
    beside.path.write_text(beside.text + more)
    assert beside.send("Orchard gate") in (200, 201)


def test_whoever_opens_it_without_a_link_is_told_how(beside: Beside) -> None:
    answer = requests.request("GET", f"http://127.0.0.1:{beside.port}/", timeout=5)
    assert answer.status_code == 404
    assert "Open this page by the link" in answer.text


def test_a_port_that_is_taken_is_told_in_one_line(beside: Beside) -> None:
    again = subprocess.run(
        [sys.executable, "-m", "frostalert", "web"],
        cwd=beside.path.parent,
        env={**os.environ, "HOME": str(beside.path.parent)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert again.returncode == 64
    assert "Traceback" not in again.stderr
    said = " ".join(again.stderr.split())
    assert f"cannot listen on 127.0.0.1, port {beside.port}: Address already" in said


def test_what_is_sent_from_the_page_of_a_person_reaches_the_state(
    beside: Beside,
) -> None:
    store = open_store(beside.folder)
    night = SystemClock().now_utc().date()
    job = Job(night=night, key="Water", who=("Ines",), words="21:00 Water")
    store.save_job_sheet(
        JobSheet(night=night, made_utc=SystemClock().now_utc(), jobs=(job,), limits=())
    )
    expires = SystemClock().now_utc() + timedelta(hours=1)
    store.keep_ticket("token", Ticket(person="Ines", said=(), expires_utc=expires))
    block = "Apricots by the lane"
    for path, form in (
        ("/done", {"night": night.isoformat(), "job": "Water"}),
        ("/read", {"sensor": "Post", "value": "30.2 F", "sure": "yes"}),
        ("/seen", {"block": block, "stage": "green fruit"}),
    ):
        origin = f"http://127.0.0.1:{beside.port}"
        answer = requests.request(
            "POST",
            origin + path,
            data={"ticket": "token", **form},
            headers={"Origin": origin},
            timeout=5,
        )
        assert answer.status_code == 200
    assert [tick.person for tick in store.ticks(night)] == ["Ines"]
    assert [look.sighting.block for look in store.phone_looks()] == [block]
    since = SystemClock().now_utc() - timedelta(hours=1)
    assert store.readings_since(since)[-1].air_c == -1.0
    assert beside.path.read_text() == beside.text + SENSOR.format(name="Post")
    store.database.close()
