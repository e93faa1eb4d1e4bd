"""The status page where there is nothing to show."""

import re
from datetime import UTC, date, datetime

from frostalert.cycle.health import Health
from frostalert.forecast.nws import parse_grid
from frostalert.messages.plan_words import plan_view
from frostalert.messages.wording import Wording
from frostalert.model.progress import Progress
from frostalert.report.status_page import PAGE, Status, render_status
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import make_holding
from tests.support.judged import assess, cannot_judge_anything
from tests.support.plans import (
    APRICOTS,
    LINE,
    called,
    night_grid,
    plan_of,
    planting,
)

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
NIGHT = date(2026, 4, 12)


def test_without_any_forecast_the_page_says_that_nothing_can_be_judged() -> None:
    farm = make_holding()
    problem = "no forecast for this place has been received"
    status = Status(
        assessment=cannot_judge_anything(farm, NOW, problem),
        meant=(NIGHT,),
        farm=farm,
        health=Health(findings=()),
        rows=(),
        now_utc=NOW,
    )
    page = render_status(status)[PAGE].decode()
    assert problem in page
    for block in farm.blocks:
        assert block.name in page
    assert "cannot-judge" in page


def test_a_night_with_gaps_shows_no_low_of_its_warm_hours() -> None:
    farm = make_holding()
    warm = frosty_hours(low_c=9.0, high_c=20.0)
    air: list[float | None] = [*warm[:18], *([None] * 14), *warm[32:]]
    run = parse_grid(grid_text(air_c=air), NOW)
    status = Status(
        assessment=assess(farm, run, NOW),
        meant=(NIGHT,),
        farm=farm,
        health=Health(findings=()),
        rows=(),
        now_utc=NOW,
    )
    page = render_status(status)[PAGE].decode()
    [row] = re.findall(r'<tr class="tier-cannot-judge">.*?Sun Apr 12.*?</tr>', page)
    assert row.count("<td>unknown</td>") == 3
    assert " F<" not in row


def test_in_wind_the_page_says_what_not_to_start_and_how_to_stop() -> None:
    farm = planting(APRICOTS, equipment=(LINE,))
    grid = night_grid(-3.0, wind_kmh=32.0)
    progress = Progress(start_since_utc=NOW, starts=called((LINE.name, APRICOTS.name)))
    plan = plan_of(farm, grid, NOW, progress)
    status = Status(
        assessment=assess(farm, parse_grid(grid, NOW), NOW),
        meant=(NIGHT,),
        farm=farm,
        health=Health(findings=()),
        rows=(),
        now_utc=NOW,
        plan=plan_view(plan, farm, Wording(farm.site, NOW)),
    )
    page = render_status(status)[PAGE].decode()
    assert "<h2>Not tonight</h2>" in page
    assert "Lane line in Apricots: not tonight: too windy" in page
    assert "do NOT stop it now: only with a measured wet bulb" in page
    assert "If water runs: stop it not before" in page
    assert "Apricots: nothing that is there can work tonight" in page
