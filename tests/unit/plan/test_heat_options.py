"""How many heaters burn: each that saves more, and none that nothing feeds."""

from dataclasses import replace

import pytest

from frostalert.model.equipment import Equipment, Fuel
from frostalert.model.method import RefusalReason
from frostalert.model.plan import GainFacts, Option, Plan, UnprotectedReason, Verdict
from frostalert.model.progress import Progress
from frostalert.model.start import StartState
from frostalert.plan.block_case import LEAST_SAVING
from tests.support.plans import (
    CHERRIES,
    HEATERS,
    TWO_IN_THE_AFTERNOON,
    called,
    night_grid,
    plan_of,
    planting,
    words_of,
)

LOWS_C = (-1.0, -2.0, -3.0, -4.5, -6.0, -8.0)
NIGHT = TWO_IN_THE_AFTERNOON.replace(day=13, hour=12)


def with_heaters(count: int, **changes: object) -> Equipment:
    return replace(HEATERS, count=count, **changes)  # type: ignore[arg-type]


def plan_with(item: Equipment, low_c: float) -> Plan:
    return plan_of(planting(CHERRIES, equipment=(item,)), night_grid(low_c))


def of_heat(plan: Plan) -> Option:
    [option] = (*plan.chosen, *plan.refused)
    return option


def gained(option: Option) -> tuple[float, float]:
    assert isinstance(option.facts, GainFacts)
    assert option.facts.gained_wpm2 is not None
    assert option.facts.lost_wpm2 is not None
    return option.facts.gained_wpm2, option.facts.lost_wpm2


@pytest.mark.parametrize("count", [1, 2, 3])
def test_heat_is_offered_by_what_it_saves_and_not_by_its_share_of_the_loss(
    count: int,
) -> None:
    few = [of_heat(plan_with(with_heaters(count), low_c)) for low_c in LOWS_C]
    for option in few:
        stays, lost = gained(option)
        assert stays < 0.5 * lost
        saved = option.loss_before - option.loss_after
        is_enough = saved >= LEAST_SAVING * option.loss_before
        assert option.can_be_chosen == is_enough
        if not is_enough:
            assert option.grounds == (RefusalReason.NO_GAIN,)
    assert {item.can_be_chosen for item in few} == {True, False}


def test_all_heaters_burn_where_each_further_one_still_saves() -> None:
    cold = of_heat(plan_with(with_heaters(12), -4.5))
    stays, lost = gained(cold)
    assert cold.units == 12
    # More than the night takes away, since not all of it may stay.
    assert stays > lost
    fewer = of_heat(plan_with(with_heaters(8), -4.5))
    assert gained(fewer)[0] >= lost
    assert cold.loss_after < fewer.loss_after
    assert isinstance(cold.facts, GainFacts)
    assert isinstance(fewer.facts, GainFacts)
    # It is credited with no more at best; what it is sure of grows.
    assert cold.facts.high_delta_c == fewer.facts.high_delta_c
    assert cold.facts.low_delta_c > fewer.facts.low_delta_c


def test_none_burns_more_where_those_hold_that_make_up_for_the_loss() -> None:
    mild = of_heat(plan_with(with_heaters(12), -1.0))
    assert mild.verdict is Verdict.HOLDS
    assert mild.units < 12
    stays, lost = gained(mild)
    assert stays * (mild.units - 1) / mild.units < lost <= stays


def test_no_heater_burns_that_saves_nothing_more() -> None:
    many = of_heat(plan_with(with_heaters(60, fuel=None), -6.0))
    stays, lost = gained(many)
    assert many.units < 60
    assert stays * (many.units - 1) / many.units < 2.0 * lost <= stays


@pytest.mark.parametrize("low_c", LOWS_C)
@pytest.mark.parametrize("count", [2, 5, 12])
def test_no_plan_offers_and_refuses_the_same_equipment_in_a_block(
    count: int, low_c: float
) -> None:
    farm = planting(CHERRIES, equipment=(with_heaters(count),))
    plan = plan_of(farm, night_grid(low_c))
    done = {item.pair for item in plan.chosen}
    done |= {item.option.pair for item in plan.passed_over}
    assert done.isdisjoint(item.pair for item in plan.refused)
    assert ("NOT TONIGHT" in words_of(plan, farm)) == (not done)
    assert len(plan.refused) <= 1


def test_fewer_heaters_burn_where_the_fuel_lasts_for_no_more() -> None:
    fuel = Fuel(burned_per_h=1.7, stock=50.0, unit="L")
    plan = plan_with(with_heaters(12, fuel=fuel), -3.0)
    [heat] = plan.chosen
    [budget] = plan.budgets
    assert 0 < heat.units < 4
    assert budget.lasts_until_utc is None
    # One more would be one too many.
    assert budget.needed <= 50.0 < budget.needed * (heat.units + 1) / heat.units
    saved = heat.loss_before - heat.loss_after
    assert saved >= LEAST_SAVING * heat.loss_before


def test_fuel_for_too_few_heaters_is_not_burned_and_says_what_is_short() -> None:
    fuel = Fuel(burned_per_h=1.7, stock=20.0, unit="L")
    plan = plan_with(with_heaters(12, fuel=fuel), -6.0)
    assert plan.chosen == ()
    [left] = plan.left_out
    assert left.why is UnprotectedReason.NOT_ENOUGH
    assert left.short == ("fuel",)
    [budget] = left.budgets
    assert budget.short > 0.0


def test_what_burns_goes_on_with_no_more_heaters_than_the_fuel_lasts_for() -> None:
    fuel = Fuel(burned_per_h=1.7, stock=70.0, unit="L")
    farm = planting(CHERRIES, equipment=(with_heaters(12, fuel=fuel),))
    by_day = plan_of(farm, night_grid(-3.0))
    key = ("Heaters", "Cherries")
    starts = called(key, at_utc=NIGHT, state=StartState.RUNNING)
    progress = Progress(hands_since_utc=TWO_IN_THE_AFTERNOON, starts=starts)
    by_night = plan_of(farm, night_grid(-3.0), NIGHT, progress)
    [before], [runs] = by_day.chosen, by_night.chosen
    assert runs.is_running
    assert runs.units == before.units
    assert by_night.budgets[0].lasts_until_utc is None
