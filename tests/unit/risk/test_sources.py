"""Which forecasts count, and what they say together."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.messages.views import night_view
from frostalert.messages.wording import Wording
from frostalert.model.assessment import NightAssessment, NightKind
from frostalert.model.forecast import HOUR, ForecastRun
from frostalert.model.learned import ForecastObservation
from frostalert.model.nights import Facts, TermName
from frostalert.risk.assess import assess_all
from frostalert.risk.sources import choose_runs
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import make_holding
from tests.support.judged import assess, nights_of

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)


def run_of(
    source: str, age_h: float, low_c: float = -3.0, hours: int = 72
) -> ForecastRun:
    body = grid_text(
        air_c=frosty_hours(low_c=low_c, hours=hours),
        updated=NOW - timedelta(hours=age_h),
    )
    return replace(parse_grid(body, NOW), source=source, source_title=source)


@pytest.mark.parametrize(
    ("ages", "chosen"),
    [
        ({"nws": 2.0, "met-norway": 1.0}, ["nws", "met-norway"]),
        ({"nws": 15.0, "met-norway": 3.0}, ["met-norway"]),
        ({"nws": 20.0, "met-norway": 16.0}, ["met-norway"]),
        ({"nws": 13.0, "unnamed": 1.0}, ["nws", "unnamed"]),
    ],
    ids=["order counts", "a stale one gives way", "all stale", "unnamed last"],
)
def test_which_forecast_counts(ages: dict[str, float], chosen: list[str]) -> None:
    runs = [run_of(name, age) for name, age in ages.items()]
    runs.sort(key=lambda run: run.updated_utc, reverse=True)
    found = choose_runs(runs, ("nws", "met-norway"), NOW)
    assert [run.source for run in found] == chosen


def judged(low_c: float | None = -4.0, first_low_c: float = -1.0) -> NightAssessment:
    """The night by one source, and by another beside it if there is one."""
    others = () if low_c is None else (run_of("b", 2.0, low_c),)
    first = run_of("a", 2.0, first_low_c)
    return assess(make_holding(), first, NOW, others=others).nights[0]


def chance(night: NightAssessment) -> float:
    found = night.blocks[0].probability
    assert found is not None
    return found


def test_two_sources_are_judged_by_their_centre_and_both_are_shown() -> None:
    night = judged()
    assert night.low_c == -1.0
    assert [(other.source, other.low_c) for other in night.other_lows] == [("b", -4.0)]
    assert night.site_low is not None
    assert night.site_low.low_c == pytest.approx(-2.5)
    alone = judged(None).blocks[0].site_low_c
    assert alone is not None
    assert night.blocks[0].site_low_c == pytest.approx(alone - 1.5)


@pytest.mark.parametrize(("first_c", "second_c"), [(-1.0, -4.0), (2.0, 0.5)])
def test_the_chance_lies_between_those_of_the_sources(
    first_c: float, second_c: float
) -> None:
    both = chance(judged(second_c, first_c))
    each = sorted(chance(judged(None, low)) for low in (first_c, second_c))
    assert each[0] < both < each[1]


def test_sources_that_agree_make_each_other_surer() -> None:
    both, alone = judged(-1.0), judged(None)
    assert both.blocks[0].site_low_c == pytest.approx(alone.blocks[0].site_low_c)
    assert both.blocks[0].low_sigma_c == pytest.approx(np.hypot(1.2, 1.2))
    assert alone.blocks[0].low_sigma_c == pytest.approx(np.hypot(1.8, 1.2))
    assert both.blocks[0].sigma_c == pytest.approx(np.hypot(np.hypot(1.2, 1.2), 0.8))


def test_far_apart_they_lean_to_the_cold_and_are_said_to_disagree() -> None:
    night = judged(-5.0, 3.0)
    low = night.site_low
    assert low is not None
    assert low.low_c == pytest.approx(-5.0 + 8.0 / 3.0)
    assert low.are_far_apart
    wording = Wording(make_holding().site, NOW)
    assert "They disagree by 14 F: the colder counts more" in (
        night_view(night, make_holding(), wording).second
    )


def test_eight_degrees_apart_somebody_is_called() -> None:
    # Apricots in first bloom, a tenth killed at -2.8 degC.
    assert chance(judged(-5.0, 3.0)) > 0.35
    assert judged(-5.0, 3.0).tier.rank > 0


def test_what_is_added_to_the_first_source_is_a_term_like_any_other() -> None:
    nights = nights_of(
        make_holding(), run_of("a", 2.0, -1.0), NOW, others=(run_of("b", 2.0, -4.0),)
    )
    terms = [term for term in nights.terms if term.name is TermName.POOLED]
    assert terms[0].value_c == pytest.approx(-1.5)
    assert terms[0].origin == "a, b"


def test_the_low_of_half_a_night_is_no_second_opinion() -> None:
    short = run_of("b", 2.0, -4.0, hours=18)
    night = assess(make_holding(), run_of("a", 2.0), NOW, others=(short,)).nights[0]
    assert night.other_lows == ()


def test_a_source_that_goes_stale_says_nothing_any_more() -> None:
    old = run_of("b", 15.0, -9.0)
    night = assess(make_holding(), run_of("a", 2.0), NOW, others=(old,)).nights[0]
    assert night.other_lows == ()


def test_each_source_has_its_own_error_taken_off() -> None:
    pairs = tuple(
        ForecastObservation(
            night=NOW.date() - timedelta(days=n + 1),
            source="b",
            kind=kind,
            forecast_low_c=0.0,
            observed_low_c=-2.0,
        )
        for n in range(12)
        for kind in NightKind
    )
    runs = (run_of("a", 2.0, -1.0), run_of("b", 2.0, -1.0))
    nights = assess_all(make_holding(), Facts(runs=runs, pairs=pairs), NOW)
    low = nights.assessment.nights[0].site_low
    assert low is not None
    # Twelve nights that fade, shrunk by three without any error.
    counted = sum(0.5 ** (n / 12.0) for n in range(12))
    assert low.others[0].low_c == -1.0
    assert low.others[0].corrected_c == pytest.approx(
        -1.0 - 2.0 * counted / (counted + 3.0)
    )
    assert low.first_c == pytest.approx(-1.0)


def test_the_spread_of_a_source_is_the_least_that_counts() -> None:
    run = run_of("a", 2.0)
    wide = replace(run, hours=replace(run.hours, spread_c=np.full(72, 4.0)))
    found = assess(make_holding(), wide, NOW).nights[0].blocks[0]
    assert found.low_sigma_c == pytest.approx(np.hypot(4.0, 1.2))


def earlier(low_c: float, hours: int) -> ForecastRun:
    """A second source whose night comes some hours earlier."""
    air = frosty_hours(low_c=low_c, hours=72 + hours)[hours:]
    body = grid_text(air_c=air, updated=NOW - timedelta(hours=2.0))
    return replace(parse_grid(body, NOW), source="b", source_title="b")


def test_the_start_comes_from_the_source_that_turns_cold_first() -> None:
    first, second = run_of("a", 2.0, -3.0), earlier(-3.0, 3)
    alone = assess(make_holding(), first, NOW).nights[0].blocks[0]
    both = assess(make_holding(), first, NOW, others=(second,)).nights[0].blocks[0]
    other = assess(make_holding(), second, NOW).nights[0].blocks[0]
    assert alone.running_by_utc is not None
    assert (both.running_by_utc, both.adverse_source) == (other.running_by_utc, "b")
    assert both.adverse_start_utc is not None
    assert both.adverse_start_utc < alone.running_by_utc
    # The hours that are told stay those of the first.
    assert both.danger_start_utc == pytest.approx(alone.danger_start_utc, abs=HOUR)


def test_a_source_by_which_harm_is_unlikely_starts_nothing_earlier() -> None:
    first, mild = run_of("a", 2.0, -3.0), earlier(6.0, 4)
    both = assess(make_holding(), first, NOW, others=(mild,)).nights[0].blocks[0]
    assert both.adverse_source in ("", "a")


def test_wind_by_one_source_alone_is_named_and_forbids_nothing() -> None:
    calm = replace(run_of("a", 2.0, -3.0))
    body = grid_text(
        air_c=frosty_hours(low_c=-3.0),
        updated=NOW - timedelta(hours=2.0),
        wind_kmh=35.0,
        cloud_pct=90.0,
    )
    windy = replace(parse_grid(body, NOW), source="b", source_title="b")
    found = assess(make_holding(), calm, NOW, others=(windy,))
    assert found.nights[0].kind is assess(make_holding(), calm, NOW).nights[0].kind
    assert found.forecast is not None
    assert "b has wind this night" in found.forecast.notes[-1]
