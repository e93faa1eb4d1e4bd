"""In the morning after a frost every mouth speaks of the night to come."""

import json
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from typer.testing import CliRunner

from frostalert.app import build_parts
from frostalert.cli.main import app
from frostalert.config.accepted import AcceptedConfig
from frostalert.errors import UsageError
from frostalert.model.alarm import AnswerKind
from frostalert.model.assessment import Tier
from frostalert.service import Service
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.adapters.test_nws import Office
from tests.scenario.test_service import SteppedClock
from tests.support.configs import config_text
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.servers import Reply, http_server

SUNDAY, MONDAY = date(2026, 4, 12), date(2026, 4, 13)
NOON = datetime(2026, 4, 13, 19, tzinfo=UTC)
OPEN, ENDED = NOON - timedelta(minutes=80), NOON - timedelta(minutes=50)
"""Twenty to eleven, when water may not stop yet, and half an hour later."""


class Morning:
    """A service that has lived through a frosty night; another one is to come."""

    def __init__(self, folder: Path, office: Office, url: str, now: datetime) -> None:
        self.folder, self.office, self.now = folder, office, now
        self.path = folder / "frostalert.toml"
        more = f'\n[status]\ndirectory = "{folder / "page"}"\n'
        self.path.write_text(config_text(nws_url=url, state=str(folder), more=more))
        self.clock = SteppedClock(now - timedelta(hours=20))
        self.store: StateStore = open_store(folder)
        config = AcceptedConfig(self.path, folder)
        self.service = Service(config, self.store, self.clock, build=build_parts)
        while self.clock.moment_utc <= now:
            self.forecast()
            self.service.fetch()
            self.service.look()
            self.clock.step(minutes=30)
        self.clock.moment_utc = now

    def forecast(self) -> None:
        body = grid_text(
            air_c=frosty_hours(low_c=-4.0, hours=96),
            first=FIRST,
            updated=self.clock.moment_utc - timedelta(minutes=5),
            wind_kmh=1.8,
        )
        self.office.grid = Reply(200, body)

    def called(self, *arguments: str) -> Any:
        with time_machine.travel(self.now, tick=False):
            return CliRunner().invoke(app, [*arguments, "--config", str(self.path)])

    def says(self, *arguments: str) -> str:
        done = self.called(*arguments)
        assert done.exit_code == 0, done.output
        return str(done.output)

    def document(self, *arguments: str) -> dict[str, Any]:
        text = self.says(*arguments, "--json")
        made: dict[str, Any] = json.loads(text[text.index("{") :])
        return made


def lived(factory: pytest.TempPathFactory, now: datetime) -> Iterator[Morning]:
    office = Office()
    with http_server(office) as server:
        made = Morning(factory.mktemp("morning"), office, server.url, now)
        yield made
        made.store.database.close()


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Morning]:
    yield from lived(tmp_path_factory, ENDED)


@pytest.fixture(scope="module")
def early(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Morning]:
    yield from lived(tmp_path_factory, OPEN)


def test_the_old_night_was_told_and_ended(morning: Morning) -> None:
    told = morning.store.night_histories(morning.now)
    assert told[SUNDAY].told is Tier.ACT
    assert told[SUNDAY].is_closed
    assert told[MONDAY].said.rank


def test_tonight_and_plan_speak_of_the_night_to_come(morning: Morning) -> None:
    assert morning.document("tonight")["tonight"] == [MONDAY.isoformat()]
    words = morning.says("tonight")
    first = next(line for line in words.splitlines() if ", Mon Apr 13: " in line)
    assert first.startswith("tonight, Mon Apr 13: ")
    assert words.index(first) < words.index("Nearest to harm")
    made = morning.document("plan")
    assert made["night"] == MONDAY.isoformat()
    assert made["plan"] is not None
    assert "No plan" not in morning.says("plan")
    assert morning.document("explain", "Apricots by the lane")["night"] == "2026-04-13"


def test_the_page_speaks_of_the_night_to_come(morning: Morning) -> None:
    page = (morning.folder / "page" / "index.html").read_text()
    heading = page.partition("<h1>")[2].partition("</h1>")[0]
    assert "tonight, Mon Apr 13" in heading
    data = json.loads((morning.folder / "page" / "status.json").read_text())
    assert data["tonight"] == [MONDAY.isoformat()]
    # The night that is over is no mild one.
    assert '<th scope="row">Sun Apr 12</th><td>over</td>' in page


def test_a_count_of_buds_is_for_the_night_before(morning: Morning) -> None:
    words = morning.says("buds", "Apricots by the lane", "--dead", "3", "--of", "90")
    assert "Kept for the night of 2026-04-12" in words
    assert [item.night for item in morning.store.bud_counts()] == [SUNDAY]


def test_an_answer_is_for_one_night(morning: Morning) -> None:
    words = morning.says("ack", "--by", "Ines")
    given = morning.store.recent_answers(morning.now)
    assert [(item.night, item.kind) for item in given] == [(MONDAY, AnswerKind.ACTING)]
    assert words.startswith("tonight, Mon Apr 13: ")
    others = [line for line in words.splitlines() if line.startswith("Not answered: ")]
    open_nights = {
        night
        for night, item in morning.store.night_histories(morning.now).items()
        if item.told.rank and not item.is_closed
    }
    assert len(others) == len(open_nights) - 1


def test_an_answer_for_a_night_without_a_warning_names_those_that_have_one(
    morning: Morning,
) -> None:
    before = morning.store.recent_answers(morning.now)
    for night in (SUNDAY, date(2026, 5, 30)):
        done = morning.called("ack", "--by", "Ines", "--night", night.isoformat())
        assert isinstance(done.exception, UsageError)
        words = str(done.exception)
        assert f"no warning is open about the night of {night}; write" in words
        assert (
            f"\n  frostalert ack --by Ines --night {MONDAY} (tonight, Mon Apr 13: "
        ) in words
    assert morning.store.recent_answers(morning.now) == before


def test_while_water_may_not_stop_both_nights_are_meant(early: Morning) -> None:
    told = early.store.night_histories(early.now)
    assert told[SUNDAY].told is Tier.ACT
    assert not told[SUNDAY].is_closed
    both = [SUNDAY.isoformat(), MONDAY.isoformat()]
    assert early.document("tonight")["tonight"] == both
    words = early.says("plan")
    # What holds for the old night stands before what is planned for the new one.
    assert words.index("If water still runs") < words.index("tonight, Mon Apr 13")
    made = early.document("plan")
    assert (made["lasting_night"], made["night"]) == tuple(both)
    page = (early.folder / "page" / "index.html").read_text()
    heading = page.partition("<h1>")[2].partition("</h1>")[0]
    assert "tonight, Mon Apr 13" in heading
    assert "The night of Sun Apr 12 is not over" in page
    # Who answers now answers what calls for hands, and is told what is open besides.
    answered = early.says("ack", "--by", "Ines")
    assert answered.startswith("overnight Sun Apr 12 to Mon Apr 13: act now: Ines")
    assert [a.night for a in early.store.recent_answers(early.now)] == [SUNDAY]
    # What has its answer is not asked for again.
    again = early.says("ack", "--by", "Tobias")
    held = "overnight Sun Apr 12 to Mon Apr 13: act now"
    assert f"Answered already: {held} (Ines)." in again
    assert f"Not answered: {held}" not in again
