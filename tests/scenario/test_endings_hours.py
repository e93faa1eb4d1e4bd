"""Heat goes out and covers come off at hours at which the forecast has thawed."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.messages.wording import Wording
from frostalert.model.channel import ChannelKind
from frostalert.model.plan import Task, TaskKind
from frostalert.model.site import Farm
from frostalert.plan.plan import make_plan
from tests.scenario.test_plan_messages import TWO_HOURS, sent
from tests.support.grids import grid_text
from tests.support.judged import nights_of
from tests.support.plans import (
    CALM_KMH,
    CHERRIES,
    COVERS,
    HEATERS,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
)
from tests.support.plans import planting as planted

FARM = planted(CHERRIES, STRAWBERRIES, equipment=(HEATERS, COVERS))
NOON = TWO_IN_THE_AFTERNOON - timedelta(hours=2)


def slow_thaw(rises_at_h: int) -> str:
    """Harm until the sun rises, then just under freezing for some hours more."""
    hours = range(5, 77)
    air = [
        -3.5 if 24 <= n < 30 else -0.5 if 22 <= n < 24 + rises_at_h else 9.0
        for n in hours
    ]
    return grid_text(air_c=air, dewpoint_c=[a - 3.0 for a in air], wind_kmh=CALM_KMH)


def planned(farm: Farm, grid: str) -> tuple[dict[TaskKind, Task], datetime | None]:
    """The tasks by their kind, and when the air has thawed."""
    nights = nights_of(farm, parse_grid(grid, NOON), NOON)
    night = nights.assessment.nights[0]
    tasks = make_plan(nights, night).tasks
    return {task.kind: task for task in tasks}, night.heat_out_utc


@pytest.mark.parametrize("rises_at_h", [9, 11])
def test_no_ending_comes_before_the_thaw_and_fires_are_watched_until_then(
    tmp_path: Path, rises_at_h: int
) -> None:
    grid = slow_thaw(rises_at_h)
    tasks, thaw = planned(FARM, grid)
    assert thaw is not None
    assert thaw > NOON + timedelta(hours=rises_at_h + 11)
    assert tasks[TaskKind.HEAT_OUT].start_utc == thaw
    assert tasks[TaskKind.COVERS_OFF].start_utc >= thaw
    assert tasks[TaskKind.LOOK].deadline_utc == thaw
    text = sent(tmp_path, grid, TWO_HOURS, farm=FARM)[ChannelKind.EMAIL].text
    assert f"heat off from {Wording(FARM.site, NOON).clock(thaw)}" in text


def test_no_hour_is_named_where_the_forecast_freezes_on(tmp_path: Path) -> None:
    grid = slow_thaw(15)
    assert planned(FARM, grid)[1] is None
    mail = sent(tmp_path, grid, TWO_HOURS, farm=FARM)[ChannelKind.EMAIL]
    [line] = [line for line in mail.text.splitlines() if "heat off" in line]
    assert line == (
        "Once the air stays above 32 F, which this forecast does not show yet: heat "
        "off; covers off."
    )
