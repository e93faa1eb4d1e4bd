"""Secrets reach the server that they are for, and nothing else that can be read."""

import base64
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from aiosmtpd.smtp import AuthResult

from frostalert.store.key import read_key
from frostalert.web.reading import readings_key
from tests.adapters.test_nws import Office
from tests.scenario.test_daemon import Daemon, tonight_grid, wait_for
from tests.support.configs import config_text
from tests.support.servers import (
    Answering,
    HttpServer,
    MailBox,
    Reply,
    http_server,
    smtp_server,
)

MAIL, TEXT, KEY = "marker-of-the-mail", "marker-of-the-texts", "marker-of-the-key"
SECRET_FILES = {"smtp-password": MAIL, "sms-token": TEXT, "open-meteo-key": KEY}
OWN_FILES = {*SECRET_FILES, "answer-key"}


@dataclass
class Place:
    """A daemon whose servers all refuse, and repeat what they were given."""

    daemon: Daemon
    weather: HttpServer
    texts: HttpServer
    watch: HttpServer
    office: HttpServer


def quoting(secret: str) -> Answering:
    """Refuse as some services do: with what they were given in the answer."""
    words = f"{secret} is no key of ours"
    body = json.dumps({"error": True, "reason": words, "message": words})
    return lambda _: Reply(403, body)


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    box, office = MailBox(), Office()
    office.grid = Reply(200, tonight_grid())
    refusing = {
        "auth_required": True,
        "auth_require_tls": False,
        "authenticator": lambda *_: AuthResult(
            success=False, handled=False, message=f"454 {MAIL} is busy"
        ),
    }
    with (
        http_server(office) as nws,
        http_server(quoting(KEY)) as weather,
        http_server(quoting(TEXT)) as texts,
        http_server(lambda _: Reply(403)) as watch,
        smtp_server(box, **refusing) as server,
    ):
        more = f"""
[watcher]
url = "{watch.url}/well"
fail_url = "{watch.url}/wrong"

[web]
public_url = "https://frost.example"

[status]
directory = "{tmp_path}/page"
"""
        yesterday = datetime.now(UTC).date() - timedelta(days=1)  # noqa: TID251 - the daemon's own clock
        config = config_text(
            smtp_port=server.port,
            sms_url=texts.url,
            nws_url=nws.url,
            state=str(tmp_path / "state"),
            more=more,
        )
        for old, new in (
            ("2026-04-10", str(yesterday)),
            ("[email]\n", '[email]\nusername = "u"\npassword_file = "smtp-password"\n'),
            ("[sms]\n", '[sms]\nusername = "u"\npassword_file = "sms-token"\n'),
            (
                "[forecast]\n",
                '[forecast]\nsources = ["open-meteo", "nws"]\n'
                f'open_meteo_url = "{weather.url}"\n'
                'open_meteo_key_file = "open-meteo-key"\n',
            ),
        ):
            assert old in config
            config = config.replace(old, new)
        for name, secret in SECRET_FILES.items():
            (tmp_path / name).write_text(secret + "\n")
        running = Daemon(tmp_path, box, config)
        try:
            yield Place(running, weather, texts, watch, nws)
        finally:
            running.close()


def everything_kept(folder: Path) -> dict[str, bytes]:
    """Return all that lies about after a run: state, copies, page, log."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name not in OWN_FILES
    }


def test_no_secret_is_printed_written_or_sent_elsewhere(place: Place) -> None:
    daemon = place.daemon
    wait_for(lambda: bool(place.texts.seen), "a text that was tried")
    wait_for(lambda: "log-in" in daemon.log.read_text(), "a refused log-in")
    wait_for(lambda: bool(place.watch.seen), "a word to the watcher")
    done = {
        command: daemon.ask(*command.split())
        for command in (
            "doctor",
            "config check",
            "health --json",
            "tonight --json",
            "test-message Ines",
            "test-message Tobias",
        )
    }
    said = {name: asked.stdout + asked.stderr for name, asked in done.items()}
    daemon.path.write_text(daemon.config.replace("46.2205", "146.2205"))
    wait_for(lambda: "146.2205" in daemon.log.read_text(), "the broken configuration")
    assert daemon.end() == 0

    # Each secret was really used, where it belongs.
    login = base64.b64encode(f"u:{TEXT}".encode()).decode()
    assert any(login in str(seen.headers) for seen in place.texts.seen)
    assert place.weather.seen
    assert all(KEY in seen.path for seen in place.weather.seen)

    key = read_key(daemon.folder / "state")
    secrets = [MAIL, TEXT, KEY, login, readings_key(key), key.hex()]
    found = everything_kept(daemon.folder)
    assert {"frostalert.toml", "log", "page/index.html"} < found.keys()
    places = found | {name: text.encode() for name, text in said.items()}
    places |= {
        "asked of the watcher": str(place.watch.seen).encode(),
        "asked of the office": str(place.office.seen).encode(),
    }
    leaks = [
        (name, secret)
        for name, content in places.items()
        for secret in secrets
        if secret.encode() in content
    ]
    assert leaks == []
    assert all(key not in content for content in places.values())
