"""Which forecast counts, and what a second one does to the error."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import OtherLow
from frostalert.model.forecast import ForecastRun
from frostalert.model.site import Rules
from frostalert.risk.sources import choose_runs, disagreement_c
from frostalert.risk.uncertainty import low_sigma_c
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import make_holding
from tests.support.judged import assess

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


def test_a_second_opinion_stands_beside_and_widens_the_error() -> None:
    first, second = run_of("a", 2.0, -1.0), run_of("b", 2.0, -4.0)
    alone = assess(make_holding(), first, NOW).nights[0]
    both = assess(make_holding(), first, NOW, others=(second,)).nights[0]
    assert [(other.source, other.low_c) for other in both.other_lows] == [("b", -4.0)]
    own, widened = alone.blocks[0], both.blocks[0]
    # Nothing is averaged: the low stays, the error grows by half the difference.
    assert widened.site_low_c == own.site_low_c
    assert widened.sigma_c == pytest.approx(np.hypot(own.sigma_c, 1.5))
    assert (widened.probability or 0.0) > (own.probability or 0.0)


def test_two_that_agree_change_nothing() -> None:
    first = run_of("a", 2.0)
    night = assess(make_holding(), first, NOW, others=(run_of("b", 1.0),)).nights[0]
    assert night.blocks[0].sigma_c == pytest.approx(
        assess(make_holding(), first, NOW).nights[0].blocks[0].sigma_c
    )


def test_the_low_of_half_a_night_is_no_second_opinion() -> None:
    short = run_of("b", 2.0, -4.0, hours=18)
    night = assess(make_holding(), run_of("a", 2.0), NOW, others=(short,)).nights[0]
    assert night.other_lows == ()


def test_the_widest_of_several_counts() -> None:
    lows = (OtherLow(source="b", low_c=-1.0), OtherLow(source="c", low_c=3.0))
    assert disagreement_c(-2.0, lows) == 2.5
    assert disagreement_c(None, lows) == 0.0
    assert disagreement_c(-2.0, ()) == 0.0


def test_the_spread_of_a_source_is_the_least_that_counts() -> None:
    lead = np.array([12.0, 12.0, 12.0])
    spread = np.array([np.nan, 1.0, 4.0])
    sigma = low_sigma_c(lead, Rules(), spread_c=spread)
    assert sigma == pytest.approx(np.hypot([2.5, 2.5, 4.0], 0.8))
