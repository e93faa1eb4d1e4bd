"""A holding whose service is started, killed, and looked into."""

import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from frostalert.errors import StoreError
from frostalert.store.backup import Condition, examine
from frostalert.store.open import FILE_NAME, open_beside
from tests.kill_loop.box import AskedOffice, ForgetfulBox
from tests.scenario.test_daemon import tonight_grid
from tests.scenario.test_daemon import wait_for as patiently
from tests.support.configs import config_text
from tests.support.servers import HttpServer, Reply, http_server, smtp_server

_LOOK_S = 0.01
_CALLS = "SELECT count(*) FROM decision d WHERE d.said IS NOT NULL"
_CALLS_WITHOUT = (
    "SELECT count(*) FROM decision d WHERE d.said IS NOT NULL AND NOT EXISTS ("
    "SELECT 1 FROM outbox_night n JOIN outbox o ON o.row_id = n.row_id "
    # One message tells of all the nights of a look, by the most urgent one's name.
    "WHERE n.night = d.night AND o.subject_kind IN ('outlook', 'prepare', 'act'))"
)


@dataclass(frozen=True)
class Place:
    """One folder with its configuration, and the servers around it."""

    folder: Path
    box: ForgetfulBox
    office: AskedOffice
    texts: HttpServer
    running: "list[subprocess.Popen[bytes]]" = field(default_factory=list)

    @property
    def file(self) -> Path:
        """The state's file."""
        return self.folder / "state" / FILE_NAME

    def start(self) -> None:
        """Start the service."""
        with (self.folder / "log").open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "frostalert", "run"],
                cwd=self.folder,
                env={**os.environ, "HOME": str(self.folder)},
                stdout=log,
                stderr=log,
            )
        self.running.append(process)

    def end(self, by: signal.Signals = signal.SIGKILL) -> None:
        """End the service: at once, if nothing else is asked for."""
        process = self.running.pop()
        process.send_signal(by)
        process.wait(60)

    def starts(self) -> int:
        """Return how often the service has begun its work so far."""
        log = self.folder / "log"
        return log.read_text().count("started on") if log.exists() else 0

    def is_sound(self) -> bool:
        """Return whether the state's file is whole."""
        return examine(self.file) is Condition.SOUND

    def calls_kept(self) -> int:
        """Return how many decisions are kept that tell somebody."""
        return self._ask(_CALLS)

    def calls_without_messages(self) -> int:
        """Return how many of them have nothing to tell it."""
        return self._ask(_CALLS_WITHOUT)

    def _ask(self, question: str) -> int:
        """Return what the state's file has, as somebody else sees it."""
        if not self.file.exists():
            return 0
        try:
            with closing(sqlite3.connect(f"file:{self.file}?mode=ro", uri=True)) as db:
                return int(db.execute(question).fetchone()[0])
        except sqlite3.OperationalError:
            # The service is just making it.
            return 0


@contextmanager
def a_place(folder: Path, chance: Random, *, freezes: bool) -> Iterator[Place]:
    """Yield a place with its servers; without a forecast, nothing is ever decided."""
    box, office = ForgetfulBox(chance), AskedOffice()
    office.grid = Reply(200, tonight_grid()) if freezes else Reply(404)
    folder.mkdir(parents=True, exist_ok=True)
    yesterday = datetime.now(UTC).date() - timedelta(days=1)  # noqa: TID251 - as the service's own
    with (
        http_server(office) as nws,
        http_server(lambda _: Reply(201, '{"id": "SM1"}')) as texts,
        smtp_server(box) as mail,
    ):
        text = config_text(
            smtp_port=mail.port,
            sms_url=texts.url,
            nws_url=nws.url,
            state=str(folder / "state"),
        )
        (folder / "frostalert.toml").write_text(
            text.replace("2026-04-10", str(yesterday))
        )
        place = Place(folder, box, office, texts)
        try:
            yield place
        finally:
            while place.running:
                place.end()


def make_state(place: Place) -> None:
    """Let the service start once and make its state."""
    place.start()

    def is_made() -> bool:
        try:
            open_beside(place.file.parent).database.close()
        except StoreError:
            return False
        return True

    wait_for(is_made, "a state")
    place.end(signal.SIGTERM)


def wait_for(what: Callable[[], bool], described: str) -> None:
    """Wait until something is so, and see it within a hundredth of a second."""
    patiently(what, described, every_s=_LOOK_S)
