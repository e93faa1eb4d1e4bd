"""The service's jobs under a stepped clock: fetching, looking, telling, reloading."""

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from frostalert import service
from frostalert.app import build_parts, jobs
from frostalert.clock import CheckedClock
from frostalert.config.accepted import AcceptedConfig
from frostalert.cycle.cycle import CycleResult, redecide
from frostalert.health import read_health
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import OutboxRow, Subject
from frostalert.model.settings import Settings
from frostalert.ports import Fetched, SourceMemory
from frostalert.service import Parts, Service
from frostalert.store.open import open_store
from frostalert.transport import HttpSession
from frostalert.watchman import Watchman
from tests.adapters.test_nws import Office
from tests.support.configs import config_text
from tests.support.grids import frosty_hours, grid_text
from tests.support.servers import HttpServer, Reply, http_server

MORNING = datetime(2026, 4, 12, 13, 0, tzinfo=UTC)  # 06:00 local
WARM = frosty_hours(low_c=9.0, high_c=20.0)


class SteppedClock:
    """A wall clock that moves when it is told."""

    def __init__(self, moment_utc: datetime) -> None:
        self.moment_utc = moment_utc

    def now_utc(self) -> datetime:
        return self.moment_utc

    def step(self, **by: float) -> None:
        self.moment_utc += timedelta(**by)


class Place:
    """A service with an office to ask and a clock to step."""

    def __init__(self, folder: Path, office: Office, server: HttpServer) -> None:
        self.office = office
        self.server = server
        self.path = folder / "orchard.toml"
        self.path.write_text(config_text(nws_url=server.url, state=str(folder)))
        self.clock = SteppedClock(MORNING)
        self.config = AcceptedConfig(self.path, folder)
        self.store = open_store(folder)
        self.service = Service(self.config, self.store, self.clock, build=build_parts)
        self.watchman = Watchman(
            self.store,
            self.clock,
            lambda: self.service.settings,
            HttpSession("frostalert/test", deadline_s=5.0),
        )

    def forecast(self, **changes: object) -> None:
        updated = self.clock.moment_utc - timedelta(minutes=5)
        body = grid_text(updated=updated, **changes)
        self.office.grid = Reply(200, body)

    def queued(self) -> list[OutboxRow]:
        return self.store.unsent(self.clock.moment_utc, is_forced=True)

    def kinds(self) -> list[str]:
        return [row.message.subject_kind.value for row in self.queued()]

    def asked(self) -> int:
        return sum("gridpoints" in seen.path for seen in self.server.seen)


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    office = Office()
    with http_server(office) as server:
        made = Place(tmp_path, office, server)
        yield made
        made.store.database.close()


def test_it_fetches_hourly_and_sooner_after_trouble(place: Place) -> None:
    place.forecast(air_c=WARM)
    place.service.fetch()
    place.clock.step(minutes=59)
    place.service.fetch()
    assert place.asked() == 1
    place.clock.step(minutes=1)
    place.office.grid = Reply(404)
    place.office.points = Reply(404)
    place.service.fetch()
    before = len(place.server.seen)
    place.clock.step(minutes=10)
    place.service.fetch()
    assert len(place.server.seen) > before


def test_a_backward_step_of_the_clock_stops_nothing(place: Place) -> None:
    place.forecast(air_c=WARM)
    place.service.fetch()
    place.clock.step(days=-2)
    place.service.fetch()
    assert place.asked() == 2


def test_it_looks_again_at_the_send_by_time_without_fetching(place: Place) -> None:
    place.clock.step(hours=9)  # 15:00 local; the send-by time is 15:40
    place.forecast()
    place.service.fetch()
    assert set(place.kinds()) == {"outlook"}
    place.clock.step(minutes=30)
    place.service.look()
    assert "prepare" not in place.kinds()
    place.clock.step(minutes=11)
    place.service.look()
    assert "prepare" in place.kinds()
    assert place.asked() == 1


def test_nothing_is_said_before_the_first_fetch_has_ended(place: Place) -> None:
    place.service.look()
    assert place.queued() == []


def test_without_any_forecast_people_hear_that_nothing_can_be_judged(
    place: Place,
) -> None:
    place.office.grid = Reply(404)
    place.office.points = Reply(404)
    place.service.fetch()
    assert "cannot-judge" in place.kinds()


def test_a_source_that_stays_away_is_told_after_three_hours(place: Place) -> None:
    place.forecast(air_c=WARM)
    place.service.fetch()
    place.office.grid = Reply(404)
    place.office.points = Reply(404)
    for _ in range(20):
        place.clock.step(minutes=10)
        place.service.fetch()
    assert "operator" not in place.kinds()
    for _ in range(10):
        place.clock.step(minutes=10)
        place.service.fetch()
    assert place.kinds().count("operator") == 2  # one a person


def told(place: Place) -> list[str]:
    """What operators are told, in one line each."""
    return [
        " ".join(row.message.text.split())
        for row in place.queued()
        if row.message.subject_kind is Subject.OPERATOR
    ]


def test_a_source_that_repeats_its_forecast_is_told_at_nine_hours(place: Place) -> None:
    place.forecast(air_c=WARM)
    for _ in range(9):
        place.service.fetch()
        assert told(place) == []
        place.clock.step(hours=1)
    place.service.fetch()
    assert any("for 9 h, though it answers" in words for words in told(place))
    health = read_health(place.service.settings, place.path.parent)
    assert any("frozen-nws" in line for line in health.lines)
    place.forecast(air_c=WARM)
    place.clock.step(hours=1)
    place.service.fetch()
    assert "frozen-nws" not in place.store.open_faults()


def test_a_doubtful_answer_is_seen_at_once_and_told_if_the_next_is_no_better(
    place: Place,
) -> None:
    odd: list[float | None] = [*WARM[:50], -40.0, *WARM[51:]]
    place.forecast(air_c=odd)
    place.service.fetch()
    assert "more than 12 C" in place.store.open_faults()["doubt-nws"].detail
    assert told(place) == []
    place.clock.step(hours=1)
    place.forecast(air_c=odd)
    place.service.fetch()
    assert any("1 hour left out, more than 12 C" in words for words in told(place))


def test_degf_under_degc_is_refused_and_told_and_the_last_good_forecast_counts(
    place: Place,
) -> None:
    place.clock.step(hours=9)
    place.forecast()
    place.service.fetch()
    good = place.store.newest_run_utc(place.clock.now_utc())
    lied = [None if v is None else v * 1.8 + 32.0 for v in frosty_hours()]
    for _ in range(4):
        place.clock.step(hours=1)
        place.forecast(air_c=lied)
        place.service.fetch()
    assert place.store.newest_run_utc(place.clock.now_utc()) == good
    assert any("are they degF?" in words for words in told(place))


class BrokenSource:
    """A source with a defect of its own."""

    name = "nws"

    def fetch(self, memory: SourceMemory, now_utc: datetime) -> Fetched:
        raise ZeroDivisionError


def test_fetching_that_breaks_is_told_and_decided_on(place: Place) -> None:
    def build(settings: Settings) -> Parts:
        return Parts(settings=settings, sources=[BrokenSource()], notifiers={})

    Service(place.config, place.store, place.clock, build=build).fetch()
    assert "cannot-judge" in place.kinds()
    assert "operator" in place.kinds()


def test_the_daily_line_calls_nothing_quiet_on_an_old_forecast(place: Place) -> None:
    place.clock.step(hours=25)  # 07:00 local
    air = frosty_hours(low_c=9.0, high_c=20.0, hours=120)
    made = place.clock.moment_utc - timedelta(hours=15)
    place.office.grid = Reply(200, grid_text(air_c=air, updated=made))
    place.service.fetch()
    place.service.daily_line()
    lines = [
        row.message
        for row in place.queued()
        if row.message.subject_kind is Subject.DAILY_LINE
    ]
    assert {line.channel.value for line in lines} == {"email", "sms"}
    for line in lines:
        assert "frost risk unknown" in f"{line.subject} {line.text}".lower()
        assert "quiet" not in f"{line.subject} {line.text}".lower()
        assert "not an all-clear" in " ".join(line.text.split()).lower()


def test_the_daily_line_comes_once_a_day_at_its_hour(place: Place) -> None:
    place.forecast(air_c=WARM)
    place.service.fetch()
    place.service.daily_line()
    assert place.kinds() == []
    place.clock.step(hours=1)  # 07:00 local
    for _ in range(3):
        place.service.daily_line()
        place.clock.step(minutes=20)
    assert place.kinds() == ["daily-line", "daily-line"]  # one a person
    place.clock.step(hours=23)
    place.service.daily_line()
    assert place.kinds().count("daily-line") == 4


def test_a_daily_line_hours_late_is_left_out(place: Place) -> None:
    place.forecast(air_c=WARM)
    place.service.fetch()
    place.clock.step(hours=5)
    place.service.daily_line()
    assert place.kinds() == []


def test_a_changed_place_is_not_judged_by_the_old_forecast(place: Place) -> None:
    place.forecast(air_c=WARM)
    place.service.fetch()
    text = place.path.read_text().replace("46.2205", "44.1").replace("410 ft", "99 ft")
    place.path.write_text(text)
    place.service.reload()
    asked = len(place.server.seen)
    place.service.fetch()
    assert len(place.server.seen) > asked
    assert "cannot-judge" in place.kinds()


def test_a_broken_edit_is_told_at_once_and_the_old_one_stays(place: Place) -> None:
    place.forecast(air_c=WARM)
    place.service.fetch()
    place.path.write_text("[site\n")
    place.service.reload()
    rows = [r for r in place.queued() if r.message.subject_kind == "operator"]
    assert len(rows) == 2
    assert "the last accepted one stays in force" in " ".join(
        rows[0].message.text.split()
    )
    place.service.reload()
    assert place.kinds().count("operator") == 2


def test_a_message_that_cannot_be_sent_is_told(place: Place) -> None:
    place.clock.step(hours=12)
    place.forecast()
    place.service.fetch()
    for _ in range(3):
        for channel in ChannelKind:
            place.service.relay(channel)  # nothing listens on these ports
        place.clock.step(minutes=2)
    place.service.look()
    place.clock.step(hours=1)
    place.service.fetch()
    operator = [r for r in place.queued() if r.message.subject_kind == "operator"]
    assert operator
    words = operator[0].message.text.replace("\n", " ")
    assert "may not have arrived" in words
    # That mail is broken must not be told by mail alone.
    assert {row.message.channel for row in operator} == set(ChannelKind)


@pytest.mark.parametrize(
    "name", ["fetch", "look", "relay email", "relay sms", "daily line", "config"]
)
def test_every_job_is_named_and_short(place: Place, name: str) -> None:
    listed = {
        job.name: job for job in jobs(place.service, place.watchman, CheckedClock())
    }
    assert listed[name].every <= timedelta(seconds=60)
    run: Callable[[], object] = listed[name].run
    assert callable(run)


def test_deciding_that_breaks_off_is_told_and_tried_again(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    place.forecast()
    real = redecide

    def broken(*_: object, **__: object) -> None:
        message = "a defect"
        raise RuntimeError(message)

    monkeypatch.setattr(service, "redecide", broken)
    with pytest.raises(RuntimeError):
        place.service.fetch()
    assert set(place.kinds()) == {"operator"}
    assert "warnings may not come" in " ".join(place.queued()[0].message.text.split())
    told = len(place.queued())
    with pytest.raises(RuntimeError):
        place.service.look()
    assert len(place.queued()) == told
    monkeypatch.setattr(service, "redecide", real)
    # No hour is waited for: the very next look decides.
    place.service.look()
    assert "act" in place.kinds()


def test_the_status_page_is_written_after_every_decision(
    place: Place, tmp_path: Path
) -> None:
    folder = tmp_path / "status"
    text = place.path.read_text() + f'\n[status]\ndirectory = "{folder}"\n'
    place.path.write_text(text)
    place.clock.step(hours=9)
    place.service.reload()
    place.forecast()
    place.service.fetch()
    names = {path.name for path in folder.iterdir()}
    assert names == {
        "index.html",
        "status.json",
        "metrics.txt",
        "status.css",
        "light.svg",
        "night.png",
    }
    data = json.loads((folder / "status.json").read_text())
    assert data["nights"][0]["tier"] == "outlook"
    assert data["health"]["light"] in ("good", "look", "bad")
    metrics = (folder / "metrics.txt").read_text()
    assert "frostalert_tonight_tier 1\n" in metrics
    assert metrics.endswith("# EOF\n")
    assert "Ines by email" in (folder / "index.html").read_text()
    written = (folder / "index.html").read_bytes()
    place.clock.step(hours=1)
    place.forecast()
    place.service.fetch()
    assert (folder / "index.html").read_bytes() != written


def test_a_page_that_cannot_be_written_stops_no_warning(
    place: Place, tmp_path: Path
) -> None:
    (tmp_path / "taken").write_text("a file, no folder")
    text = place.path.read_text() + f'\n[status]\ndirectory = "{tmp_path}/taken"\n'
    place.path.write_text(text)
    place.clock.step(hours=9)
    place.service.reload()
    place.forecast()
    place.service.fetch()
    assert "outlook" in place.kinds()
    place.service.look()
    assert "operator" in place.kinds()


def test_an_edit_in_the_middle_of_a_decision_waits_for_the_next(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    place.clock.step(hours=9)
    place.forecast()
    seen: list[tuple[int, int]] = []

    def edited(*given: Any, **named: Any) -> CycleResult:
        result = redecide(*given, **named)
        text = place.path.read_text()
        block = text[text.index("[[blocks]]") : text.index("[[people]]")]
        more = block.replace("Apricots by the lane", "Apricots by the gate")
        place.path.write_text(text + "\n" + more)
        place.service._take_up()
        return result

    def noted(settings: Settings, _: object, result: CycleResult, *__: object) -> Any:
        seen.append((len(settings.farm.blocks), len(result.nights.farm.blocks)))
        return {}

    monkeypatch.setattr(service, "redecide", edited)
    monkeypatch.setattr(service, "write_status", noted)
    place.service.fetch()
    assert seen == [(1, 1)]
    monkeypatch.setattr(service, "redecide", redecide)
    place.service.look()
    assert seen == [(1, 1), (2, 2)]
