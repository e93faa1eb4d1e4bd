"""Which readings are believed, and what a cold one does to the coming hours."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import Tier
from frostalert.model.forecast import HOUR, ForecastRun
from frostalert.model.hours import SiteHours
from frostalert.model.nights import Facts, Nights
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Farm
from frostalert.physics.cooling import cooling_curve_c
from frostalert.risk.assess import assess_all
from frostalert.risk.reading_checks import MOST_LONE_COLDER_C, reading_problem
from frostalert.risk.readings import (
    LEAST_STEP_C,
    LONE_LOWEST_C,
    OLD,
    ReadingEffect,
    reading_effect,
)
from frostalert.risk.site_hours import prepare_site_hours
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.holdings import make_block, make_holding
from tests.support.judged import assess

EVENING = datetime(2026, 4, 13, 5, tzinfo=UTC)  # 22:00 local
POST = Sensor(name="Post", kind=SensorKind.REFERENCE)
LOW_END = Sensor(name="Low end", kind=SensorKind.SHELTERED, block="Apricots")
BLOCK = make_block(cold_spot_delta_c=-2.0)
HOLDING = replace(make_holding(BLOCK), sensors=(POST, LOW_END))


def run_of(wind_kmh: float = 1.8, low_c: float = 2.0) -> ForecastRun:
    air = frosty_hours(low_c=low_c)
    return parse_grid(grid_text(air_c=air, wind_kmh=wind_kmh), EVENING)


def reading(air_c: float, at: datetime = EVENING, sensor: str = "Post") -> Reading:
    return Reading(sensor=sensor, at_utc=at, air_c=air_c)


def forecast_at(run: ForecastRun, moment: datetime) -> float:
    return float(run.hours.air_c[(moment - FIRST) // HOUR])


def lowered(run: ForecastRun, *readings: Reading, farm: Farm = HOLDING) -> np.ndarray:
    return hours_of(run, *readings, farm=farm).air_c - run.hours.air_c


def judged(run: ForecastRun, *readings: Reading, farm: Farm = HOLDING) -> Nights:
    return assess_all(farm, Facts(runs=(run,), readings=readings), EVENING)


def hours_of(run: ForecastRun, *readings: Reading, farm: Farm = HOLDING) -> SiteHours:
    hours = judged(run, *readings, farm=farm).site_hours
    assert hours is not None
    return hours


def notes_of(nights: Nights) -> tuple[str, ...]:
    assert nights.assessment.forecast is not None
    return nights.assessment.forecast.notes


def effect(run: ForecastRun, *readings: Reading) -> ReadingEffect:
    shared = prepare_site_hours(run, HOLDING.site, EVENING)
    return reading_effect(shared, HOLDING, readings, EVENING)


def test_a_cold_reading_lowers_the_coming_hours_and_fades() -> None:
    run = run_of(wind_kmh=20.0)
    change = lowered(run, reading(forecast_at(run, EVENING) - 3.0))
    now = (EVENING - FIRST) // HOUR
    assert change[now] == pytest.approx(-3.0)
    assert change[now + 6] == pytest.approx(-3.0 / np.e, abs=1e-6)
    assert (change[:now] == 0.0).all()
    assert change[-1] > -0.01


def test_a_warm_reading_changes_nothing_before_the_morning() -> None:
    run = run_of(wind_kmh=20.0)
    assert not lowered(run, reading(forecast_at(run, EVENING) + 4.0)).any()


def test_the_dew_point_never_stands_above_the_lowered_air() -> None:
    run = run_of(wind_kmh=20.0)
    cold = reading(forecast_at(run, EVENING) - 6.0)
    changed = hours_of(run, cold)
    assert (changed.dewpoint_c <= changed.air_c + 1e-9).all()


def test_on_a_clear_calm_night_the_cooling_counts_as_well() -> None:
    # As cold as forecast now, but so dry that it will fall on.
    run = run_of(low_c=4.0)
    hours = replace(run.hours, dewpoint_c=run.hours.air_c - 22.0)
    dry = replace(run, hours=hours)
    here = reading(forecast_at(dry, EVENING))
    [correction] = effect(dry, here).corrections
    assert abs(correction.bias_c) < LEAST_STEP_C
    nights = judged(dry, here)
    sunset, sunrise = (
        getattr(nights.assessment.nights[0], f"{name}_utc")
        for name in ("sunset", "sunrise")
    )
    # The curve to sunrise, from the reading and the dew point of its hour.
    curve = cooling_curve_c(
        here.air_c,
        here.air_c - 22.0,
        fall_c=float(dry.hours.air_c[(sunset - FIRST) // HOUR]) - here.air_c,
        since_sunset_h=(EVENING - sunset) / HOUR,
        ahead_h=np.array([(sunrise - EVENING) / HOUR]),
    )
    low = float(hours_of(dry, here).air_c[24:27].min())
    assert low == pytest.approx(float(curve[0]), abs=0.5)
    assert low < float(dry.hours.air_c[24:27].min())
    assert "points lower than this forecast" in notes_of(nights)[-1]


def test_a_sheltered_sensor_is_compared_with_its_own_block() -> None:
    run = run_of()
    # The block is 2 degC colder than the site on a clear calm night: no news.
    usual = reading(forecast_at(run, EVENING) - 2.0, sensor="Low end")
    [correction] = effect(run, usual).corrections
    assert correction.bias_c == pytest.approx(0.0, abs=0.2)


def test_the_coldest_against_the_forecast_counts() -> None:
    run = run_of(wind_kmh=20.0)
    here = forecast_at(run, EVENING)
    change = lowered(run, reading(here - 1.0), reading(here - 4.0, sensor="Low end"))
    assert change.min() < -3.0


@pytest.mark.parametrize(
    ("sensor", "age", "problem"),
    [
        (replace(POST, is_treated=True), timedelta(0), None),
        (replace(LOW_END, kind=SensorKind.EXPOSED, name="Post"), timedelta(0), None),
        (POST, OLD + timedelta(minutes=1), None),
        (POST, timedelta(0), "it jumped"),
    ],
    ids=["beside a fire", "cools as a bud", "too old", "not believed"],
)
def test_what_says_nothing_of_the_open_air_is_left_out(
    sensor: Sensor, age: timedelta, problem: str | None
) -> None:
    run = run_of()
    cold = replace(reading(-8.0, EVENING - age), problem=problem)
    farm = replace(HOLDING, sensors=(sensor,))
    assert not lowered(run, cold, farm=farm).any()


def test_a_later_warmer_reading_does_not_call_off_a_colder_one() -> None:
    run = run_of(wind_kmh=20.0)
    earlier = EVENING - timedelta(hours=1)
    cold = reading(forecast_at(run, earlier) - 4.0, earlier)
    warm = reading(forecast_at(run, EVENING) + 1.0)
    assert lowered(run, cold, warm).min() < -3.0


def test_a_true_cold_reading_after_a_wrong_warm_one_is_believed_at_its_second() -> None:
    wrong = reading(14.0, EVENING - timedelta(minutes=20))
    first = reading(1.0, EVENING - timedelta(minutes=10))
    problem = reading_problem(first, [wrong], EVENING)
    assert problem is not None
    second = reading(0.8, EVENING)
    kept = [wrong, replace(first, problem=problem)]
    assert reading_problem(second, kept, EVENING) is None


def test_a_sensor_that_fell_silent_is_still_heard_and_fades() -> None:
    run = run_of(wind_kmh=20.0)
    when = EVENING - timedelta(hours=4)
    cold = reading(forecast_at(run, when) - 4.0, when)
    now = int((EVENING - run.hours.first_utc) / HOUR)
    assert lowered(run, cold)[now] == pytest.approx(-4.0 * np.exp(-4 / 6), abs=0.1)


def test_one_reading_alone_lowers_the_night_only_so_far() -> None:
    run = run_of(wind_kmh=20.0)
    here = forecast_at(run, EVENING)
    lone = reading(here - 25.0)
    bound = min(-MOST_LONE_COLDER_C, LONE_LOWEST_C - here)
    assert lowered(run, lone).min() == pytest.approx(bound, abs=0.5)
    note = notes_of(judged(run, lone))[-1]
    assert f"more than {-bound:.0f} C colder" in note
    assert "until a second reading agrees" in note
    at_once = reading(here - 24.0, EVENING - timedelta(minutes=1))
    assert lowered(run, lone, at_once).min() == pytest.approx(bound, abs=0.5)
    second = reading(here - 24.0, EVENING - timedelta(minutes=10))
    assert lowered(run, lone, second).min() < -20.0


def test_a_reading_can_bring_the_start_forward() -> None:
    run = run_of(low_c=2.0)
    assert assess(HOLDING, run, EVENING).nights[0].tier is not Tier.ACT
    night = judged(run, reading(-3.0)).assessment.nights[0]
    assert night.tier is Tier.ACT


@pytest.mark.parametrize(
    ("air_c", "at_min", "earlier", "words"),
    [
        (-60.0, 0, [], "air is never as cold"),
        (70.0, 0, [], "air is never as cold or as warm"),
        (1.0, 30, [], "lies in the future"),
        (-9.0, 0, [(-10, 1.0)], "it jumped further"),
        (1.0, 0, [(-15 * n, 1.0) for n in range(15, 0, -1)], "is it stuck"),
        (1.0, 0, [(-10, 3.0)], None),
        (1.0, 0, [(-10, 4.9)], None),
        (1.0, 0, [(-10, 5.1)], "it jumped further"),
        (1.0, 0, [(-60, 12.9)], None),
        (1.0, 0, [(-60, 13.1)], "it jumped further"),
        (-9.0, 0, [(-60 * 9, 1.0)], None),
        (-40.0, 0, [], "air is never as cold"),
        (1.0, 0, [(-2 * n, 1.0) for n in range(15, 0, -1)], None),
        (1.0, 0, [(-10 * n, 1.0 + n / 10) for n in range(15, 0, -1)], None),
    ],
    ids=[
        "too cold",
        "too warm",
        "in the future",
        "a jump",
        "stuck",
        "a usual step",
        "under four degrees at once",
        "over four degrees at once",
        "under twelve in an hour",
        "over twelve in an hour",
        "a step over hours",
        "a failed sensor",
        "still for half an hour",
        "it moves",
    ],
)
def test_what_is_believed(
    air_c: float, at_min: float, earlier: list[tuple[float, float]], words: str | None
) -> None:
    before = [
        reading(value, EVENING + timedelta(minutes=minutes))
        for minutes, value in earlier
    ]
    item = reading(air_c, EVENING + timedelta(minutes=at_min))
    problem = reading_problem(item, before, EVENING)
    assert (problem is None) if words is None else (words in (problem or ""))


@pytest.mark.parametrize(
    "bias_c", [-3.0, 0.0, 2.0], ids=["colder", "as told", "warmer"]
)
def test_no_reading_makes_a_night_with_gaps_milder(bias_c: float) -> None:
    air = [value for value in frosty_hours(low_c=2.0) if value is not None]
    gappy: list[float | None] = [*air]
    gappy[23:26] = [None] * 3
    body = grid_text(air_c=gappy, minimum_c=-4.0, wind_kmh=1.8)
    run = parse_grid(body, EVENING)
    before = assess(HOLDING, run, EVENING).nights[0]
    here = reading(forecast_at(run, EVENING) + bias_c)
    after = judged(run, here).assessment.nights[0]
    # A gap stays a gap, and the source's own minimum still counts.
    assert np.isnan(hours_of(run, here).air_c[23:26]).all()
    assert after.tier.rank >= before.tier.rank
    assert after.low_c is not None
    assert before.low_c is not None
    assert after.low_c <= before.low_c


def test_a_cold_reading_makes_no_humidity_where_none_is_known() -> None:
    body = grid_text(
        air_c=frosty_hours(low_c=2.0), dewpoint_c=[None] * 72, wind_kmh=20.0
    )
    run = parse_grid(body, EVENING)
    cold = reading(forecast_at(run, EVENING) - 3.0)
    assert np.isnan(hours_of(run, cold).dewpoint_c).all()
