"""A freeze that begins by day is planned from its first harm, not from dark."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from frostalert.agronomy.methods import METHODS
from frostalert.forecast.nws import parse_grid
from frostalert.messages.lead_words import by_when
from frostalert.messages.wording import Wording
from frostalert.model.channel import ChannelKind
from frostalert.model.method import RefusalReason
from frostalert.model.plan import TaskKind, Verdict
from frostalert.plan.plan import make_plan
from tests.scenario.test_plan_messages import sent
from tests.support.grids import grid_text, layer
from tests.support.judged import nights_of
from tests.support.mails import everything
from tests.support.plans import (
    APRICOTS,
    CALM_KMH,
    CHERRIES,
    COVERS,
    HEATERS,
    LINE,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    plan_of,
    planting,
)

MIDNIGHT = datetime(2026, 4, 12, 7, tzinfo=UTC)
"""The local midnight at which 12 April begins."""
ALL = planting(APRICOTS, CHERRIES, STRAWBERRIES)


def at(hour: float) -> datetime:
    """A local hour of 12 April."""
    return MIDNIGHT + timedelta(hours=hour)


def cold_between(start_h: int, end_h: int, **changes: Any) -> str:
    """Mild air but for some hours of -3 degC, counted from that midnight."""
    air = [-3.0 if start_h <= 5 + n < end_h else 8.0 for n in range(72)]
    given: dict[str, Any] = {"wind_kmh": CALM_KMH, **changes}
    return grid_text(air_c=air, dewpoint_c=[value - 3.0 for value in air], **given)


AFTERNOON = cold_between(15, 34)
"""From three in the afternoon to ten in the morning; the sun sets at 19:40."""


def test_all_stands_ready_before_the_first_harm() -> None:
    plan = plan_of(ALL, AFTERNOON, at(12.1))
    assert plan.is_harm_by_day
    assert plan.first_harm_utc is not None
    assert at(14.5) < plan.first_harm_utc < at(15)
    laid = [task for task in plan.tasks if task.kind is TaskKind.SET_UP]
    assert {task.equipment for task in laid} == {"Lane line", "Heaters", "Covers"}
    for task in laid:
        assert task.deadline_utc <= plan.first_harm_utc
    run_by = {item.pair: item.start_utc for item in plan.chosen}
    for start in plan.starts:
        needed = run_by[start.pair]
        assert needed is not None
        assert start.deadline_utc <= needed < at(15)
    # The thermometer is read before the first start, not two hours after sunset.
    [read] = [task for task in plan.tasks if task.kind is TaskKind.READ]
    assert read.start_utc <= min(start.start_utc for start in plan.starts)


def test_covers_alone_lie_before_the_harm_and_mail_and_text_say_so(
    tmp_path: Path,
) -> None:
    farm = planting(STRAWBERRIES, equipment=(COVERS,))
    plan = plan_of(farm, AFTERNOON, at(12.1))
    [laid] = [task for task in plan.tasks if task.kind is TaskKind.SET_UP]
    assert laid.deadline_utc == plan.first_harm_utc
    wait = at(12.1) - TWO_IN_THE_AFTERNOON
    messages = sent(tmp_path, AFTERNOON, wait, farm=farm)
    assert "By 2:55pm: Covers Strawberries." in messages[ChannelKind.SMS].text
    page = everything(messages[ChannelKind.EMAIL])
    assert "Prepare by 2:55 pm" in page
    assert "before dark at" not in page


@pytest.mark.parametrize(
    ("cold_from_h", "hours", "brief", "first"),
    [
        (
            15,
            (12.1, 14.3),
            "LAY COVERS BEFORE 2:55pm, ",
            "Lay covers before 2:55 pm: frost ",
        ),
        (
            22,
            (16.0, 21.2),
            "COVERS STAY ON, NOTHING TO START",
            "Nothing to start, covers stay on",
        ),
    ],
)
def test_covers_stay_on_only_once_they_are_due(
    tmp_path: Path, cold_from_h: int, hours: tuple[float, ...], brief: str, first: str
) -> None:
    farm = planting(STRAWBERRIES, equipment=(COVERS,))
    grid = cold_between(cold_from_h, 34)
    waits = [at(hour) - TWO_IN_THE_AFTERNOON for hour in hours]
    messages = sent(tmp_path, grid, *waits, farm=farm)
    mail = messages[ChannelKind.EMAIL]
    assert messages[ChannelKind.SMS].text.startswith(brief)
    assert mail.text.startswith(first)
    assert "Check that covers lie close to the ground" in everything(mail)


def test_a_text_orders_no_covers_that_the_mail_takes_as_laid(tmp_path: Path) -> None:
    farm = planting(STRAWBERRIES, APRICOTS, equipment=(COVERS, LINE))
    for hours, is_job in (
        ((12.1,), True),
        ((12.1, 14.3), False),
        ((12.1, 15.2), False),
    ):
        waits = [at(hour) - TWO_IN_THE_AFTERNOON for hour in hours]
        messages = sent(tmp_path / str(hours[-1]), AFTERNOON, *waits, farm=farm)
        text, mail = messages[ChannelKind.SMS].text, messages[ChannelKind.EMAIL].text
        assert ("set up covers" in mail.lower()) == is_job
        assert ("Covers Straw" in text) == is_job, text


def test_what_should_lie_by_now_is_laid_now() -> None:
    farm = planting(STRAWBERRIES, equipment=(COVERS,))
    plan = plan_of(farm, AFTERNOON, at(12.1))
    wording = Wording(farm.site, plan.made_utc)
    assert by_when(plan, wording) == "before 2:55 pm"
    for harm, when in ((at(12), "now"), (at(12.1), "now"), (at(20), "before dark")):
        assert by_when(replace(plan, first_harm_utc=harm), wording) == when


def test_dry_buds_that_freeze_by_day_are_not_wetted() -> None:
    # Frozen since three in the afternoon: what is set up now comes too late.
    plan = plan_of(planting(APRICOTS, equipment=(LINE,)), AFTERNOON, at(16))
    [water] = plan.refused
    assert water.grounds == (RefusalReason.TOO_LATE,)


def test_water_serves_against_a_freeze_that_begins_after_sunrise() -> None:
    plan = plan_of(planting(APRICOTS, equipment=(LINE,)), cold_between(8, 34), at(6.5))
    [water] = plan.chosen
    assert water.verdict is Verdict.ENOUGH
    assert water.start_utc is not None
    assert at(7.5) < water.start_utc < at(8.1)


def test_covers_stay_on_while_buds_beneath_them_would_freeze() -> None:
    farm = planting(STRAWBERRIES, equipment=(COVERS,))
    nights = nights_of(farm, parse_grid(AFTERNOON, at(12.1)), at(12.1))
    night = nights.assessment.nights[0]
    plan = make_plan(nights, night)
    [cover] = plan.chosen
    [off] = [task for task in plan.tasks if task.kind is TaskKind.COVERS_OFF]
    assert cover.end_utc is not None
    assert night.heat_out_utc is not None
    # Nor while the air still freezes: people are told to go by that.
    assert off.start_utc == night.heat_out_utc > cover.end_utc > at(33)


@pytest.mark.parametrize(("windy_from_h", "is_offered"), [(10, False), (30, True)])
def test_wind_by_day_forbids_fire_against_a_freeze_by_day(
    windy_from_h: int, *, is_offered: bool
) -> None:
    fires = replace(HEATERS, name="Fires", method=METHODS["small fires"])
    block = replace(CHERRIES, methods=(fires.method,))
    # Rises two hours after the morning's freeze began, or only the next day.
    winds = [20.0 if 5 + n >= windy_from_h else CALM_KMH for n in range(72)]
    grid = cold_between(8, 14, windSpeed=layer("wmoUnit:km_h-1", winds))
    plan = plan_of(planting(block, equipment=(fires,)), grid, at(6.5))
    assert bool(plan.chosen) is is_offered
    if not is_offered:
        assert [i.grounds for i in plan.refused] == [(RefusalReason.FIRE_WIND,)]
