"""Sources that answer and are not to be believed blindly."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from frostalert.cycle.doubted import doubted_sources
from frostalert.cycle.health import Health, Light, ServiceState, judge_health
from frostalert.forecast.nws import parse_grid
from frostalert.model.forecast import ForecastRun
from frostalert.ports import Fault
from tests.support.grids import FIRST, frosty_hours, grid_text

NOW = datetime(2026, 4, 12, 18, tzinfo=UTC)
HOUR = timedelta(hours=1)


def dated(made: datetime) -> ForecastRun:
    """A run of a service that says when it was made."""
    return parse_grid(grid_text(updated=made), made + timedelta(minutes=20))


def undated(fetched: datetime, *, low_c: float = -3.0) -> ForecastRun:
    """A run of a service that does not: the fetch stands for it; it starts hourly."""
    gone = (fetched - FIRST) // HOUR
    air = frosty_hours(low_c=low_c, hours=96)[gone:]
    run = parse_grid(grid_text(air_c=air, first=FIRST + gone * HOUR), fetched)
    return replace(run, source="open-meteo", updated_utc=fetched)


def test_a_young_forecast_without_a_doubt_is_nothing_to_speak_of() -> None:
    runs = [dated(NOW - 8 * HOUR)]
    assert doubted_sources(["nws"], runs, NOW) == {}


def test_a_service_that_answers_with_the_same_forecast_is_told_at_nine_hours() -> None:
    runs = [dated(NOW - 9 * HOUR)]
    assert list(doubted_sources(["nws"], runs, NOW)) == ["frozen-nws"]
    # One that did not answer is another trouble, and told as that.
    assert doubted_sources([], runs, NOW) == {}


def test_a_service_that_gives_no_time_is_taken_at_its_values() -> None:
    same = [undated(FIRST + n * HOUR) for n in range(12, 2, -1)]
    found = doubted_sources(["open-meteo"], same, same[0].updated_utc)
    assert (
        "no new forecast from US National Weather Service for 9 h"
        in found["frozen-open-meteo"]
    )
    newer = undated(FIRST + 13 * HOUR, low_c=-2.0)
    assert doubted_sources(["open-meteo"], [newer, *same], newer.updated_utc) == {}
    assert doubted_sources(["open-meteo"], same[:9], same[0].updated_utc) == {}


def test_what_was_doubted_in_the_newest_forecast_is_told_in_its_words() -> None:
    odd = parse_grid(grid_text(validTimes="soon", updated=NOW), NOW)
    [(key, words)] = doubted_sources(["nws"], [odd], NOW).items()
    assert key == "doubt-nws"
    assert "it does not say for what times it holds" in words
    good = dated(NOW + HOUR)
    assert doubted_sources(["nws"], [good, odd], NOW) == {}


def test_a_cell_that_changes_its_height_is_told() -> None:
    before = dated(NOW - HOUR)
    higher = replace(dated(NOW), elevation_m=325.0)
    words = doubted_sources(["nws"], [higher, before], NOW)["doubt-nws"]
    assert "its cell lies at 325 m now, and lay at 125 m" in words
    redrawn = replace(dated(NOW), elevation_m=140.0)
    assert doubted_sources(["nws"], [redrawn, before], NOW) == {}


def health_with(fault: Fault) -> Health:
    state = ServiceState(
        is_running=True,
        alive_utc=NOW,
        cycle_utc=NOW,
        forecast_utc=NOW,
        oldest_due_utc=None,
        faults=(fault,),
        unanswered=(),
        has_watcher=True,
        is_in_season=True,
    )
    return judge_health(state, NOW)


@pytest.mark.parametrize("key", ["doubt-nws", "frozen-nws"])
@pytest.mark.parametrize("told", [None, NOW])
def test_health_is_not_good_beside_a_doubted_source(
    key: str, told: datetime | None
) -> None:
    fault = Fault(key=key, detail="it is odd", since_utc=NOW, told_utc=told)
    health = health_with(fault)
    assert health.light is Light.LOOK
    assert "it is odd" in health.line
