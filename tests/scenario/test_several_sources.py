"""Two sources at once: both asked, one counts, the other stands in or widens."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.config.load import load_settings
from frostalert.cycle.cycle import run_cycle
from frostalert.forecast.asked import build_session, build_sources
from frostalert.model.notice import Subject
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.adapters.test_nws import Office
from tests.adapters.test_point_sources import open_meteo
from tests.support.configs import config_text
from tests.support.grids import frosty_hours, grid_text
from tests.support.servers import HttpServer, Reply, Seen, http_server

AFTERNOON = datetime(2026, 4, 12, 23, tzinfo=UTC)


class Services:
    """Both services at one address, each of which can fail."""

    def __init__(self) -> None:
        self.office = Office()
        self.office.grid = Reply(200, grid_text(air_c=frosty_hours(low_c=-1.0)))
        # Its hours begin at midnight UTC, twelve before the grid's.
        hours = frosty_hours(low_c=-5.0, hours=84)[12:]
        air = [value for value in hours if value is not None]
        self.world = Reply(200, json.dumps(open_meteo(temperature_2m=air)))

    def __call__(self, seen: Seen) -> Reply:
        return self.world if seen.path.startswith("/v1/") else self.office(seen)


@pytest.fixture
def place(tmp_path: Path) -> Iterator[tuple[Path, Services, HttpServer, StateStore]]:
    services = Services()
    store = open_store(tmp_path)
    with http_server(services) as server:
        text = config_text(nws_url=server.url).replace(
            "[forecast]",
            '[forecast]\nsources = ["nws", "open-meteo"]\n'
            f'open_meteo_url = "{server.url}"',
        )
        (tmp_path / "orchard.toml").write_text(text)
        yield tmp_path, services, server, store
    store.database.close()


def cycle(folder: Path, store: StateStore, now: datetime):  # type: ignore[no-untyped-def]
    settings = load_settings(folder / "orchard.toml", needs_secrets=False)
    sources = build_sources(settings, build_session(settings))
    return run_cycle(settings.farm, sources, store, now)


def test_both_are_asked_and_the_mail_names_both_lows(
    place: tuple[Path, Services, HttpServer, StateStore],
) -> None:
    folder, _, _, store = place
    result = cycle(folder, store, AFTERNOON)
    assert result.assessment.forecast.source == "nws"
    [other] = result.assessment.nights[0].other_lows
    assert other.low_c == pytest.approx(-5.0)
    mails = [
        row.message.text
        for row in store.unsent(AFTERNOON, is_forced=True)
        if row.message.subject_kind is Subject.PREPARE and row.message.html
    ]
    words = " ".join(mails[0].split())
    assert "Low by each forecast: this one 30 F, Open-Meteo" in words
    assert "(open-meteo.com, CC BY 4.0) 23 F; judged by" in words


def test_when_the_first_fails_the_second_stands_in(
    place: tuple[Path, Services, HttpServer, StateStore],
) -> None:
    folder, services, _, store = place
    services.office.grid = services.office.points = Reply(404)
    result = cycle(folder, store, AFTERNOON)
    assert result.assessment.forecast.source == "open-meteo"
    assert result.assessment.nights[0].tier.rank
    assert [fault.key for fault in store.open_faults().values()] == ["source-nws"]


def test_when_the_first_grows_stale_the_second_takes_over(
    place: tuple[Path, Services, HttpServer, StateStore],
) -> None:
    folder, services, _, store = place
    cycle(folder, store, AFTERNOON)
    services.office.grid = Reply(304)
    later = cycle(folder, store, AFTERNOON + timedelta(hours=11))
    assert later.assessment.forecast.source == "open-meteo"
    assert later.assessment.forecast.age_word == "fresh"
