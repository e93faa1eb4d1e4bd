"""Signs of life, the outside watcher, the gap, the health: on real state."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from frostalert.app import build_parts
from frostalert.clock import Unquestioned
from frostalert.config.accepted import AcceptedConfig
from frostalert.cycle.health import Light
from frostalert.health import read_health
from frostalert.service import Service
from frostalert.store.backup import FOLDER
from frostalert.store.steady import FailoverStore
from frostalert.transport import HttpSession
from frostalert.watchman import Watchman
from tests.adapters.test_nws import Office
from tests.scenario.test_service import MORNING, WARM, SteppedClock
from tests.store.test_steady import fill_up
from tests.store.test_store import message
from tests.support.configs import config_text
from tests.support.grids import grid_text
from tests.support.servers import HttpServer, Reply, http_server


@dataclass
class Kept(Unquestioned):
    """What is known of the machine's clock, as a test has it."""

    problem: str | None = None
    is_settled: bool = True
    at_s: float = 1000.0

    def ticks_s(self) -> float:
        return self.at_s


class Watched:
    """A service, the one who looks after it, and an outside watcher."""

    def __init__(self, folder: Path, office: Office, nws: HttpServer) -> None:
        self.folder = folder
        self.office = office
        self.pings: list[tuple[str, str]] = []
        self.answer = Reply(200)
        self.clock = SteppedClock(MORNING)
        self.failing: dict[str, int] = {}
        self.keeper = Kept()
        self.nws = nws

    def take_ping(self, seen: object) -> Reply:
        path, body = seen.path, seen.body  # type: ignore[attr-defined]
        self.pings.append((path, body))
        return self.answer

    def start(self, watcher: str) -> None:
        path = self.folder / "orchard.toml"
        state = self.folder / "state"
        more = (
            f'[watcher]\nurl = "{watcher}/ok"\nfail_url = "{watcher}/bad"\n'
            if watcher
            else ""
        )
        text = config_text(nws_url=self.nws.url, state=str(state), more=more)
        path.write_text(text)
        self.store = FailoverStore(state, self.clock.now_utc())
        config = AcceptedConfig(path, state)
        self.service = Service(config, self.store, self.clock, build=build_parts)
        self.watchman = Watchman(
            self.store,
            self.clock,
            lambda: self.service.settings,
            HttpSession("frostalert/test", deadline_s=2.0),
            failing=lambda: self.failing,
            keeper=self.keeper,
        )
        self.service.ask_for_faults(self.watchman.faults)
        self.watchman.beat()

    def cycle(self) -> None:
        """One complete healthy cycle: a new forecast, and everything sent."""
        updated = self.clock.moment_utc - timedelta(minutes=5)
        body = grid_text(updated=updated, air_c=WARM)
        self.office.grid = Reply(200, body)
        self.service.clock_moved()
        self.service.fetch()
        self.watchman.beat()

    def paths(self) -> list[str]:
        return [path for path, _ in self.pings]

    def operator_texts(self) -> str:
        rows = self.store.unsent(self.clock.now_utc(), is_forced=True)
        return " ".join(
            " ".join(row.message.text.split())
            for row in rows
            if row.message.subject_kind == "operator"
        )


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Watched]:
    office = Office()
    with http_server(office) as nws:
        made = Watched(tmp_path, office, nws)
        with http_server(made.take_ping) as outside:
            made.start(outside.url)
            yield made
            made.store.database.close()


def test_one_ping_for_each_complete_healthy_cycle(watched: Watched) -> None:
    watched.watchman.ping()
    assert "/ok" not in watched.paths()  # nothing was decided yet
    watched.pings.clear()
    watched.cycle()
    for _ in range(5):
        watched.watchman.ping()
    assert watched.paths() == ["/ok"]
    watched.clock.step(hours=1)
    watched.cycle()
    watched.watchman.ping()
    assert watched.paths() == ["/ok", "/ok"]


def test_a_watcher_that_fails_is_asked_again_and_never_counts(watched: Watched) -> None:
    watched.cycle()
    watched.answer = Reply(500)
    watched.watchman.ping()
    watched.watchman.ping()
    watched.answer = Reply(200)
    watched.watchman.ping()
    watched.watchman.ping()
    assert watched.paths() == ["/ok"] * 3


def old_forecast(watched: Watched) -> None:
    watched.clock.step(hours=30)
    watched.service.look()
    watched.watchman.beat()


def overdue_message(watched: Watched) -> None:
    watched.store.queue([message()], watched.clock.now_utc())
    watched.clock.step(minutes=20)
    watched.watchman.beat()


def wrong_clock(watched: Watched) -> None:
    watched.keeper.problem = "this machine's clock is 90 min behind"
    watched.service.look()


def failing_job(watched: Watched) -> None:
    watched.failing = {"fetch": 3}
    watched.service.look()


def full_disk(watched: Watched) -> None:
    fill_up(watched.store)
    watched.store.queue([message("big", text="t" * 60_000)], MORNING)
    watched.service.look()


@pytest.mark.parametrize(
    ("harm", "reason"),
    [
        (old_forecast, "the newest forecast is 30 h old"),
        (overdue_message, "a message has waited 20 min"),
        (wrong_clock, "90 min behind"),
        (failing_job, "failed 3 times in a row"),
        (full_disk, "it goes on in memory"),
    ],
)
def test_no_ping_but_a_failure_with_its_reason(
    watched: Watched, harm: Callable[[Watched], None], reason: str
) -> None:
    watched.cycle()
    harm(watched)
    for _ in range(3):
        watched.watchman.ping()
    assert watched.paths() == ["/bad"]
    assert reason in watched.pings[0][1]
    assert watched.watchman.health().light is Light.BAD
    watched.clock.step(minutes=15)
    watched.watchman.ping()
    assert watched.paths() == ["/bad", "/bad"]


def test_a_fault_of_the_service_is_told_at_once_and_once(watched: Watched) -> None:
    watched.cycle()
    full_disk(watched)
    for _ in range(5):
        watched.service.look()
        watched.clock.step(minutes=1)
    assert watched.operator_texts().count("warnings still go out") == 2  # two people
    # Space again: it comes back by itself, with everything that was queued.
    assert watched.store.trouble is not None
    watched.watchman.beat()
    assert not watched.store.trouble
    assert "warnings still go out" in watched.operator_texts()


def test_in_season_nobody_watching_is_bad(tmp_path: Path) -> None:
    office = Office()
    with http_server(office) as nws:
        made = Watched(tmp_path, office, nws)
        made.start("")
        made.cycle()
        health = made.watchman.health()
        assert health.light is Light.BAD
        assert "set [watcher]" in health.line
        path = made.folder / "orchard.toml"
        path.write_text(path.read_text().replace("full bloom", "dormant"))
        made.service.reload()
        assert made.watchman.health().light is Light.GOOD
        made.store.database.close()


def test_hours_without_the_service_are_told_and_not_taken_for_good_news(
    watched: Watched,
) -> None:
    watched.cycle()
    watched.store.database.close()
    watched.clock.step(hours=9)
    watched.start("")
    text = watched.operator_texts()
    assert "was not running from" in text
    assert "these hours were not watched" in text
    watched.watchman.beat()
    assert watched.operator_texts() == text


def test_a_short_restart_is_not_told(watched: Watched) -> None:
    watched.cycle()
    watched.store.database.close()
    watched.clock.step(minutes=25)
    watched.start("")
    assert watched.operator_texts() == ""


def test_a_clock_that_is_set_right_makes_no_gap(watched: Watched) -> None:
    watched.cycle()
    watched.store.database.close()
    # Half an hour off, and up again with the clock five hours behind.
    watched.clock.step(hours=-4, minutes=-30)
    watched.keeper.is_settled = False
    watched.start("")
    watched.watchman.beat()
    watched.clock.step(hours=5)
    watched.keeper.is_settled = True
    watched.watchman.beat()
    assert watched.operator_texts() == ""


def test_a_clock_that_is_moved_while_it_runs_makes_no_gap(watched: Watched) -> None:
    watched.cycle()
    watched.clock.step(hours=12)
    watched.watchman.beat()
    watched.clock.step(hours=-12)
    watched.watchman.beat()
    assert watched.operator_texts() == ""


def test_a_machine_that_slept_says_so(watched: Watched) -> None:
    watched.cycle()
    watched.clock.step(hours=6)
    watched.keeper.at_s += 6 * 3600.0
    watched.watchman.beat()
    assert "was not running from" in watched.operator_texts()


def test_signs_of_life_are_rare_writes(watched: Watched) -> None:
    marks = []
    for _ in range(20):
        watched.watchman.beat()
        marks.append(watched.store.read_mark("alive"))
        watched.clock.step(seconds=30)
    assert len(set(marks)) == 2  # one in five minutes


def test_the_daily_copy_is_made_once(watched: Watched) -> None:
    for _ in range(4):
        watched.watchman.back_up()
        watched.clock.step(hours=1)
    assert len(list((watched.folder / "state" / FOLDER).iterdir())) == 1
    (watched.folder / "state" / FOLDER / "x").mkdir()
    watched.clock.step(days=1)
    watched.watchman.back_up()
    assert "backup" not in watched.watchman.faults()


def test_the_weekly_proof_names_who_was_reached(watched: Watched) -> None:
    watched.cycle()
    monday = datetime(2026, 4, 13, 14, 5, tzinfo=MORNING.tzinfo)  # 07:05 local
    watched.clock.moment_utc = monday - timedelta(hours=1)
    watched.service.weekly()
    watched.clock.moment_utc = monday
    for _ in range(3):
        watched.service.weekly()
    rows = [
        row
        for row in watched.store.unsent(monday, is_forced=True)
        if row.message.subject_kind == "weekly"
    ]
    assert {row.message.person for row in rows} == {"Ines", "Tobias"}
    mail = next(row.message for row in rows if row.message.channel == "email")
    assert "Ines, email: NEVER reached" in mail.text
    text = next(row.message for row in rows if row.message.channel == "sms")
    assert "Weekly check" in text.text


def test_health_finds_the_same_from_outside(watched: Watched) -> None:
    watched.cycle()
    settings = replace(watched.service.settings)
    # Nobody holds the lock of this state: from outside it is not running.
    found = read_health(settings, watched.folder / "state")
    assert found.light is Light.BAD
    assert found.line.startswith("bad: frostalert run is not running")


def test_an_old_forecast_is_told_though_the_service_answers(watched: Watched) -> None:
    watched.cycle()
    watched.clock.step(hours=13)
    assert "forecast-old" not in watched.watchman.faults()
    watched.clock.step(hours=2)
    watched.service.look()
    assert "No new forecast since" in watched.operator_texts()
    assert "check another forecast and a thermometer" in watched.operator_texts()


def test_a_state_on_a_network_share_is_remarked(
    watched: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    watched.cycle()
    assert watched.watchman.health().light is Light.GOOD
    monkeypatch.setattr("frostalert.watchman.share_of", lambda _: "nfs4")
    health = watched.watchman.health()
    assert health.light is Light.LOOK
    assert "the state lies on a network share (nfs4)" in health.line
