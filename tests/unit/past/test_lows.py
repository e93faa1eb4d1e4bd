"""The low of each night from a thermometer's file, a station's days, or hours."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.forecast.previous_runs import parse_reanalysis
from frostalert.model.forecast import ForecastRun
from frostalert.past.lows import (
    DAY_ENDS,
    MIDNIGHT,
    DayEnd,
    day_end,
    lows_of_hours,
    lows_of_readings,
    lows_of_station,
    misfit_c,
)
from frostalert.past.runs import joined
from tests.support.archives import Column, Played, clear_nights
from tests.support.holdings import SITE
from tests.support.servers import Seen

ZONE = ZoneInfo(SITE.time_zone)
NIGHT = date(2025, 4, 12)
MORNING = NIGHT + timedelta(days=1)
MARCH = [date(2025, 3, 3) + timedelta(days=n) for n in range(60)]
BEGIN = datetime(2025, 3, 1, tzinfo=UTC)
AT_7, AT_17, EARLY = DAY_ENDS[1:]


def local(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(day, time(hour, minute), tzinfo=ZONE).astimezone(UTC)


def every_half_hour(day: date, first_h: int, count: int) -> list[datetime]:
    start = local(day, first_h)
    return [start + n * timedelta(minutes=30) for n in range(count)]


def run_of(air: Column, first: datetime = BEGIN) -> ForecastRun:
    """Hours as an archive gives them, of 60 days and some."""
    parts = []
    for n in range(0, len(air) // 24, 14):
        day = first.date() + timedelta(days=n)
        last = min(n + 14, len(air) // 24)
        end = first.date() + timedelta(days=last - 1)
        played = Played(first=first, leads={}, reanalysis=air)
        path = f"/v1/archive?hourly=temperature_2m&start_date={day}&end_date={end}"
        part = parse_reanalysis(played.answer(Seen("GET", path, {}, "")).body)
        assert part is not None
        parts.append(part)
    return joined([{0: part} for part in parts])[0]


def test_a_course_of_readings_counts_its_second_lowest_from_dusk_to_dawn() -> None:
    moments = every_half_hour(NIGHT, 12, 48)
    readings = [(moment, 5.0) for moment in moments]
    readings[20] = (moments[20], -9.0)  # one wild reading
    readings[30] = (moments[30], -2.0)
    readings[0] = (moments[0], -20.0)  # at noon
    assert lows_of_readings(readings, {}, SITE)[NIGHT] == -2.0


def test_a_night_that_was_not_read_to_dawn_tells_no_low() -> None:
    readings = [(moment, -3.0) for moment in every_half_hour(NIGHT, 18, 12)]
    assert lows_of_readings(readings, {}, SITE) == {}


def test_a_file_of_lows_with_hours_counts_those_of_the_morning() -> None:
    readings = [
        (local(NIGHT - timedelta(days=2), 6), 1.0),
        (local(NIGHT - timedelta(days=1), 6), 2.0),
        # The next day was coldest late in its evening: of this night, not of the last.
        (local(NIGHT, 23, 30), -1.5),
        (local(MORNING, 6, 10), -1.0),
    ]
    found = lows_of_readings(readings, {}, SITE)
    assert found == {
        NIGHT - timedelta(days=3): 1.0,
        NIGHT - timedelta(days=2): 2.0,
        NIGHT: -1.5,
    }


def test_an_evening_s_low_alone_tells_nothing_of_the_morning() -> None:
    assert lows_of_readings([(local(NIGHT, 23, 30), -1.5)], {}, SITE) == {}


def test_a_date_alone_is_the_morning_of_its_reading() -> None:
    assert lows_of_readings([], {MORNING: -1.0}, SITE) == {NIGHT: -1.0}


def test_hours_give_a_low_where_the_night_has_no_gap() -> None:
    lows = dict.fromkeys(MARCH, -2.0)
    air = clear_nights(lows, BEGIN, 60 * 24)
    gap = (local(MARCH[5] + timedelta(days=1), 3) - BEGIN) // timedelta(hours=1)
    air[gap] = None
    found = lows_of_hours(run_of(air), SITE, MARCH[:10])
    assert MARCH[5] not in found
    assert len(found) == 9
    assert all(low == pytest.approx(-2.0, abs=0.3) for low in found.values())


def weather(seed: int) -> tuple[dict[date, float], ForecastRun, Column]:
    random = np.random.default_rng(seed)
    lows = {night: round(float(random.normal(1.0, 4.0)), 1) for night in MARCH}
    air = clear_nights(lows, BEGIN, 64 * 24)
    return lows, run_of(air), air


def minimums_by(end: DayEnd, air: Column, days: list[date]) -> dict[date, float]:
    """What a station whose day ends then would have entered."""
    found = {}
    for day in days:
        midnight = local(day, 0)
        first = (midnight - BEGIN) // timedelta(hours=1) + end.begins_h
        hours = air[max(0, first) : first + end.ends_h - end.begins_h + 1]
        found[day] = min(value for value in hours if value is not None) - 1.0
    return found


@pytest.mark.parametrize("end", DAY_ENDS, ids=lambda end: end.words)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_when_a_station_s_day_ends_is_told_by_how_its_lows_fit(
    end: DayEnd, seed: int
) -> None:
    _, run, air = weather(seed)
    minimums = minimums_by(end, air, MARCH[3:55])
    assert day_end(minimums, [run], ZONE) == end


def test_of_too_few_days_midnight_is_taken() -> None:
    _, run, air = weather(4)
    minimums = minimums_by(AT_7, air, MARCH[3:20])
    assert day_end(minimums, [run], ZONE) == MIDNIGHT
    assert day_end(minimums, [], ZONE) == MIDNIGHT


@pytest.mark.parametrize("end", DAY_ENDS, ids=lambda end: end.words)
@pytest.mark.parametrize("seed", [1, 2])
def test_a_station_s_minimum_goes_to_the_night_that_it_is_of(
    end: DayEnd, seed: int
) -> None:
    lows, run, air = weather(seed)
    minimums = minimums_by(end, air, MARCH[3:55])
    found, left_out = lows_of_station(minimums, [run], ZONE, end)
    assert len(found) + left_out == len(minimums)
    assert len(found) > 25
    # The station is 1 degC colder; what it took from another night is left out.
    for night, low in found.items():
        assert low == pytest.approx(lows[night] - 1.0, abs=0.9)


def test_without_hours_a_minimum_is_taken_at_its_word() -> None:
    found, left_out = lows_of_station({MORNING: -1.0}, [], ZONE, MIDNIGHT)
    assert (found, left_out) == ({NIGHT: -1.0}, 0)
    assert lows_of_station({NIGHT: -1.0}, [], ZONE, EARLY)[0] == {NIGHT: -1.0}
    assert AT_17.begins_h < 0


@given(st.floats(-9.0, 9.0), st.lists(st.floats(-9.0, 9.0), min_size=2, max_size=9))
def test_a_station_that_is_warmer_throughout_goes_with_the_place(
    warmer: float, lows: list[float]
) -> None:
    here = {NIGHT + timedelta(days=n): low for n, low in enumerate(lows)}
    there = {night: low + warmer for night, low in here.items()}
    assert misfit_c(there, here)[0] == pytest.approx(0.0, abs=1e-9)
    assert misfit_c({}, here)[1] == 0
