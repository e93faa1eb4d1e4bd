"""One cycle with delivery, against a real SMTP server and a real HTTP receiver."""

import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import parse_qs

import pytest

from frostalert.store.lock import StateLock
from frostalert.store.open import make_state_directory
from tests.support.commands import run_command
from tests.support.configs import config_text
from tests.support.grids import frosty_hours, grid_text
from tests.support.servers import (
    HttpServer,
    MailBox,
    Reply,
    http_server,
    smtp_server,
)

NOW = "2026-04-12T17:00"


class Place:
    """A holding with a mail server and a text receiver of its own."""

    def __init__(
        self, folder: Path, box: MailBox, port: int, texts: HttpServer
    ) -> None:
        self.folder = folder
        self.box = box
        self.texts = texts
        self.write(port)
        (folder / "grid.json").write_text(grid_text(minimum_c=-4.0))

    def write(self, port: int) -> None:
        text = config_text(
            smtp_port=port, sms_url=self.texts.url, state=str(self.folder / "state")
        )
        (self.folder / "frostalert.toml").write_text(text)

    def start(self, *arguments: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, "-m", "frostalert", "once", *arguments],
            cwd=self.folder,
            env={**os.environ, "HOME": str(self.folder)},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def once(self, *arguments: str) -> tuple[int, str, str]:
        given = arguments or ("--forecast", "grid.json", "--now", NOW)
        done = run_command("once", *given, cwd=self.folder)
        return done.returncode, done.stdout, done.stderr

    def sent_texts(self) -> list[str]:
        return [parse_qs(seen.body)["Body"][0] for seen in self.texts.seen]


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    box = MailBox()
    with (
        http_server(lambda _: Reply(201, '{"id": "SM1"}')) as texts,
        smtp_server(box) as server,
    ):
        yield Place(tmp_path, box, server.port, texts)


def test_one_email_and_one_text_arrive_and_nothing_new_the_second_time(
    place: Place,
) -> None:
    code, out, error = place.once()
    assert (code, error) == (0, "")
    assert "2 sent" in out
    [mail] = place.box.mails
    assert mail["Subject"].startswith("TEST Get ready now: frost tonight")
    assert mail["To"] == "ines@heron-bench.example"
    [text] = place.sent_texts()
    assert text.startswith("TEST FROST Sun Apr 12: GET READY NOW. ")
    assert len(text) <= 160
    code, out, _ = place.once()
    assert code == 0
    assert "Nothing new to say." in out
    assert len(place.box.mails) == len(place.texts.seen) == 1


def test_the_plain_part_is_short_and_a_page_with_all_numbers_goes_with_it(
    place: Place,
) -> None:
    place.once()
    body = place.box.mails[0].get_body(("plain",))
    assert body is not None
    text = body.get_content().replace("\r\n", "\n")
    assert text.startswith("TEST Get ready now: frost tonight, Sun Apr 12. ")
    for words in ("Apricots by the lane (full bloom)", "US National Weather Service"):
        assert words in text
    # Two screens of a phone, and lines that the phone breaks.
    assert len(text.split()) <= 350
    [page] = [
        part.get_content()
        for part in place.box.mails[0].iter_attachments()
        if part.get_filename() == "all-numbers.html"
    ]
    for words in (
        "radiation frost",
        "Sunset 7:40 pm, sunrise 6:13 am",
        "Apricots by the lane",
        "micro-sprinklers",
        "Ice breaks limbs",
        "Local codes",
        "two nights in three",
        "WSU EB1240",
        "its night minimum",
    ):
        assert words in " ".join(page.split()), words


def test_a_worse_forecast_is_told_with_the_change(place: Place) -> None:
    place.once()
    (place.folder / "grid.json").write_text(grid_text(minimum_c=-7.0))
    place.once()
    assert len(place.box.mails) == 2
    body = place.box.mails[1].get_body(("plain",))
    assert body is not None
    assert "It got worse:" in body.get_content()
    assert "colder" in body.get_content()


def test_a_warm_forecast_says_nothing(place: Place) -> None:
    (place.folder / "grid.json").write_text(
        grid_text(air_c=frosty_hours(low_c=9.0, high_c=20.0))
    )
    code, out, _ = place.once()
    assert code == 0
    assert "Nothing new to say." in out
    assert place.box.mails == []


def test_a_fresh_rehearsal_says_it_again(place: Place) -> None:
    place.once()
    place.once("--fresh", "--forecast", "grid.json", "--now", NOW)
    assert len(place.box.mails) == 2


def test_a_rehearsal_leaves_live_state_alone(place: Place) -> None:
    place.once()
    state = place.folder / "state"
    assert [entry.name for entry in state.iterdir()] == ["rehearsal"]


def test_a_refused_mail_waits_and_is_sent_by_the_next_run(place: Place) -> None:
    place.box.data_replies.append("451 try later")
    code, out, _ = place.once()
    assert code == 75
    assert "1 sent, 1 waiting" in out
    code, _, _ = place.once()
    assert code == 0
    assert len(place.box.mails) == len(place.texts.seen) == 1
    assert "(again)" not in place.box.mails[0]["Subject"]


def test_killing_it_between_queueing_and_sending_loses_nothing(place: Place) -> None:
    # A mail server that takes the call and says nothing: the program waits in it.
    silent = socket.create_server(("127.0.0.1", 0))
    called = threading.Event()
    kept: list[socket.socket] = []

    def take() -> None:
        kept.append(silent.accept()[0])
        called.set()

    thread = threading.Thread(target=take, daemon=True)
    thread.start()
    good_port = int(
        (place.folder / "frostalert.toml").read_text().split("port = ")[1].split()[0]
    )
    place.write(silent.getsockname()[1])
    with place.start("--forecast", "grid.json", "--now", NOW) as process:
        assert called.wait(30)
        process.send_signal(signal.SIGKILL)
        process.wait(10)
    thread.join(5)
    kept[0].close()
    silent.close()
    assert place.box.mails == []
    assert place.texts.seen == []
    place.write(good_port)
    code, _, error = place.once()
    assert (code, error) == (0, "")
    [mail] = place.box.mails
    # It was being sent when the program died, so it may be a repeat and says so.
    assert mail["Subject"].startswith("TEST (again) Get ready now")
    assert len(place.texts.seen) == 1


def test_two_at_once_are_refused(place: Place) -> None:
    with StateLock(make_state_directory(place.folder / "state" / "rehearsal")):
        code, _, error = place.once()
    assert code == 75
    assert "another frostalert is running" in error
