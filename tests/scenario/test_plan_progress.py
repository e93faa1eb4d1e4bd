"""A plan asked for again and again: what was begun stays in it, what runs goes on."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from frostalert.agronomy.methods import METHODS
from frostalert.forecast.nws import parse_grid
from frostalert.messages.lead_words import ActionState, action_state
from frostalert.model.equipment import Equipment, Supplies
from frostalert.model.method import RefusalReason
from frostalert.model.plan import GainFacts, Option, Plan, TaskKind, Verdict, WaterFacts
from frostalert.model.progress import Progress
from frostalert.model.start import Start, StartKey, StartState
from frostalert.plan.plan import make_plan
from tests.support.grids import frosty_hours, grid_text
from tests.support.judged import nights_of
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    COVERS,
    HEATERS,
    LINE,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    called,
    night_grid,
    plan_of,
    planned,
    planting,
    words_of,
)

ALL = planting(APRICOTS, CHERRIES, STRAWBERRIES)
GRID = night_grid(-3.0)
KEYS = (
    (LINE.name, "Apricots"),
    (HEATERS.name, "Cherries"),
    (COVERS.name, "Strawberries"),
)
CALLED = Progress(hands_since_utc=TWO_IN_THE_AFTERNOON, starts=planned(*KEYS))
NOT_CALLED = Progress()
START = TWO_IN_THE_AFTERNOON + timedelta(hours=11, minutes=28)
SEVEN_IN_THE_MORNING = TWO_IN_THE_AFTERNOON + timedelta(hours=17)
LAST_DRY_START = TWO_IN_THE_AFTERNOON + timedelta(hours=13)
CALL = START - timedelta(minutes=45)
STARTED = replace(
    CALLED,
    start_since_utc=CALL,
    starts=called(*KEYS, at_utc=CALL, state=StartState.RUNNING),
)


def chosen(plan: Plan) -> set[str]:
    return {item.block for item in plan.chosen}


def kinds(plan: Plan) -> set[TaskKind]:
    return {task.kind for task in plan.tasks}


@pytest.mark.parametrize("hours", [0.0, 2.0, 4.0, 5.0, 5.6, 6.0, 8.0, 11.0])
def test_whoever_was_called_in_the_afternoon_keeps_the_plan(hours: float) -> None:
    now = TWO_IN_THE_AFTERNOON + timedelta(hours=hours)
    plan = plan_of(ALL, GRID, now, CALLED)
    assert chosen(plan) == {"Apricots", "Cherries", "Strawberries"}
    assert plan.dropped == ()


def test_shortly_before_sunset_a_late_call_drops_what_does_not_fit_before_dark() -> (
    None
):
    slow = replace(COVERS, count=80, time_each=timedelta(minutes=2))
    farm = planting(APRICOTS, STRAWBERRIES, equipment=(LINE, slow))
    late = TWO_IN_THE_AFTERNOON + timedelta(hours=5)
    assert chosen(plan_of(farm, GRID, late, CALLED)) == {"Apricots", "Strawberries"}
    plan = plan_of(farm, GRID, late, NOT_CALLED)
    assert chosen(plan) == {"Apricots"}
    words = words_of(plan, farm)
    assert "work before dark would run short" in words
    assert "what is begun already is worth finishing before dark" in words


def test_what_starts_in_the_night_may_be_set_up_late_but_not_too_late() -> None:
    farm = planting(APRICOTS, equipment=(LINE,))
    in_time = plan_of(farm, GRID, START - timedelta(minutes=20), NOT_CALLED)
    assert chosen(in_time) == {"Apricots"}
    assert in_time.tasks[0].kind is TaskKind.SET_UP
    # Half an hour of work ends after the last hour for dry buds.
    too_late = LAST_DRY_START - timedelta(minutes=20)
    plan = plan_of(farm, GRID, too_late, NOT_CALLED)
    assert [item.grounds for item in plan.refused] == [(RefusalReason.TOO_LATE,)]


def test_what_people_are_told_of_after_dark_is_set_up_from_then_on() -> None:
    farm = planting(CHERRIES, APRICOTS, equipment=(HEATERS, LINE))
    told = START - timedelta(minutes=40)
    keys = ((LINE.name, "Apricots"), (HEATERS.name, "Cherries"))
    since = Progress(hands_since_utc=told, starts=planned(*keys, since=told))
    plans = [
        plan_of(farm, GRID, told + timedelta(minutes=m), since)
        for m in range(0, 160, 5)
    ]
    for block in ("Apricots", "Cherries"):
        hours = [
            task.start_utc
            for plan in plans
            for task in plan.starts
            if block in task.blocks and task.start_utc > plan.made_utc
        ]
        # Its hour stays where it was, and comes.
        assert len(set(hours)) == 1
        assert len(hours) < len(plans)
    assert TaskKind.SET_UP in kinds(plans[0])
    assert TaskKind.SET_UP not in kinds(plans[-1])


def test_nothing_starts_before_it_stands_and_water_stands_first() -> None:
    farm = planting(CHERRIES, APRICOTS, equipment=(HEATERS, LINE))
    plan = plan_of(farm, GRID, START - timedelta(minutes=20), NOT_CALLED)
    assert chosen(plan) == {"Apricots", "Cherries"}
    ready = {
        task.equipment: task.deadline_utc
        for task in plan.tasks
        if task.kind is TaskKind.SET_UP
    }
    assert ready[LINE.name] < ready[HEATERS.name]
    later = [
        task for task in plan.tasks if task.kind in (TaskKind.START, TaskKind.LOOK)
    ]
    assert {task.equipment for task in later} == set(ready)
    for task in later:
        assert task.start_utc >= ready[task.equipment]


def test_as_the_day_goes_by_only_what_needs_daylight_is_given_up() -> None:
    slow = replace(COVERS, set_up=timedelta(minutes=60))
    farm = planting(APRICOTS, CHERRIES, STRAWBERRIES, equipment=(LINE, HEATERS, slow))
    sunset = plan_of(farm, GRID).sunset_utc
    assert sunset is not None
    had_covers = True
    for minutes in range(240, 0, -20):
        plan = plan_of(farm, GRID, sunset - timedelta(minutes=minutes), NOT_CALLED)
        assert {"Apricots", "Cherries"} <= chosen(plan)
        # Once given up they do not come back.
        assert had_covers or "Strawberries" not in chosen(plan)
        had_covers = "Strawberries" in chosen(plan)
        assert TaskKind.THERMOMETERS in kinds(plan)
        assert plan.dropped == ()
    assert not had_covers


def test_nobody_is_given_two_things_to_set_up_at_once() -> None:
    slow = replace(HEATERS, set_up=timedelta(minutes=70))
    farm = planting(APRICOTS, CHERRIES, STRAWBERRIES, equipment=(LINE, slow, COVERS))
    sunset = plan_of(farm, GRID).sunset_utc
    assert sunset is not None
    plan = plan_of(farm, GRID, sunset - timedelta(minutes=50), NOT_CALLED)
    setting_up = [task for task in plan.tasks if task.kind is TaskKind.SET_UP]
    assert len(setting_up) >= 2
    for task in setting_up:
        for other in setting_up:
            if task is not other and set(task.who) & set(other.who):
                assert (
                    task.deadline_utc <= other.start_utc
                    or other.deadline_utc <= task.start_utc
                )


def test_a_start_is_hurried_rather_than_told_for_too_late() -> None:
    farm = planting(APRICOTS, equipment=(LINE,))
    for minutes in (50, 20, 5):
        now = LAST_DRY_START - timedelta(minutes=minutes)
        plan = plan_of(farm, GRID, now, CALLED)
        [start] = [task for task in plan.tasks if task.kind is TaskKind.START]
        assert now <= start.start_utc <= start.deadline_utc <= LAST_DRY_START


def test_water_that_others_must_wait_for_is_refused_when_it_would_be_late() -> None:
    # Each could stand in time alone, but one pair of hands sets them up in turn.
    lower = replace(APRICOTS, name="Lower apricots")
    first = replace(LINE, blocks=("Apricots",), hands=0)
    first = replace(first, set_up=timedelta(minutes=20))
    second = replace(first, name="Second line", blocks=("Lower apricots",))
    farm = planting(
        APRICOTS, lower, equipment=(first, second), supplies=Supplies(hands=1)
    )
    plan = plan_of(farm, GRID, LAST_DRY_START - timedelta(minutes=75), NOT_CALLED)
    assert len(plan.chosen) == 1
    assert RefusalReason.TOO_LATE in {
        ground for i in plan.refused for ground in i.grounds
    }


@pytest.mark.parametrize(
    "starts", [called(*KEYS, at_utc=CALL), planned(*KEYS)], ids=["called", "planned"]
)
def test_only_what_somebody_answered_for_counts_as_running(
    starts: dict[StartKey, Start],
) -> None:
    farm = planting(APRICOTS, equipment=(LINE,))
    waiting = replace(STARTED, starts=starts)
    before = plan_of(farm, GRID, START + timedelta(minutes=20), waiting)
    assert TaskKind.START in kinds(before)
    late = plan_of(farm, GRID, LAST_DRY_START + timedelta(minutes=30), waiting)
    assert chosen(late) == set()
    assert [item.grounds for item in late.refused] == [(RefusalReason.TOO_LATE,)]
    words = words_of(late, farm)
    assert "If it is already running, KEEP IT ON" in words
    assert "Counted as running" not in words


def test_what_runs_stays_in_the_plan_when_the_forecast_changes() -> None:
    beside = replace(HEATERS, blocks=("Apricots",), count=200)
    both = replace(
        APRICOTS, methods=(METHODS["micro-sprinklers"], METHODS["propane heaters"])
    )
    farm = planting(both, equipment=(LINE, beside))
    lows_c = np.arange(-2.0, -6.1, -0.5)
    now = START + timedelta(hours=1)
    choices = {}
    for runs in (LINE, beside):
        key = (runs.name, "Apricots")
        starts = called(key, at_utc=CALL, state=StartState.RUNNING)
        progress = replace(STARTED, starts=starts)
        for low_c in lows_c:
            plan = plan_of(farm, night_grid(float(low_c)), now, progress)
            own = [item for item in plan.chosen if item.equipment == runs.name]
            refused = {item.equipment for item in plan.refused}
            if plan.chosen and runs.name not in refused:
                assert own
                choices[runs.name] = own[0].is_running
            if runs is LINE and plan.kind is not None and refused & {LINE.name}:
                assert {TaskKind.LOOK, TaskKind.STOP} <= kinds(plan)
    assert choices == {LINE.name: True, beside.name: True}


def test_what_was_called_and_cannot_be_reckoned_any_more_is_kept_not_started() -> None:
    key = (HEATERS.name, "Cherries")
    farm = planting(CHERRIES, equipment=(replace(HEATERS, heat_each_w=None),))
    due = START + timedelta(minutes=30)
    fresh = plan_of(farm, GRID, due, NOT_CALLED)
    assert [item.pair for item in fresh.listed] == [key]
    assert action_state(fresh, was_called=False) is ActionState.START
    plan = plan_of(farm, GRID, due, replace(CALLED, starts=called(key, at_utc=CALL)))
    assert [item.pair for item in (*plan.listed, *plan.begun)] == [key, key]
    assert action_state(plan, was_called=True) is ActionState.KEEP
    # Nobody who was not called is told that there is nothing to start.
    assert [task.pair for task in fresh.starts] == [key]
    assert plan.starts == ()


def test_water_without_numbers_keeps_its_looks_and_its_stop() -> None:
    farm = planting(APRICOTS, equipment=(LINE,))
    dry = grid_text(
        air_c=frosty_hours(low_c=-3.0), dewpoint_c=[None] * 72, wind_kmh=1.8
    )
    plan = plan_of(farm, dry, START + timedelta(hours=1), STARTED)
    assert chosen(plan) == set()
    assert {TaskKind.LOOK, TaskKind.STOP, TaskKind.DRAIN} <= kinds(plan)
    assert "Once water runs, KEEP IT ON" in words_of(plan, farm)


def test_a_start_without_work_is_told_all_the_same() -> None:
    farm = planting(APRICOTS, equipment=(LINE,))
    farm = replace(farm, rules=replace(farm.rules, set_up=timedelta(0)))
    plan = plan_of(farm, GRID, START + timedelta(minutes=90), CALLED)
    assert TaskKind.START in kinds(plan)


def test_covers_that_nobody_was_told_of_are_not_counted_as_laid() -> None:
    quick = replace(COVERS, set_up=timedelta(0), time_each=None)
    farm = planting(STRAWBERRIES, equipment=(quick,))
    sunset = plan_of(farm, GRID).sunset_utc
    assert sunset is not None
    plan = plan_of(farm, GRID, sunset + timedelta(hours=1), NOT_CALLED)
    assert chosen(plan) == set()
    assert TaskKind.COVERS_OFF not in kinds(plan)


def test_a_start_whose_time_has_passed_stays_until_it_runs() -> None:
    late = START + timedelta(minutes=20)
    waiting = plan_of(planting(APRICOTS), GRID, late, CALLED)
    [start] = [task for task in waiting.tasks if task.kind is TaskKind.START]
    assert start.start_utc == late
    running = plan_of(planting(APRICOTS), GRID, late, STARTED)
    assert TaskKind.START not in kinds(running)
    assert "Counted as running" in words_of(running, planting(APRICOTS))


def test_running_water_stays_in_the_plan_until_it_may_stop() -> None:
    late = LAST_DRY_START + timedelta(hours=1)
    plan = plan_of(ALL, GRID, late, STARTED)
    assert "Apricots" in chosen(plan)
    assert {TaskKind.LOOK, TaskKind.STOP, TaskKind.DRAIN} <= kinds(plan)
    words = words_of(plan, ALL)
    assert "Once water runs, KEEP IT ON" in words
    assert "Not on dry buds after" in words


def test_refused_water_that_may_run_keeps_its_looks_and_its_stop() -> None:
    # Nobody is known to have been called: the command without the service.
    farm = planting(APRICOTS, equipment=(LINE,))
    plan = plan_of(farm, GRID, LAST_DRY_START + timedelta(hours=1))
    assert chosen(plan) == set()
    assert {TaskKind.LOOK, TaskKind.STOP, TaskKind.DRAIN} == kinds(plan)
    words = words_of(plan, farm)
    assert "If water runs: lane line: look every 30 min" in words.lower().replace(
        "if water", "If water"
    )
    assert "Once water runs, KEEP IT ON" in words


def test_the_hours_that_water_is_needed_do_not_move_with_the_clock() -> None:
    supplies = Supplies(hands=2, water_l=60_000.0)
    farm = planting(APRICOTS, equipment=(LINE,), supplies=supplies)

    def needed(now: datetime, progress: Progress) -> tuple[float, datetime]:
        [budget] = plan_of(farm, GRID, now, progress).budgets
        return budget.needed, budget.needed_until_utc

    afternoon = needed(TWO_IN_THE_AFTERNOON, CALLED)
    night = needed(LAST_DRY_START + timedelta(hours=1), STARTED)
    later = needed(LAST_DRY_START + timedelta(hours=2), STARTED)
    assert later == night
    # A colder night might have begun earlier; what runs took nothing before its call.
    assert night[1] == afternoon[1]
    assert 0.5 * afternoon[0] < night[0] <= afternoon[0]


def test_water_that_a_colder_night_defeats_is_refused() -> None:
    def water(flow_l_per_h: float) -> Option:
        line = replace(LINE, flow_l_per_h=flow_l_per_h)
        plan = plan_of(planting(APRICOTS, equipment=(line,)), GRID)
        [option] = (*plan.chosen, *plan.refused)
        assert isinstance(option.facts, WaterFacts)
        assert option.facts.rate_mm_per_h >= option.facts.needed_mm_per_h
        return option

    assert water(2500.0).verdict is Verdict.ENOUGH
    weak = water(1000.0)
    assert isinstance(weak.facts, WaterFacts)
    assert 0.5 < weak.facts.hold_chance < 0.8
    assert weak.grounds == (RefusalReason.MAY_NOT_HOLD,)


def test_fuel_is_reckoned_for_the_cold_night_and_heat_has_its_stop_rule() -> None:
    farm = planting(CHERRIES, equipment=(HEATERS,))
    plan = plan_of(farm, GRID)
    [heat] = plan.chosen
    assert heat.cold_start_utc is not None
    assert heat.cold_end_utc is not None
    assert heat.start_utc is not None
    assert heat.cold_start_utc <= heat.start_utc
    [budget] = plan.budgets
    assert HEATERS.fuel is not None
    hours = (heat.cold_end_utc - heat.cold_start_utc) / timedelta(hours=1)
    assert budget.needed == pytest.approx(
        hours * heat.units * HEATERS.fuel.burned_per_h
    )
    words = words_of(plan, farm)
    assert "on the coldest night in ten" in words
    assert "Keep heat on until the air among the buds has stayed above" in words


def test_covers_for_some_of_the_plants_cover_some_of_the_plants() -> None:
    bags = Equipment(
        name="Bags",
        method=METHODS["row cover"],
        count=20,
        weight_g_per_m2=50.0,
        time_each=timedelta(minutes=3),
        hands=0,
    )
    block = replace(APRICOTS, methods=(METHODS["row cover"],))
    farm = planting(block, equipment=(bags,))
    plan = plan_of(farm, night_grid(-2.0))
    [cover] = plan.chosen
    assert cover.units == 20
    assert cover.facts is not None
    assert cover.facts.reached == pytest.approx(20 / 36)
    [set_up] = [task for task in plan.tasks if task.kind is TaskKind.SET_UP]
    assert set_up.duration == timedelta(minutes=30 + 60)
    assert "It reaches 20 of 36 plants" in words_of(plan, farm)


def test_a_measured_gain_leaves_the_limits_of_the_method_standing() -> None:
    ground = Equipment(
        name="Ground line",
        method=METHODS["under-plant sprinklers"],
        flow_l_per_h=100.0,
        gain_delta_c=2.0,
        is_measured=True,
    )
    block = replace(APRICOTS, methods=(METHODS["under-plant sprinklers"],))
    [trickle] = plan_of(planting(block, equipment=(ground,)), GRID).refused
    assert trickle.grounds == (RefusalReason.LINES_FREEZE,)
    flowing = replace(ground, flow_l_per_h=1500.0)
    [option] = plan_of(planting(block, equipment=(flowing,)), GRID).chosen
    assert isinstance(option.facts, GainFacts)
    assert option.facts.low_delta_c == 2.0
    assert option.facts.source == "measured here"
    assert any(resource.value == "water" for resource, _, _ in option.uses)


def test_night_tasks_name_who_does_them_and_what_to_expect() -> None:
    plan = plan_of(ALL, GRID)
    starts = {
        task.equipment: task.who for task in plan.tasks if task.kind is TaskKind.START
    }
    assert starts["Lane line"] != starts["Heaters"]
    assert {name for who in starts.values() for name in who} == {"Ines", "Tobias"}
    assert "the forecast has air of" in words_of(plan, ALL)


@pytest.mark.parametrize(
    ("warmer_c", "is_offered"), [(None, True), (0.2, False), (5.0, True)]
)
def test_a_fan_needs_warmer_air_above_where_that_is_known(
    warmer_c: float | None, is_offered: bool
) -> None:
    fan = Equipment(
        name="Fan", method=METHODS["fan"], count=1, gain_delta_c=1.5, is_measured=True
    )
    block = replace(APRICOTS, methods=(METHODS["fan"],))
    farm = planting(block, equipment=(fan,))
    run = parse_grid(night_grid(-3.0), TWO_IN_THE_AFTERNOON)
    if warmer_c is not None:
        aloft = np.full(run.hours.count, warmer_c)
        run = replace(run, hours=replace(run.hours, aloft_delta_c=aloft))
    nights = nights_of(farm, run, TWO_IN_THE_AFTERNOON)
    plan = make_plan(nights, nights.assessment.nights[0])
    assert bool(plan.chosen) == is_offered
    words = words_of(plan, farm)
    assert ("no warmer air above" in words) != is_offered
    assert ("80 m up it is 5 C warmer" in words) == (warmer_c == 5.0)


def test_nothing_is_called_for_that_would_run_only_after_its_end() -> None:
    # Somebody switches the service on at seven: the cherries are cold until eight.
    seven = SEVEN_IN_THE_MORNING
    farm = planting(CHERRIES, STRAWBERRIES)
    plan = plan_of(farm, night_grid(-3.0, updated=seven), seven, Progress())
    refused = {item.equipment: item.grounds for item in plan.refused}
    assert refused["Heaters"] == (RefusalReason.OVER_BEFORE,)
    assert not plan.starts
    words = words_of(plan, farm)
    assert "could not be running before the cold is over" in words
    # It is light: nothing is done by lamplight any more.
    assert "in the dark" not in words
    assert action_state(plan, was_called=False) is ActionState.NOTHING


def test_heat_that_still_stands_in_time_is_called_for_at_night() -> None:
    four = SEVEN_IN_THE_MORNING - timedelta(hours=3)
    farm = planting(CHERRIES)
    plan = plan_of(farm, night_grid(-3.0, updated=four), four, Progress())
    [start] = plan.starts
    [heat] = plan.chosen
    assert heat.end_utc is not None
    assert start.deadline_utc < heat.end_utc


def test_the_cold_night_s_water_ends_with_its_thaw_and_not_with_the_day() -> None:
    [option] = plan_of(planting(APRICOTS, equipment=(LINE,)), GRID).chosen
    assert option.end_utc is not None
    assert option.cold_end_utc is not None
    assert timedelta(0) <= option.cold_end_utc - option.end_utc <= timedelta(hours=2)
