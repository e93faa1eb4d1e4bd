"""Without a thermometer of one's own the nearest station teaches of the sources."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.cycle.judging import judge_stored
from frostalert.cycle.learning import learn_nights
from frostalert.forecast.nws import parse_grid
from frostalert.model.learned import LeadClass, PairOrigin
from frostalert.model.official import OfficialWord, StationReport
from frostalert.model.reading import Sensor, SensorKind
from frostalert.model.site import Farm
from frostalert.ports import Fetched, SourceMemory
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import make_holding

START = datetime(2026, 4, 5, 19, tzinfo=UTC)  # noon, local
NIGHTS = 5
POST = Sensor(name="Post", kind=SensorKind.REFERENCE)


def live_through(
    store: StateStore, farm: Farm, *, away_c: float, distance_km: float = 12.0
) -> datetime:
    """Clear nights that a station has so far from the forecast."""
    now = START
    for hour in range(24 * NIGHTS + 6):
        now = START + timedelta(hours=hour)
        if hour % 6 == 0:
            first = now.replace(hour=12) - timedelta(days=now.hour < 12)
            made = now - timedelta(minutes=5)
            text = grid_text(
                air_c=frosty_hours(low_c=5.0, hours=96),
                first=first,
                updated=made,
                wind_kmh=1.8,
            )
            run = parse_grid(text, now)
            fetched = Fetched(run=run, memory=SourceMemory())
            store.save_run(fetched, run.source, now)
        swing = frosty_hours(low_c=5.0, hours=24)[(now.hour - 12) % 24] or 0.0
        report = StationReport(
            station="KTST",
            name="Invented Field",
            distance_km=distance_km,
            at_utc=now,
            air_c=swing + away_c,
        )
        store.save_official(OfficialWord(asked_utc=now, report=report))
        if hour % 24 == 0:
            learn_nights(farm, store, now)
    return now


@pytest.fixture
def store(tmp_path: Path):  # type: ignore[no-untyped-def]
    opened = open_store(tmp_path)
    yield opened
    opened.database.close()


def notes(store: StateStore, farm: Farm, now: datetime) -> list[str]:
    judged = judge_stored(farm, store, now)
    assert judged.assessment.forecast is not None
    return [note for note in judged.assessment.forecast.notes if " runs " in note]


def test_its_nights_are_learned_marked_as_its_and_said(store: StateStore) -> None:
    farm = make_holding()
    now = live_through(store, farm, away_c=-2.0)
    pairs = store.night_pairs()
    tonight = [pair for pair in pairs if pair.lead is LeadClass.TONIGHT]
    assert [pair.night for pair in tonight] == [
        date(2026, 4, 5) + timedelta(days=n) for n in range(NIGHTS)
    ]
    for pair in pairs:
        assert pair.origin is PairOrigin.STATION
        assert (pair.station, pair.distance_km) == ("KTST", 12.0)
        assert pair.error_c == pytest.approx(-2.0, abs=0.5)
    [note] = notes(store, farm, now)
    assert note.startswith("the nearest official station runs")
    assert "5 nights, learned from station KTST, 12 km (7 mi) off" in note
    assert note.endswith(": included")
    tonight_low = judge_stored(farm, store, now).assessment.nights[0]
    low = tonight_low.site_low
    assert low is not None
    # Five nights at half weight, shrunk by three without any error.
    assert tonight_low.low_c == pytest.approx(5.0, abs=0.1)
    assert low.low_c == pytest.approx(5.0 - 2.0 * 2.3 / 5.3, abs=0.2)
    # What is not known of the site itself stays unknown.
    assert low.site_sigma_c == farm.rules.site_sigma_c


def test_a_warmer_station_makes_nothing_warmer(store: StateStore) -> None:
    farm = make_holding()
    now = live_through(store, farm, away_c=3.0)
    [note] = notes(store, farm, now)
    assert "above this forecast" in note
    assert note.endswith("+0.0 C of it included")
    tonight = judge_stored(farm, store, now).assessment.nights[0]
    assert tonight.site_low is not None
    assert tonight.site_low.low_c == pytest.approx(tonight.low_c)


def test_one_far_off_teaches_nothing(store: StateStore) -> None:
    live_through(store, make_holding(), away_c=-2.0, distance_km=45.0)
    assert store.night_pairs() == ()


def test_beside_a_reference_of_one_s_own_it_teaches_nothing(store: StateStore) -> None:
    live_through(store, replace(make_holding(), sensors=(POST,)), away_c=-2.0)
    assert store.night_pairs() == ()


def test_its_reports_are_kept_for_a_week(store: StateStore) -> None:
    for day in range(10):
        moment = START + timedelta(days=day)
        report = StationReport(
            station="KTST",
            name="Invented Field",
            distance_km=12.0,
            at_utc=moment,
            air_c=1.0,
        )
        # The same report is heard four times an hour.
        for _ in range(2):
            store.save_official(OfficialWord(asked_utc=moment, report=report))
    kept = store.station_reports_since(START)
    assert [item.at_utc for item in kept] == [
        START + timedelta(days=n) for n in range(2, 10)
    ]
    assert kept[0].station == "KTST"
