"""What a reader must know of a forecast before believing the numbers."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from frostalert.forecast.nws import parse_grid
from frostalert.risk.remarks import MOST_HEIGHT_M, forecast_remarks, height_remarks
from tests.support.grids import grid_text
from tests.support.holdings import SITE, make_holding
from tests.support.judged import assess

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)


def test_a_cell_much_higher_or_lower_is_told_with_every_night_that_is_judged() -> None:
    run = replace(parse_grid(grid_text(), NOW), elevation_m=900.0)
    facts = assess(make_holding(), run, NOW).forecast
    assert facts is not None
    assert "the site lies 775 m below its grid cell" in facts.notes
    near = replace(run, elevation_m=SITE.elevation_m + MOST_HEIGHT_M)
    assert height_remarks(SITE, near) == ()
    low = replace(run, elevation_m=SITE.elevation_m - MOST_HEIGHT_M - 1.0)
    assert height_remarks(SITE, low) == ("the site lies 301 m above its grid cell",)
    assert height_remarks(SITE, replace(run, elevation_m=None)) == ()


def test_a_forecast_for_another_place_or_time_is_remarked() -> None:
    far = parse_grid(grid_text(latitude=47.0), NOW)
    assert forecast_remarks(SITE, far, NOW) == [
        "this forecast is for a place 87 km from Heron Bench"
    ]
    run = parse_grid(grid_text(), NOW)
    assert forecast_remarks(SITE, run, NOW) == []
    early, late = NOW - timedelta(days=1), NOW + timedelta(days=9)
    assert "made after" in forecast_remarks(SITE, run, early)[0]
    assert "ends before" in forecast_remarks(SITE, run, late)[0]
