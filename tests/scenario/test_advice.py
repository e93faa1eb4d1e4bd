"""Advice that would cost a crop or hurt somebody is not given."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from frostalert.agronomy.methods import METHODS
from frostalert.model.equipment import Equipment
from frostalert.model.forecast import HOUR
from frostalert.model.method import RefusalReason
from frostalert.model.plan import GainFacts, Option, TaskKind, Verdict, WaterFacts
from frostalert.model.progress import Progress
from frostalert.model.site import Block, Farm
from frostalert.physics.start_reading import START_WET_BULB_C, start_air_c
from tests.support.grids import FIRST, frosty_hours, grid_text, layer
from tests.support.plans import (
    APRICOTS,
    CALM_KMH,
    CHERRIES,
    COVERS,
    HEATERS,
    LINE,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    WINDY_KMH,
    called,
    night_grid,
    plan_of,
    planned,
    planting,
    words_of,
)


def only_option(farm: Farm, grid: str) -> Option:
    """Return what the plan says of the only equipment in the only block."""
    plan = plan_of(farm, grid)
    [option] = (*plan.chosen, *plan.refused, *plan.listed)
    return option


@pytest.mark.parametrize("flow_l_per_h", [300.0, 600.0, 900.0, 1500.0, 2500.0, 4000.0])
def test_a_colder_night_never_turns_refused_water_into_a_start(
    flow_l_per_h: float,
) -> None:
    line = replace(LINE, flow_l_per_h=flow_l_per_h)
    farm = planting(APRICOTS, equipment=(line,))
    lows_c = [-1.5 - 0.4 * step for step in range(20)]
    # Where no bud is at risk there is nothing to start for another reason.
    options = [only_option(farm, night_grid(low)) for low in lows_c]
    by_rate = [
        item for item in options if item.grounds[:1] != (RefusalReason.DRY_ENOUGH,)
    ]
    starts = [item.verdict is Verdict.ENOUGH for item in by_rate]
    assert starts == sorted(starts, reverse=True)
    for item in by_rate:
        assert isinstance(item.facts, WaterFacts)
        if item.verdict is Verdict.ENOUGH:
            assert item.facts.table_mm_per_h is not None
            assert item.facts.rate_mm_per_h >= item.facts.table_mm_per_h
            assert item.facts.hold_chance >= 0.8
            assert item.loss_after <= 0.9 * item.loss_before


def test_a_published_rate_holds_where_it_is_published_to() -> None:
    # R. Evans, USDA-ARS, in Good Fruit Grower: 70 to 80 gpm an acre, 3.9 to 4.5 mm/h,
    # protect to about 24 degF, which is -4.4 degC, near calm.
    line = replace(LINE, flow_l_per_h=4.5 * 206.0)
    facts = only_option(planting(APRICOTS, equipment=(line,)), night_grid(-4.4)).facts
    assert isinstance(facts, WaterFacts)
    assert 3.9 <= facts.needed_mm_per_h <= 1.5 * 4.5
    # The higher of the two that were read.
    assert facts.table_mm_per_h == pytest.approx(4.5)


@pytest.mark.parametrize(
    ("name", "changes", "wind_kmh", "ground"),
    [
        ("small fires", {}, WINDY_KMH, RefusalReason.FIRE_WIND),
        ("propane heaters", {}, WINDY_KMH, RefusalReason.TOO_WINDY),
        ("micro-sprinklers", {}, WINDY_KMH, RefusalReason.TOO_WINDY),
        ("small fires", {"has_straw": True}, CALM_KMH, RefusalReason.STRAW),
        ("propane heaters", {"has_straw": True}, CALM_KMH, RefusalReason.STRAW),
        ("small fires", {"is_tunnel": True}, CALM_KMH, RefusalReason.ROOF),
        ("propane heaters", {"is_tunnel": True}, CALM_KMH, RefusalReason.ROOF),
    ],
)
def test_a_method_that_is_only_listed_is_refused_like_any_other(
    name: str, changes: dict[str, Any], wind_kmh: float, ground: RefusalReason
) -> None:
    block = replace(CHERRIES, methods=(METHODS[name],), **changes)
    night = night_grid(-3.0, wind_kmh=wind_kmh)
    option = only_option(planting(block, equipment=()), night)
    assert option.verdict is Verdict.NOT_TONIGHT
    assert option.grounds == (ground,)


@pytest.mark.parametrize(
    ("block", "line"),
    [
        (APRICOTS, replace(LINE, area_m2=None)),
        (APRICOTS, replace(LINE, flow_l_per_h=None)),
        (replace(APRICOTS, plants=None), LINE),
    ],
    ids=["ground", "flow", "size"],
)
def test_water_that_cannot_be_reckoned_is_refused_in_wind(
    block: Block, line: Equipment
) -> None:
    farm = planting(block, equipment=(line,))
    calm, windy = (
        only_option(farm, night_grid(-3.0, wind_kmh=wind))
        for wind in (CALM_KMH, WINDY_KMH)
    )
    assert calm.verdict is Verdict.NOT_ESTIMATED
    assert windy.verdict is Verdict.NOT_TONIGHT
    assert windy.grounds == (RefusalReason.TOO_WINDY,)


def test_heat_counts_the_ground_and_not_the_crowns() -> None:
    tight = planting(CHERRIES, equipment=(replace(HEATERS, area_m2=180.0),))
    wide = planting(CHERRIES, equipment=(replace(HEATERS, area_m2=300.0),))
    asked = planting(CHERRIES, equipment=(replace(HEATERS, area_m2=None),))
    held, thin = (only_option(item, night_grid(-3.0)) for item in (tight, wide))
    assert isinstance(held.facts, GainFacts)
    assert isinstance(thin.facts, GainFacts)
    assert thin.facts.high_delta_c < held.facts.high_delta_c
    assert only_option(asked, night_grid(-3.0)).grounds == (
        RefusalReason.UNKNOWN_GROUND,
    )


def test_the_same_heaters_gain_no_more_in_a_colder_night() -> None:
    farm = planting(CHERRIES, equipment=(HEATERS,))
    gains = [only_option(farm, night_grid(low)).facts for low in (-3.0, -6.0)]
    assert all(isinstance(item, GainFacts) for item in gains)
    mild, hard = (item.high_delta_c for item in gains if isinstance(item, GainFacts))
    assert hard <= mild


def test_the_start_reading_is_early_enough_for_the_driest_hour_before_it() -> None:
    # The evening is dry, the dawn moist: by the dew point of the low it would be read
    # hours after the wet bulb has fallen to the start.
    air = frosty_hours(low_c=-2.0)
    dew = [
        None if value is None else min(value - 0.5, -10.0 + 9.0 * max(0.0, 4.0 - value))
        for value in air
    ]
    grid = grid_text(air_c=air, dewpoint_c=dew, wind_kmh=CALM_KMH)
    option = only_option(planting(APRICOTS, equipment=(LINE,)), grid)
    assert isinstance(option.facts, WaterFacts)
    at_dew_minus_10 = float(start_air_c(START_WET_BULB_C, -10.0, 1013.25))
    assert option.facts.start_air_c == pytest.approx(at_dew_minus_10, abs=0.6)


def wind_from(hour: int, kmh: float) -> dict[str, Any]:
    """Wind that comes up at an hour of the grid, calm before it."""
    speeds = [CALM_KMH] * hour + [kmh] * (72 - hour)
    return {"windSpeed": layer("wmoUnit:km_h-1", speeds)}


SUNRISE_HOUR = 25  # 06:14 local; the grid begins at 05:00


def test_wind_after_sunrise_takes_no_heat_away_from_a_calm_night() -> None:
    farm = planting(CHERRIES, equipment=(HEATERS,))
    rising = night_grid(-2.5, **wind_from(SUNRISE_HOUR + 1, 20.0))
    [calm], [windy] = (
        plan_of(farm, grid).chosen for grid in (night_grid(-2.5), rising)
    )
    assert windy.verdict is calm.verdict
    assert calm.out_by_utc is None
    assert windy.out_by_utc is not None
    words = words_of(plan_of(farm, rising), farm)
    assert "Out by 6:30 am, before the wind comes up." in words
    assert "6:15 am Heat off by 6:30 am, before the wind comes up, burnt out" in words


def test_wind_before_sunrise_forbids_heat_while_buds_are_cold() -> None:
    farm = planting(CHERRIES, equipment=(HEATERS,))
    windy = night_grid(-3.0, **wind_from(SUNRISE_HOUR - 3, 20.0))
    assert only_option(farm, windy).grounds == (RefusalReason.TOO_WINDY,)


def test_wind_after_the_thaw_takes_no_water_away() -> None:
    farm = planting(APRICOTS, equipment=(LINE,))
    thawed = plan_of(farm, night_grid(-2.5)).chosen[0].end_utc
    assert thawed is not None
    hour = (thawed - FIRST) // HOUR + 1
    rising = night_grid(-2.5, **wind_from(hour, 30.0))
    assert only_option(farm, rising).verdict is Verdict.ENOUGH
    frozen = night_grid(-2.5, **wind_from(hour - 4, 30.0))
    assert only_option(farm, frozen).grounds == (RefusalReason.TOO_WINDY,)


def test_heat_that_burns_is_put_out_for_wind_that_blows_now_alone() -> None:
    farm = planting(CHERRIES, equipment=(HEATERS,))
    two_at_night = TWO_IN_THE_AFTERNOON + timedelta(hours=12)
    lit = Progress(
        is_known=True,
        starts=called(("Heaters", "Cherries"), at_utc=two_at_night - HOUR),
    )
    hour = (two_at_night - FIRST) // HOUR
    later, now = (
        plan_of(farm, night_grid(-3.0, **wind_from(at, 20.0)), two_at_night, lit)
        for at in (hour + 2, hour)
    )
    [burning] = later.chosen
    assert burning.out_by_utc == two_at_night + timedelta(hours=1, minutes=30)
    assert [item.grounds for item in now.refused] == [(RefusalReason.TOO_WINDY,)]


def test_open_fire_is_judged_by_the_wind_as_forecast() -> None:
    by_fire = replace(CHERRIES, methods=(METHODS["small fires"],))
    fires = replace(HEATERS, method=METHODS["small fires"])
    # 2.8 m/s at 10 m, which is less than 2.5 m/s among the plants.
    breeze = night_grid(-2.5, wind_kmh=10.0)
    option = only_option(planting(by_fire, equipment=(fires,)), breeze)
    assert option.grounds == (RefusalReason.FIRE_WIND,)
    heaters = only_option(planting(CHERRIES, equipment=(HEATERS,)), breeze)
    assert heaters.grounds != (RefusalReason.TOO_WINDY,)


@pytest.mark.parametrize("low_c", [-4.0, -6.0, -9.0])
def test_covers_are_never_forbidden_because_the_night_is_cold(low_c: float) -> None:
    farm = planting(STRAWBERRIES, equipment=(COVERS,))
    option = only_option(farm, night_grid(low_c))
    assert option.verdict in (Verdict.PARTLY, Verdict.LITTLE_USE)
    words = words_of(plan_of(farm, night_grid(low_c)), farm)
    assert "NOT TONIGHT" not in words
    assert "Covers: set up in Strawberries" in words


def test_a_loose_cover_is_forbidden_in_wind_and_a_held_one_is_not() -> None:
    windy = night_grid(-3.0, wind_kmh=29.0)
    loose = only_option(planting(STRAWBERRIES, equipment=(COVERS,)), windy)
    assert loose.grounds == (RefusalReason.TOO_WINDY,)
    held = replace(COVERS, has_held_edges=True)
    option = only_option(planting(STRAWBERRIES, equipment=(held,)), windy)
    assert option.can_be_chosen


def test_ground_that_does_not_list_the_method_takes_no_share_of_the_water() -> None:
    # Named for both blocks, it is laid in the one alone that lists its method.
    line = replace(LINE, area_m2=None, blocks=("Apricots", "Cherries"))
    beside = planting(APRICOTS, CHERRIES, equipment=(line,))
    rates = []
    for farm in (beside, planting(APRICOTS, equipment=(line,))):
        block = replace(farm.blocks[0], area_m2=206.0)
        known = replace(farm, blocks=(block, *farm.blocks[1:]))
        plan = plan_of(known, night_grid(-3.0))
        [option] = [i for i in (*plan.chosen, *plan.refused) if i.block == "Apricots"]
        assert isinstance(option.facts, WaterFacts)
        rates.append(option.facts.rate_mm_per_h)
    assert rates[0] == rates[1]


WEAK_LINE = replace(LINE, flow_l_per_h=1100.0)
AFTER_SUNSET = TWO_IN_THE_AFTERNOON + timedelta(hours=6, minutes=30)


def test_water_that_may_not_hold_is_set_up_by_day_and_not_started() -> None:
    farm = planting(APRICOTS, equipment=(WEAK_LINE,))
    plan = plan_of(farm, night_grid(-3.5))
    [refused] = plan.refused
    assert refused.grounds == (RefusalReason.MAY_NOT_HOLD,)
    [task] = plan.tasks
    assert (task.kind, task.pair) == (TaskKind.SET_UP, refused.pair)
    assert plan.sunset_utc is not None
    assert task.deadline_utc <= plan.sunset_utc
    words = words_of(plan, farm)
    assert "set up in Apricots" in words
    assert "start it only if a message says so" in words
    assert "Nothing you have can work" not in words


def test_what_should_stand_by_now_is_set_up_now() -> None:
    farm = planting(APRICOTS, equipment=(WEAK_LINE,))
    # Its setting up was laid before sunset, at 19:40; this is minutes before that.
    late = TWO_IN_THE_AFTERNOON + timedelta(hours=5, minutes=35)
    told = Progress(is_known=True, hands_since_utc=TWO_IN_THE_AFTERNOON)
    [task] = plan_of(farm, night_grid(-3.5), late, told).tasks
    assert task.start_utc == late
    assert task.deadline_utc == late + task.duration


def test_water_kept_ready_starts_at_its_hour_in_a_milder_night() -> None:
    farm = planting(APRICOTS, equipment=(WEAK_LINE,))
    ready = Progress(
        is_known=True,
        hands_since_utc=TWO_IN_THE_AFTERNOON,
        starts=planned((WEAK_LINE.name, "Apricots")),
    )
    told, untold = (
        plan_of(farm, night_grid(-2.6), AFTER_SUNSET, progress)
        for progress in (ready, Progress(is_known=True))
    )
    assert [item.pair for item in told.chosen] == [(WEAK_LINE.name, "Apricots")]
    assert [task.kind for task in told.tasks if task.is_by_day] == []
    # Nobody was told to set it up: that is done in the dark.
    assert TaskKind.SET_UP in [task.kind for task in untold.tasks]
    still_cold = plan_of(farm, night_grid(-3.5), AFTER_SUNSET, ready)
    assert still_cold.tasks == ()


def test_water_is_kept_ready_only_where_its_chance_alone_refuses_it() -> None:
    def tasks(**changes: Any) -> list[TaskKind]:
        line = replace(LINE, **changes)
        plan = plan_of(planting(APRICOTS, equipment=(line,)), night_grid(-3.0))
        return [task.kind for task in plan.tasks]

    assert tasks(flow_l_per_h=1000.0) == [TaskKind.SET_UP]
    # With an even chance it would save nothing; with less it does not meet the rate.
    assert tasks(flow_l_per_h=900.0) == []
    assert tasks(flow_l_per_h=600.0) == []


def test_water_kept_ready_takes_no_time_from_what_is_chosen() -> None:
    slow = replace(WEAK_LINE, set_up=timedelta(hours=14))
    beside = planting(APRICOTS, CHERRIES, equipment=(slow, HEATERS))
    alone = planting(CHERRIES, equipment=(HEATERS,))
    long, short = (plan_of(farm, night_grid(-3.5)) for farm in (beside, alone))
    [heat] = long.chosen
    assert heat.equipment == HEATERS.name
    by_day = [task for task in long.tasks if task.is_by_day]
    assert by_day == [task for task in short.tasks if task.is_by_day]
    # What does not fit before dark is not set up, and not promised.
    assert long.kept_ready == ()
    quick = planting(APRICOTS, CHERRIES, equipment=(WEAK_LINE, HEATERS))
    both = plan_of(quick, night_grid(-3.5))
    assert [item.equipment for item in both.kept_ready] == [WEAK_LINE.name]
    assert both.tasks[0].start_utc >= both.made_utc
    assert [t for t in both.tasks if not t.is_kept_ready] == list(short.tasks)
