"""The warmth of past days and of the forecast moves the stage that counts."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.cycle.past_days import past_days
from frostalert.forecast.nws import parse_grid
from frostalert.model.forecast import ForecastRun
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Block
from frostalert.model.warmth import DayAir, Sighting, StageWarmth
from frostalert.ports import Fetched, SourceMemory
from frostalert.risk.warmth import hourly_air, with_warmth
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.holdings import make_block, make_holding

NOW = datetime(2026, 4, 12, 23, tzinfo=UTC)
TODAY = date(2026, 4, 12)
DAY = timedelta(days=1)


@pytest.fixture
def store(tmp_path: Path):  # type: ignore[no-untyped-def]
    made = open_store(tmp_path)
    yield made
    made.database.close()


def warmed(block: Block, run: ForecastRun, days: list[DayAir]) -> StageWarmth | None:
    hours = hourly_air(run.hours.first_utc, run.hours.air_c)
    return with_warmth(make_holding(block), hours, days, [], NOW).blocks[0].warmth


def test_past_and_forecast_days_add_up() -> None:
    block = replace(make_block(), stage_seen=TODAY - 4 * DAY)
    days = [
        DayAir(day=TODAY - n * DAY, low_c=7.0, high_c=15.0, is_measured=True)
        for n in range(1, 9)
    ]
    run = parse_grid(grid_text(air_c=frosty_hours(low_c=-3.0, high_c=12.0)), NOW)
    found = warmed(block, run, days)
    assert found is not None
    # 6 degree-days each on the three days after it was looked at, then the forecast's.
    assert found.sum_on(TODAY - DAY) == pytest.approx(18.0)
    assert found.sum_on(TODAY + DAY) > found.sum_on(TODAY - DAY)
    assert found.is_whole
    gap = warmed(block, run, days[1:])
    assert gap is not None
    assert gap.sum_on(TODAY - DAY) == pytest.approx(12.0)
    assert not gap.is_whole


def test_what_is_harvested_or_long_ago_is_left_to_its_age() -> None:
    run = parse_grid(grid_text(), NOW)
    for changes in ({"stage": "harvested"}, {"stage_seen": TODAY - 190 * DAY}):
        block = replace(make_block(), **changes)
        assert warmed(block, run, []) is None


def test_days_are_known_by_the_thermometer_else_by_the_forecast(
    store: StateStore,
) -> None:
    post = Sensor(name="Post", kind=SensorKind.REFERENCE)
    farm = replace(make_holding(make_block()), sensors=(post,))
    grid = grid_text(air_c=frosty_hours(low_c=1.0, high_c=11.0), first=FIRST - 2 * DAY)
    run = parse_grid(grid, NOW - 2 * DAY)
    run = replace(run, updated_utc=NOW - 2 * DAY, fetched_utc=NOW - 2 * DAY)
    store.save_run(Fetched(run=run, memory=SourceMemory()), "nws", NOW - 2 * DAY)
    forecast = past_days(farm, store, NOW)
    assert [(item.day, item.is_measured) for item in forecast] == [(TODAY - DAY, False)]
    assert forecast[0].high_c == pytest.approx(11.0, abs=0.2)
    midnight = datetime(2026, 4, 11, 7, tzinfo=UTC)
    store.add_readings(
        [
            Reading(sensor="Post", at_utc=midnight + timedelta(hours=n), air_c=float(n))
            for n in range(24)
        ]
    )
    [measured] = past_days(farm, store, NOW)
    assert (measured.low_c, measured.high_c, measured.is_measured) == (0.0, 23.0, True)
    store.save_day_air([measured])
    store.save_day_air(forecast)
    assert store.days_air() == (measured,)


def test_what_was_seen_is_kept_once(store: StateStore) -> None:
    seen = Sighting(block="Apricots", crop="apricot", stage="full bloom", seen=TODAY)
    assert store.note_sightings([seen]) == 1
    assert store.note_sightings([seen]) == 0
    assert store.sightings() == (seen,)
