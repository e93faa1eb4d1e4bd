"""What warms runs ahead of harm, and a reading tells it on a night that is colder."""

from dataclasses import replace
from datetime import timedelta

import pytest

from frostalert.agronomy.methods import FAN_AHEAD, METHODS
from frostalert.messages.brief_words import done_words
from frostalert.messages.wording import Wording
from frostalert.model.equipment import Equipment
from frostalert.model.plan import GainFacts, Option, Plan
from frostalert.model.site import Farm
from frostalert.physics.start_reading import LIT_ABOVE_ALARM_C
from tests.support.plans import (
    CHERRIES,
    HEATERS,
    LINE,
    night_grid,
    plan_of,
    planting,
)

FAN = Equipment(name="Fan", method=METHODS["fan"], gain_delta_c=1.0, is_measured=True)
LAMPS = Equipment(
    name="Lamps",
    method=METHODS["lamps under cover"],
    count=24,
    heat_each_w=150.0,
    skin_each_m2=10.0,
)
FLOOD = Equipment(
    name="Flood",
    method=METHODS["under-plant sprinklers"],
    flow_l_per_h=600.0,
    area_m2=200.0,
)
ALARM_C = -2.2


def farm_with(item: Equipment) -> Farm:
    block = replace(CHERRIES, methods=(item.method,), area_m2=200.0)
    return planting(block, equipment=(item,))


def chosen(item: Equipment, low_c: float = -3.0) -> tuple[Plan, Option]:
    plan = plan_of(farm_with(item), night_grid(low_c))
    [option] = plan.chosen
    return plan, option


@pytest.mark.parametrize("item", [FAN, LAMPS, FLOOD, HEATERS], ids=lambda i: i.name)
def test_what_warms_runs_ahead_of_harm_and_has_a_reading(item: Equipment) -> None:
    plan, option = chosen(item)
    assert plan.first_harm_utc is not None
    assert option.start_utc is not None
    ahead = plan.first_harm_utc - option.start_utc
    assert timedelta(minutes=10) <= ahead <= timedelta(hours=3)
    assert option.start_air_c is not None
    # Air is warmer than the buds that it is told for.
    assert ALARM_C + LIT_ABOVE_ALARM_C < option.start_air_c < 4.0
    words = done_words(option, Wording(farm_with(item).site, plan.made_utc))
    assert f"{item.name}" in words
    assert ", running by " in words
    assert ", sooner at " in words


@pytest.mark.parametrize("low_c", [-1.0, -3.0, -5.0])
def test_a_fan_turns_long_enough_to_have_mixed_the_air_before_harm(
    low_c: float,
) -> None:
    plan, fan = chosen(FAN, low_c)
    _, lamps = chosen(LAMPS, low_c)
    assert plan.first_harm_utc is not None
    assert fan.start_utc is not None
    assert plan.first_harm_utc - fan.start_utc >= FAN_AHEAD
    # The reading is that of its hour, which is warmer than where lamps go on.
    assert fan.start_air_c is not None
    assert lamps.start_air_c is not None
    assert fan.start_air_c > lamps.start_air_c


def test_a_fan_is_not_set_ahead_of_the_hour_of_water_in_its_block() -> None:
    both = replace(CHERRIES, methods=(FAN.method, LINE.method), area_m2=200.0)
    plan = plan_of(planting(both, equipment=(FAN, LINE)), night_grid(-3.0))
    _, alone = chosen(FAN)
    [fan] = [item.option for item in plan.passed_over if item.option.equipment == "Fan"]
    assert alone.start_utc is not None
    assert plan.first_harm_utc is not None
    # Water must run long before, which is ahead of harm already.
    assert plan.first_harm_utc < alone.start_utc
    assert fan.start_utc == plan.first_harm_utc
    assert fan.start_air_c is not None


def test_on_a_night_that_stays_above_harm_the_reading_still_tells() -> None:
    plan = plan_of(farm_with(FAN), night_grid(-0.5))
    [fan] = plan.chosen
    assert plan.first_harm_utc is not None
    assert fan.start_utc == plan.first_harm_utc - FAN_AHEAD
    assert fan.start_air_c is not None


def test_three_quarters_of_what_a_lamp_s_heat_gives_are_counted_on() -> None:
    _, option = chosen(LAMPS)
    assert isinstance(option.facts, GainFacts)
    assert option.facts.low_delta_c == pytest.approx(0.75 * option.facts.high_delta_c)
