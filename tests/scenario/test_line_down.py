"""The home's internet line is down for hours on a frost evening: source, mail, texts.

Everything outside is reached over lines that can be cut, on real sockets.
"""

import socket
import threading
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from datetime import timedelta
from pathlib import Path

import pytest

from frostalert import app
from frostalert.app import build_desk, build_parts, jobs
from frostalert.clock import CLOCK_OFF, SystemClock, Unquestioned
from frostalert.config.accepted import AcceptedConfig
from frostalert.cycle.answer_links import TicketLinks
from frostalert.cycle.health import Light
from frostalert.model.settings import Settings
from frostalert.schedule import Job
from frostalert.service import Parts, Service
from frostalert.store.key import make_key
from frostalert.store.steady import FailoverStore
from frostalert.transport import HttpSession
from frostalert.watchman import Watchman
from frostalert.web.page import build_page
from tests.adapters.test_nws import Office
from tests.scenario.test_service import MORNING, SteppedClock
from tests.support.configs import config_text
from tests.support.grids import grid_text
from tests.support.servers import (
    MailBox,
    Reply,
    Seen,
    free_port,
    http_server,
    smtp_server,
)

LOCAL = timedelta(hours=-7)
STEP = timedelta(minutes=5)
PUBLIC = "http://192.168.1.20:8437"


class Line:
    """A port that leads to a server as long as the line is up."""

    def __init__(self, target: int) -> None:
        self._target = target
        self.port = free_port()
        self._listener: socket.socket | None = None
        self.mend()

    def cut(self) -> None:
        """From now on nobody is there."""
        if self._listener is not None:
            with suppress(OSError):
                self._listener.shutdown(socket.SHUT_RDWR)
            self._listener.close()
            self._listener = None

    def mend(self) -> None:
        """From now on the server is there again."""
        self._listener = socket.create_server(("127.0.0.1", self.port))
        threading.Thread(
            target=self._accept, args=(self._listener,), daemon=True
        ).start()

    def _accept(self, listener: socket.socket) -> None:
        while True:
            try:
                near, _ = listener.accept()
            except OSError:
                return
            far = socket.create_connection(("127.0.0.1", self._target))
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=_pass, args=(one, other), daemon=True).start()


def _pass(one: socket.socket, other: socket.socket) -> None:
    """Pass on what comes until either end is closed."""
    with suppress(OSError):
        while piece := one.recv(65536):
            other.sendall(piece)
    for end in (one, other):
        with suppress(OSError):
            end.shutdown(socket.SHUT_RDWR)
    one.close()


class Home:
    """A farm's house on a frost evening, and what lies outside it."""

    def __init__(self, folder: Path, stack: ExitStack) -> None:
        self.clock = SteppedClock(MORNING + timedelta(hours=7))
        self.office, self.box = Office(), MailBox()
        self.texts: list[str] = []
        self.pings: list[str] = []
        nws = stack.enter_context(http_server(self.office))
        sms = stack.enter_context(http_server(self._take_text))
        watcher = stack.enter_context(http_server(self._take_ping))
        mail = stack.enter_context(smtp_server(self.box))
        ports = [int(s.url.rpartition(":")[2]) for s in (nws, sms, watcher)]
        self.lines = [Line(port) for port in (*ports, mail.port)]
        urls = [f"http://127.0.0.1:{line.port}" for line in self.lines]
        self.status = folder / "status"
        more = (
            f'\n[watcher]\nurl = "{urls[2]}/ok"\nfail_url = "{urls[2]}/bad"\n'
            f'\n[status]\ndirectory = "{self.status}"\n'
            f'\n[web]\npublic_url = "{PUBLIC}"\nport = 8437\n'
        )
        path = folder / "orchard.toml"
        path.write_text(
            config_text(
                smtp_port=self.lines[3].port,
                sms_url=urls[1],
                nws_url=urls[0],
                state=str(folder / "state"),
                more=more,
            )
        )
        self.state = folder / "state"
        self.store = FailoverStore(self.state, self.clock.now_utc())
        self.config = AcceptedConfig(path, self.state)
        self.service = Service(
            self.config,
            self.store,
            self.clock,
            build=self._parts,
            links=self._links,
        )
        self.watchman = Watchman(
            self.store,
            self.clock,
            lambda: self.service.settings,
            HttpSession("frostalert/test", deadline_s=5.0),
        )
        self.service.ask_for_faults(self.watchman.faults)
        self.work: list[Job] = jobs(self.service, self.watchman, Unquestioned())

    def _parts(self, settings: Settings) -> Parts:
        return build_parts(settings)

    def _links(self, settings: Settings) -> TicketLinks:
        assert settings.web is not None
        key = make_key(self.state)
        return TicketLinks(key=key, public_url=settings.web.public_url, book=self.store)

    def _take_text(self, seen: Seen) -> Reply:
        self.texts.append(seen.body)
        return Reply(201, '{"id": "SM1"}')

    def _take_ping(self, seen: Seen) -> Reply:
        self.pings.append(seen.path)
        return Reply(200)

    def pass_to(self, hour: float) -> None:
        """Let time go by until a local hour of the day."""
        while True:
            local = self.clock.now_utc() + LOCAL
            if local.hour + local.minute / 60.0 >= hour:
                return
            for job in self.work:
                job.run()
            self.clock.step(minutes=STEP.total_seconds() / 60.0)

    def forecast(self) -> None:
        updated = self.clock.now_utc() - timedelta(minutes=5)
        self.office.grid = Reply(200, grid_text(updated=updated))

    def page(self) -> str:
        return (self.status / "index.html").read_text()

    def subjects(self) -> list[str]:
        return [str(mail["Subject"]) for mail in self.box.mails]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Home]:
    # A refused connection is tried again in earnest by the service: not here, by sleep.
    def quick(settings: Settings, on_date: object = None) -> HttpSession:
        del settings, on_date
        return HttpSession("frostalert/test", deadline_s=5.0, sleep=lambda _: None)

    monkeypatch.setattr(app, "build_session", quick)
    with ExitStack() as stack:
        made = Home(tmp_path, stack)
        yield made
        for line in made.lines:
            line.cut()
        made.store.database.close()


def test_an_evening_without_the_line(home: Home) -> None:
    home.forecast()
    home.pass_to(15.0)
    outside = (len(home.box.mails), len(home.texts), len(home.pings))
    assert all(outside)
    for line in home.lines:
        line.cut()
    home.pass_to(20.0)
    # Nothing got out, and the watcher outside learns of it by silence.
    assert (len(home.box.mails), len(home.texts), len(home.pings)) == outside
    check_what_is_shown(home)
    answer_in_the_house(home)
    for line in home.lines:
        line.mend()
    home.forecast()
    home.pass_to(21.5)
    check_what_came(home, *outside)


def check_what_is_shown(home: Home) -> None:
    """The page on the home network names the night, and what is wrong."""
    shown = " ".join(home.page().split())
    assert "Apricots by the lane" in shown
    assert "the internet line seems to be down" in shown
    assert home.watchman.health().light is Light.BAD


def answer_in_the_house(home: Home) -> None:
    """Ines says by the page that she acts; her mail still waits."""
    rows = home.store.unsent(home.clock.now_utc(), is_forced=True)
    warned = [r for r in rows if r.message.subject_kind.value in ("prepare", "act")]
    assert {row.message.person for row in warned} == {"Ines", "Tobias"}
    mail = next(r.message for r in warned if r.message.person == "Ines")
    token = mail.text.partition(f"{PUBLIC}/a/")[2].split()[0]
    off = home.clock.now_utc() - SystemClock().now_utc()
    home.store.write_mark(CLOCK_OFF, str(off.total_seconds()))
    desk = build_desk(lambda: home.config.settings, home.state)
    with build_page(desk).test_client() as client:
        named = {"Host": "192.168.1.20:8437", "Origin": PUBLIC}
        assert client.get(f"/a/{token}", headers=named).status_code == 200
        form = {"ticket": token, "choice": "acting"}
        assert client.post("/answer", data=form, headers=named).status_code == 200


def check_what_came(home: Home, mails: int, texts: int, pings: int) -> None:
    """The warning comes first and says that it is late; nothing stale comes after."""
    came = home.subjects()[mails:]
    assert "late) Get ready now: frost" in came[0]
    assert not any("did not get" in subject for subject in came)
    assert not any("line seems to be down" in subject for subject in came)
    assert "late%29+FROST" in home.texts[texts]
    assert len(home.pings) > pings
    assert home.pings[-1] == "/ok"
    assert home.store.unsent(home.clock.now_utc(), is_forced=False) == []
    assert "the internet line seems to be down" not in home.page()


def test_each_line_down_alone_is_not_taken_for_the_whole(home: Home) -> None:
    home.forecast()
    home.pass_to(15.0)
    home.lines[1].cut()
    home.lines[3].cut()
    home.pass_to(17.0)
    assert "the internet line seems to be down" not in home.page()
    assert "may not have arrived" in home.page()
