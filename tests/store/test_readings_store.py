"""Readings that are taken in, and taken back: each against its own thermometer."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.cycle.readings import take_in
from frostalert.model.reading import TAKEN_BACK, Reading, Sensor, SensorKind
from frostalert.store.merge import bring_in
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.support.holdings import make_block, make_holding

NOW = datetime(2026, 4, 13, 6, tzinfo=UTC)
POST = Sensor(name="Post", kind=SensorKind.REFERENCE)
WALL = Sensor(name="Wall", kind=SensorKind.SHELTERED)
FARM = replace(make_holding(make_block()), sensors=(POST, WALL))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[StateStore]:
    made = open_store(tmp_path)
    yield made
    made.database.close()


def read(sensor: str, air_c: float, before_min: int) -> Reading:
    at_utc = NOW - timedelta(minutes=before_min)
    return Reading(sensor=sensor, at_utc=at_utc, air_c=air_c)


def test_a_reading_is_held_against_its_own_thermometer_alone(store: StateStore) -> None:
    taken = take_in([read("Wall", 14.0, 20), read("Post", 1.0, 10)], FARM, store, NOW)
    assert [item.problem for item in taken] == [None, None]
    [jumped] = take_in([read("Post", 14.0, 0)], FARM, store, NOW)
    assert "jumped" in (jumped.problem or "")
    [nobodys] = take_in([read("Shed", 1.0, 0)], FARM, store, NOW)
    assert nobodys.problem == "there is no sensor of that name"


def test_taking_back_ends_the_belief_in_the_newest_and_in_no_other(
    store: StateStore,
) -> None:
    take_in([read("Post", 1.0, 20), read("Post", 0.8, 10)], FARM, store, NOW)
    gone = store.take_back("Post")
    assert gone is not None
    assert (gone.air_c, gone.problem) == (0.8, TAKEN_BACK)
    kept = store.readings_since(NOW - timedelta(hours=1))
    assert [item.problem for item in kept] == [None, TAKEN_BACK]
    assert store.take_back("Wall") is None


def test_the_reading_kept_last_is_taken_back_whatever_its_time(
    store: StateStore,
) -> None:
    # A thermometer whose clock is ahead, and then a person who writes down late.
    [ahead] = take_in([read("Post", 1.0, -600)], FARM, store, NOW)
    assert ahead.problem is not None
    take_in([read("Post", 1.0, 20)], FARM, store, NOW)
    take_in([read("Post", 0.9, 40)], FARM, store, NOW)
    gone = [store.take_back("Post") for _ in range(2)]
    assert [item.air_c for item in gone if item] == [0.9, 1.0]
    assert [item.problem for item in gone if item] == [TAKEN_BACK] * 2


def test_what_reached_the_file_while_the_state_was_in_memory_keeps_its_order(
    store: StateStore, tmp_path: Path
) -> None:
    take_in([read("Post", 1.0, 20)], FARM, store, NOW)
    take_in([read("Post", 0.9, 40)], FARM, store, NOW)
    (tmp_path / "other").mkdir()
    other = open_store(tmp_path / "other")
    with store.database.reading() as file, other.database.writing() as memory:
        bring_in(file, memory)
    gone = other.take_back("Post")
    assert gone is not None
    assert gone.air_c == 0.9
    other.database.close()


def test_what_was_never_believed_keeps_its_own_reason(store: StateStore) -> None:
    take_in([read("Post", 1.0, 20)], FARM, store, NOW)
    [jumped] = take_in([read("Post", 30.0, 10)], FARM, store, NOW)
    gone = store.take_back("Post")
    assert gone is not None
    assert (gone.air_c, gone.problem) == (30.0, jumped.problem)
    kept = store.readings_since(NOW - timedelta(hours=1))
    assert [item.problem for item in kept] == [None, jumped.problem]
