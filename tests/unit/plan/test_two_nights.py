"""Two nights in a row and one tank: what is left, and which night gets it."""

from dataclasses import replace
from datetime import timedelta
from itertools import product
from typing import Any

import pytest

from frostalert.cycle.planning import progress_of
from frostalert.forecast.nws import parse_grid
from frostalert.messages.lead_words import ActionState, action_state
from frostalert.model.equipment import Supplies
from frostalert.model.notice import NightHistory
from frostalert.model.plan import Plan, UnprotectedReason
from frostalert.model.progress import UNKNOWN_PROGRESS, Progress
from frostalert.model.site import Farm
from frostalert.model.start import StartKey
from frostalert.plan.block_case import block_cases
from frostalert.plan.plan import make_plan
from frostalert.plan.two_nights import LEAST_MORE
from tests.support.grids import frosty_hours, grid_text
from tests.support.judged import nights_of
from tests.support.plans import (
    APRICOTS,
    CALM_KMH,
    CHERRIES,
    LINE,
    TWO_IN_THE_AFTERNOON,
    called,
    night_grid,
    plan_of,
    planned,
    planting,
    words_of,
)

ONE_DAY = timedelta(days=1)


def two_nights(first_c: float, second_c: float) -> str:
    """A grid with two nights of our own; the third is mild."""
    # Joined at the warmest hour, 01 UTC, which is the same on each day.
    one, two, mild = (frosty_hours(low_c) for low_c in (first_c, second_c, 6.0))
    air = [*one[:37], *two[37:61], *mild[61:]]
    dew = [None if value is None else value - 3.0 for value in air]
    return grid_text(air_c=air, dewpoint_c=dew, wind_kmh=CALM_KMH)


def farm_with(water_l: float, refill_l_per_h: float = 0.0) -> Farm:
    supplies = Supplies(hands=2, water_l=water_l, refill_l_per_h=refill_l_per_h)
    return planting(APRICOTS, equipment=(LINE,), supplies=supplies)


def plan_with(water_l: float, first_c: float, second_c: float, **given: float) -> Plan:
    return plan_of(farm_with(water_l, **given), two_nights(first_c, second_c))


def test_a_tank_that_lasts_for_both_says_what_is_left() -> None:
    plan = plan_with(90_000.0, -3.0, -3.0)
    assert plan.tank is not None
    assert plan.tank.lasts
    assert plan.tank.gets == plan.night
    assert plan.tank.next_night == plan.night + ONE_DAY
    [budget] = plan.budgets
    assert plan.tank.used_l == pytest.approx(budget.needed)
    assert plan.tank.left_l == pytest.approx(90_000.0 - budget.needed)
    farm = farm_with(90_000.0)
    assert "the tank lasts for both" in words_of(plan, farm)


def test_of_two_nights_alike_the_nearer_gets_it() -> None:
    plan = plan_with(40_000.0, -3.0, -3.0)
    assert plan.tank is not None
    assert [item.block for item in plan.chosen] == ["Apricots"]
    assert (plan.tank.gets, plan.tank.lasts) == (plan.night, False)
    assert plan.tank.left_l < plan.tank.needed_l
    words = words_of(plan, farm_with(40_000.0))
    assert "it does not last for both, and this night gets it" in words


def test_a_tank_is_kept_for_a_night_in_which_it_saves_far_more() -> None:
    plan = plan_with(40_000.0, -1.0, -3.5)
    assert plan.tank is not None
    assert plan.tank.gets == plan.night + ONE_DAY
    assert plan.tank.is_kept_back
    assert plan.chosen == ()
    [left] = plan.left_out
    assert left.short == ("water",)
    assert left.why is UnprotectedReason.KEPT_BACK
    # Something could stop it: it is kept, and mail and text lead with that.
    assert action_state(plan, was_called=False) is ActionState.KEPT_BACK
    words = words_of(plan, farm_with(40_000.0))
    assert "The tank does not last for both nights: it is kept for tomorrow" in words


def cherries_by_water(water_l: float, **changes: Any) -> Farm:
    """A crop that needs all of its buds, or as many as it is said to."""
    crop = replace(CHERRIES.crop, **changes)
    block = replace(
        CHERRIES, crop=crop, plants=36, canopy_m=2.7, methods=APRICOTS.methods
    )
    supplies = Supplies(hands=2, water_l=water_l)
    return planting(block, equipment=(LINE,), supplies=supplies)


def buds_kept(grid: str) -> tuple[float, float]:
    """What is left of all buds after two nights if the first, or the second, is wet."""
    farm = cherries_by_water(400_000.0)
    run = parse_grid(grid, TWO_IN_THE_AFTERNOON)
    nights = nights_of(farm, run, TWO_IN_THE_AFTERNOON)
    dry, wet = [], []
    for night in nights.assessment.nights[:2]:
        [case] = block_cases(nights, farm, night, UNKNOWN_PROGRESS)
        [water] = make_plan(nights, night).chosen
        dry.append(1.0 - case.in_buds.loss_before)
        wet.append(1.0 - water.buds_lost)
    return wet[0] * dry[1], dry[0] * wet[1]


@pytest.mark.parametrize("lows_c", [*product((-1.0, -2.0, -3.0, -4.0), repeat=2)])
def test_what_the_first_night_kills_is_taken_off_the_second_once(
    lows_c: tuple[float, float],
) -> None:
    grid = two_nights(*lows_c)
    tonight, tomorrow = buds_kept(grid)
    plan = plan_of(cherries_by_water(40_000.0), grid)
    assert plan.tank is not None
    assert not plan.tank.lasts
    assert plan.tank.is_kept_back == (tomorrow - tonight >= LEAST_MORE)
    assert plan.tank.is_kept_back == (plan.chosen == ())


def test_what_water_leaves_of_the_buds_is_what_the_second_night_puts_at_risk() -> None:
    farm = cherries_by_water(40_000.0, needed_pct=30.0)
    plan = plan_of(farm, two_nights(-3.0, -3.5))
    # After water tonight so many buds are left that tomorrow costs less fruit.
    assert plan.tank is not None
    assert not plan.tank.is_kept_back
    [water] = plan.chosen
    assert water.loss_after < 0.01 < water.buds_lost
    kept = plan_of(farm, two_nights(-3.0, -4.0))
    assert kept.tank is not None
    assert kept.tank.is_kept_back


def test_water_that_people_were_told_of_is_not_taken_for_the_next_night() -> None:
    progress = Progress(
        hands_since_utc=TWO_IN_THE_AFTERNOON,
        starts=planned(("Lane line", "Apricots")),
    )
    grid = two_nights(-1.0, -3.5)
    plan = plan_of(farm_with(40_000.0), grid, progress=progress)
    assert plan.tank is not None
    assert plan.tank.gets == plan.night
    assert plan.chosen


def test_what_flows_in_by_day_counts_for_the_second_night() -> None:
    dry, fed = (
        plan_with(40_000.0, -3.0, -3.0, refill_l_per_h=rate) for rate in (0.0, 500.0)
    )
    assert dry.tank is not None
    assert fed.tank is not None
    assert fed.tank.left_l == pytest.approx(dry.tank.left_l + 12_000.0)
    # Never more than the tank holds.
    full = plan_with(40_000.0, -3.0, -3.0, refill_l_per_h=2400.0)
    assert full.tank is not None
    assert full.tank.left_l <= 40_000.0


@pytest.mark.parametrize("second_c", [6.0, 3.0])
def test_a_mild_second_night_asks_for_nothing(second_c: float) -> None:
    assert plan_with(40_000.0, -3.0, second_c).tank is None


def test_an_open_supply_is_shared_with_nobody() -> None:
    farm = replace(farm_with(1.0), supplies=Supplies(hands=2))
    assert plan_of(farm, two_nights(-3.0, -3.0)).tank is None


def test_a_supply_that_the_night_before_drew_on_lasts_only_if_it_was_refilled() -> None:
    farm, grid = farm_with(90_000.0), night_grid(-3.0)
    begun = frozenset({("Lane line", "Apricots")})
    plan = plan_of(farm, grid, progress=Progress(begun_before=begun))
    [budget] = plan.budgets
    assert budget.is_drawn_on
    told = words_of(plan, farm).replace("\n  ", " ")
    assert (
        "on hand: enough if it was refilled; what the night before used is not "
        "taken off." in told
    )
    for other in (frozenset[StartKey](), frozenset({("Covers", "Strawberries")})):
        plan = plan_of(farm, grid, progress=Progress(begun_before=other))
        assert not plan.budgets[0].is_drawn_on
        assert "on hand: enough." in words_of(plan, farm).replace("\n  ", " ")


def test_fuel_that_burned_the_night_before_is_told_apart_from_water() -> None:
    farm = planting(APRICOTS, CHERRIES, supplies=Supplies(hands=2, water_l=90_000.0))
    begun = frozenset({("Heaters", "Cherries")})
    plan = plan_of(farm, night_grid(-3.0), progress=Progress(begun_before=begun))
    assert {item.what: item.is_drawn_on for item in plan.budgets} == {
        "water": False,
        "fuel for Heaters": True,
    }


@pytest.mark.parametrize("is_closed", [True, False])
def test_the_night_after_one_with_calls_knows_what_was_begun(
    *, is_closed: bool
) -> None:
    key, other = ("Lane line", "Apricots"), ("Heaters", "Cherries")
    first = TWO_IN_THE_AFTERNOON.date()
    starts = called(key, at_utc=TWO_IN_THE_AFTERNOON) | planned(other)
    told = NightHistory(night=first, starts=tuple(starts.values()), is_closed=is_closed)
    known = progress_of({first: told}, (), TWO_IN_THE_AFTERNOON + ONE_DAY)
    assert known[first + ONE_DAY].begun_before == {key}
    assert known[first + ONE_DAY].starts == {}
    assert (first in known) == (not is_closed)
    # Nobody was called: nothing was begun.
    idle = replace(told, starts=tuple(planned(key).values()))
    assert first + ONE_DAY not in progress_of({first: idle}, (), TWO_IN_THE_AFTERNOON)
