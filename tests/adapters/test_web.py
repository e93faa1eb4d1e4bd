"""The page to answer on: a real server, asked as scanners, forgers and people ask."""

import re
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import requests

from frostalert.clock import FixedClock
from frostalert.config.load import parse_settings
from frostalert.cycle.health import Finding, Health, Light
from frostalert.errors import StoreError
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.settings import WebSettings
from frostalert.model.ticket import Ticket
from frostalert.store.key import make_key
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from frostalert.web.desk import Desk
from frostalert.web.page import build_page
from frostalert.web.reading import readings_key
from frostalert.web.serving import make_server
from tests.support.configs import config_text
from tests.support.servers import free_port

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
NIGHT = date(2026, 4, 12)
SENSOR = '\n[[sensors]]\nname = "Post"\nkind = "reference"\n'


class Page:
    """The page behind a real server."""

    def __init__(
        self, folder: Path, public_url: str = "https://frost.example", **limits: Any
    ) -> None:
        self.port = free_port()
        self.origin = f"http://127.0.0.1:{self.port}"
        self.store = open_store(folder)
        self.key = make_key(folder)
        self.health = Health(findings=())
        web = WebSettings(host="127.0.0.1", port=self.port, public_url=public_url)
        settings = parse_settings(
            config_text() + SENSOR, folder / "c", needs_secrets=False
        )
        self.desk = Desk(
            settings=lambda: settings,
            web=web,
            answers=self.store,
            tickets=self.store,
            clock=FixedClock(NOW),
            key=self.key,
            health=lambda: self.health,
            readings=self.store,
            phone=self.store,
        )
        self.server = make_server(build_page(self.desk), web, **limits)
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()

    def _run(self) -> None:
        # Closing takes the sockets away under its feet.
        with suppress(OSError):
            self.server.run()

    def close(self) -> None:
        self.server.close()
        self.thread.join(5)

    def ticket(self, *, person: str = "Ines", hours: float = 9.0) -> str:
        ticket = Ticket(
            person=person,
            said=((NIGHT, Tier.PREPARE, 1),),
            expires_utc=NOW + timedelta(hours=hours),
        )
        token = ticket.token(self.key)
        self.store.keep_ticket(token, ticket)
        return token

    def ask(self, path: str, method: str = "GET", **headers: str) -> requests.Response:
        return requests.request(method, self.origin + path, headers=headers, timeout=5)

    def send(self, **changes: str) -> requests.Response:
        form = {"ticket": self.ticket(), "choice": "acting"} | changes
        origin = form.pop("origin", self.origin)
        host = form.pop("host", f"127.0.0.1:{self.port}")
        headers = {"Host": host} | ({"Origin": origin} if origin else {})
        return requests.request(
            "POST", self.origin + "/answer", data=form, headers=headers, timeout=5
        )

    def answers(self) -> tuple[Answer, ...]:
        return self.store.recent_answers(NOW)


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    made = Page(tmp_path)
    yield made
    made.close()
    made.store.database.close()


def test_scanners_that_open_the_link_change_nothing(page: Page) -> None:
    for method in ("GET", "HEAD") * 20:
        answer = page.ask(f"/a/{page.ticket()}", method)
        assert answer.status_code == 200
    assert page.answers() == ()


def test_a_person_answers(page: Page) -> None:
    shown = page.ask(f"/a/{page.ticket()}").text
    assert "Ines, are you acting?" in shown
    assert "get ready" in shown
    assert "<script" not in shown
    done = page.send()
    assert done.status_code == 200
    assert "Ines is acting. Nobody else is called" in done.text
    [answer] = page.answers()
    assert (answer.person, answer.kind, answer.revision) == (
        "Ines",
        AnswerKind.ACTING,
        1,
    )
    again = page.ask(f"/a/{page.ticket()}").text
    assert "Ines has already answered" in again


def test_putting_off_ends_by_itself(page: Page) -> None:
    assert "until 4:00 pm" in page.send(choice="later").text
    [answer] = page.answers()
    assert answer.kind is AnswerKind.LATER
    assert answer.until_utc == NOW + timedelta(hours=1)


@pytest.mark.parametrize(
    "changes",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "null"},
        {"origin": ""},
        {"host": "elsewhere.example"},
        {"ticket": "forged.ticket"},
        {"ticket": ""},
        {"choice": "everything"},
        {"choice": ""},
    ],
    ids=lambda changes: "-".join(f"{k}={v}" for k, v in changes.items()),
)
def test_forgeries_are_refused(page: Page, changes: dict[str, str]) -> None:
    done = page.send(**changes)
    assert done.status_code == 403
    assert page.answers() == ()


def test_a_foreign_or_old_ticket_is_refused(page: Page) -> None:
    guessed = page.send(ticket="AAAAAAAAAAA")
    assert guessed.status_code == 403
    assert "not known here" in guessed.text
    gone = page.send(ticket=page.ticket(person="Somebody else"))
    assert gone.status_code == 403
    assert "off the list of people" in gone.text
    old = page.send(ticket=page.ticket(hours=-1.0))
    assert old.status_code == 403
    assert "open the link of your newest message" in old.text
    assert page.answers() == ()


def test_the_public_name_is_one_of_its_own(page: Page) -> None:
    done = page.send(host="frost.example", origin="https://frost.example")
    assert done.status_code == 200


def test_every_answer_is_kept_from_frames_scripts_and_stores(page: Page) -> None:
    for answer in (page.ask("/answer"), page.ask("/static/page.css"), page.send()):
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_the_health_is_for_this_machine_alone(page: Page) -> None:
    assert page.ask("/healthz").status_code == 200
    finding = Finding(light=Light.BAD, words="no sign of life for 3 h")
    page.health = Health(findings=(finding,))
    answer = page.ask("/healthz")
    assert answer.status_code == 503
    # Names and nights stand in them: a proxy that does not say that it is one passes.
    assert answer.json()["findings"] is None
    assert "readings-key" in answer.json()["why"]["findings"]
    key = f"Bearer {readings_key(page.key)}"
    told = page.ask("/healthz", Authorization=key).json()
    assert told["findings"] == ["no sign of life for 3 h"]
    assert page.ask("/healthz", Host="frost.example").status_code == 403


@pytest.mark.parametrize(
    "header", ["X-Forwarded-For", "X-Real-IP", "Forwarded", "Via", "X-Forwarded-Proto"]
)
def test_the_health_is_not_told_through_a_proxy(page: Page, header: str) -> None:
    assert page.ask("/healthz", **{header: "203.0.113.9"}).status_code == 403


@pytest.mark.parametrize(
    ("url", "names"),
    [
        ("https://x.example:443", ("x.example", "x.example:443")),
        ("https://x.example", ("x.example", "x.example:443")),
        ("https://x.example:8443", ("x.example:8443",)),
    ],
)
def test_the_port_that_browsers_leave_unsaid_is_known(
    tmp_path: Path, url: str, names: tuple[str, ...]
) -> None:
    page = Page(tmp_path, url)
    try:
        for name in names:
            done = page.send(host=name, origin=f"https://{name}")
            assert done.status_code == 200
        assert page.send(host="x.example:81").status_code == 403
    finally:
        page.close()
        page.store.database.close()


@pytest.mark.parametrize("proxy", ["takes the path off", "passes the path on"])
def test_a_public_address_may_have_a_path(tmp_path: Path, proxy: str) -> None:
    page = Page(tmp_path, "https://x.example/frost")
    before = "/frost" if proxy == "passes the path on" else ""
    named = {"Host": "x.example", "Origin": "https://x.example"}
    try:
        shown = page.ask(f"{before}/a/{page.ticket()}", **named)
        assert shown.status_code == 200
        # Every link that a browser follows or sends to lies below the path.
        links = re.findall(r'(?:action|href|src)="([^"#]+)', shown.text)
        assert links
        assert all(link.startswith("/frost/") for link in links)
        style = next(link for link in links if link.endswith(".css"))
        style = style if before else style.removeprefix("/frost")
        assert page.ask(style, **named).status_code == 200
        done = requests.request(
            "POST",
            f"{page.origin}{before}/answer",
            data={"ticket": page.ticket(), "choice": "acting"},
            headers=named,
            timeout=5,
        )
        assert done.status_code == 200
        assert len(page.answers()) == 1
    finally:
        page.close()
        page.store.database.close()


def test_an_origin_that_is_none_is_refused(page: Page) -> None:
    assert page.send(origin="http://[").status_code == 403


def test_clients_that_drip_their_requests_keep_nobody_out(tmp_path: Path) -> None:
    page = Page(tmp_path, connection_limit=12, channel_timeout=1, cleanup_interval=1)
    stop = threading.Event()
    dripping = [socket.create_connection(("127.0.0.1", page.port)) for _ in range(20)]

    def drip() -> None:
        while not stop.wait(0.2):
            for connection in dripping:
                with suppress(OSError):
                    connection.sendall(b"GET /a/x HTTP/1.1\r\nX: "[:1])

    thread = threading.Thread(target=drip, daemon=True)
    thread.start()
    try:
        end = time.monotonic() + 20.0
        while True:
            with suppress(requests.RequestException):
                if page.ask(f"/a/{page.ticket()}").status_code == 200:
                    break
            assert time.monotonic() < end, "they keep the page shut"
    finally:
        stop.set()
        thread.join(5)
        for connection in dripping:
            connection.close()
        page.close()
        page.store.database.close()


def test_an_answer_that_cannot_be_kept_is_not_confirmed(page: Page) -> None:
    class Broken(StateStore):
        def record_answer(self, answer: Answer) -> None:
            del answer
            message = "database or disk is full"
            raise StoreError(message)

    broken = replace(page.desk, answers=Broken(page.store.database))
    with build_page(broken).test_client() as client:
        done = client.post(
            "/answer",
            data={"ticket": page.ticket(), "choice": "acting"},
            headers={"Origin": page.origin, "Host": f"127.0.0.1:{page.port}"},
        )
    assert done.status_code == 503
    assert "could not be kept" in done.text


def test_a_flood_is_cut_short(page: Page) -> None:
    done = page.send(choice="x" * 100_000)
    assert done.status_code == 413


def post_reading(
    page: Page, key: str | None = None, kind: str | None = None, **given: Any
) -> requests.Response:
    bearer = readings_key(page.key) if key is None else key
    headers = {"Authorization": f"Bearer {bearer}"} if bearer else {}
    return requests.request(
        "POST",
        page.origin + "/reading",
        headers=headers | ({"Content-Type": kind} if kind else {}),
        timeout=5,
        **given,
    )


def post_json(page: Page, key: str | None = None, **content: Any) -> Any:
    body = {"sensor": "Post", "value": "28.4 degF"} | content
    return post_reading(page, key, json=body)


def test_a_thermometer_sends_its_reading(page: Page) -> None:
    done = post_json(page)
    assert (done.status_code, done.json()) == (
        201,
        {"kept": True, "problem": None, "unconfirmed": None},
    )
    [kept] = page.store.readings_since(NOW - timedelta(hours=1))
    assert (kept.sensor, kept.air_c, kept.at_utc) == ("Post", -2.0, NOW)
    again = post_json(page)
    assert (again.status_code, again.json()["kept"]) == (200, False)
    form = {"sensor": "Post", "value": "-1.5 degC", "time": "2026-04-12T14:50-07:00"}
    assert post_reading(page, data=form).status_code == 201


def test_without_the_key_nothing_is_kept(page: Page) -> None:
    for key in ("", "wrong", page.key.hex()):
        assert post_json(page, key).status_code == 401
    assert post_reading(page, "").status_code == 401
    assert page.store.readings_since(NOW - timedelta(hours=1)) == ()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ({"value": 28.4}, "as text, the value with its unit"),
        ({"value": "28.4"}, '"28.4" has no unit'),
        ({"value": None}, "as text"),
        ({"time": "noon"}, '"noon" is no time'),
        ({"time": "2026-04-12T21:28"}, "has no offset"),
        ({"time": "0001-01-01T00:00+00:00"}, "not of the last two days"),
        ({"time": "9999-12-31T23:59-10:00"}, "not of the last two days"),
        ({"sensor": "Pole"}, "there was no sensor"),
        ({"sensor": "\ud800"}, "there was no sensor"),
        ({"sensor": "P" * 900}, "there was no sensor"),
    ],
)
def test_what_cannot_be_read_is_told(
    page: Page, content: dict[str, Any], words: str
) -> None:
    done = post_json(page, **content)
    assert done.status_code == 400
    assert words in done.json()["problem"]
    assert page.store.readings_since(NOW - timedelta(hours=1)) == ()


def test_a_reading_that_is_not_believed_says_why(page: Page) -> None:
    assert "air is never as" in post_json(page, value="200 degF").json()["problem"]


def test_nesting_without_end_is_refused(page: Page) -> None:
    done = post_reading(page, kind="application/json", data="[" * 9000)
    assert done.status_code == 400


@pytest.mark.parametrize("path", ["/nothing", "/a/x/y", "/static/../page.py"])
def test_what_is_not_there_is_said_to_be_missing(page: Page, path: str) -> None:
    answer = page.ask(path, "GET")
    assert answer.status_code == 404
    assert b"Nothing was changed" in answer.content
