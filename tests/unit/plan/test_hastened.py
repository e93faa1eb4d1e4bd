"""A reading that nobody has borne out hastens starts, and changes nothing else."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from frostalert.agronomy.methods import METHODS
from frostalert.cycle.planning import plan_night
from frostalert.forecast.nws import parse_grid
from frostalert.model.equipment import Equipment, Fuel, Supplies
from frostalert.model.nights import Facts
from frostalert.model.plan import Plan, Task, TaskKind
from frostalert.model.progress import Progress
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Block
from frostalert.model.start import StartKey, StartState
from frostalert.risk.assess import assess_all
from tests.support.grids import layer
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    HEATERS,
    LINE,
    TWO_IN_THE_AFTERNOON,
    called,
    night_grid,
    planned,
    planting,
)

ELEVEN, DUSK = (TWO_IN_THE_AFTERNOON + timedelta(hours=hours) for hours in (9.0, 5.5))
POST, SHED = (Sensor(name=name, kind=SensorKind.REFERENCE) for name in ("Post", "Shed"))
LOW_C = -2.8
RICH = replace(HEATERS, fuel=Fuel(burned_per_h=1.7, stock=900.0, unit="L"))
BIG = replace(LINE, flow_l_per_h=5000.0)
FAN = Equipment(name="Fan", method=METHODS["fan"], gain_delta_c=1.0, is_measured=True)


def far_below(*sensors: Sensor, air_c: float = -6.0) -> tuple[Reading, ...]:
    """What thermometers read at eleven, eight degrees and more below the forecast."""
    return tuple(Reading(sensor=s.name, at_utc=ELEVEN, air_c=air_c) for s in sensors)


def plan_by(
    block: Block,
    item: Equipment,
    *readings: Reading,
    now: datetime = ELEVEN,
    progress: Progress | None = None,
    supplies: Supplies | None = None,
    low_c: float = LOW_C,
    **forecast: Any,
) -> Plan:
    """The plan of a frosty night, of what people were told by day to set up."""
    farm = planting(block, equipment=(item,), supplies=supplies)
    farm = replace(farm, sensors=(POST, SHED))
    run = parse_grid(night_grid(low_c, **forecast), now)
    nights = assess_all(farm, Facts(runs=(run,), readings=readings), now)
    known = progress or Progress(
        is_known=True,
        hands_since_utc=TWO_IN_THE_AFTERNOON,
        starts=planned((item.name, block.name)),
    )
    return plan_night(nights, nights.assessment.nights[0], known)


def start_of(plan: Plan) -> Task:
    [start] = plan.starts
    return start


def what_is_done(plan: Plan) -> list[tuple[StartKey, int, str]]:
    return [(i.pair, i.units, i.verdict.value) for i in plan.chosen]


@pytest.mark.parametrize("item", [RICH, FAN], ids=lambda item: item.name)
def test_what_would_start_hours_later_starts_when_a_reading_says_harm_began(
    item: Equipment,
) -> None:
    block = replace(CHERRIES, methods=(item.method,), area_m2=200.0)
    plain = plan_by(block, item)
    read = plan_by(block, item, *far_below(POST))
    assert start_of(plain).start_utc > ELEVEN + timedelta(hours=2)
    assert start_of(read).start_utc == ELEVEN
    # It takes nothing out of the plan and puts nothing in.
    assert what_is_done(read) == what_is_done(plain) != []
    assert [(i.equipment, i.grounds) for i in read.refused] == [
        (i.equipment, i.grounds) for i in plain.refused
    ]
    # Looked at from when it runs.
    [look] = [task for task in read.tasks if task.kind is TaskKind.LOOK]
    assert look.start_utc == start_of(read).deadline_utc


def test_the_longer_run_is_in_the_budget() -> None:
    plain, read = (plan_by(CHERRIES, RICH, *given) for given in ((), far_below(POST)))
    [before], [after] = plain.budgets, read.budgets
    # Three hours more than from the first cold hour of the coldest night of ten.
    assert after.needed - before.needed == pytest.approx(3 * 12 * 1.7)


@pytest.mark.parametrize(("stock", "is_hastened"), [(110.0, False), (150.0, True)])
def test_what_would_not_last_to_the_morning_keeps_its_hour(
    stock: float, *, is_hastened: bool
) -> None:
    tight = replace(HEATERS, fuel=Fuel(burned_per_h=1.7, stock=stock, unit="L"))
    plain = plan_by(CHERRIES, tight, low_c=-1.5)
    read = plan_by(CHERRIES, tight, *far_below(POST), low_c=-1.5)
    assert what_is_done(read) == what_is_done(plain)
    assert (start_of(read).start_utc < start_of(plain).start_utc) is is_hastened


@pytest.mark.parametrize(
    ("water_l", "now", "air_c", "is_hastened"),
    [
        # By the reading the night is colder, and the water holds it as well.
        (None, DUSK, 1.0, True),
        (1_000_000.0, DUSK, 1.0, True),
        # By the reading dry buds would freeze under it, or it gives too little.
        (None, ELEVEN, -6.0, False),
        (None, ELEVEN, -2.0, False),
    ],
)
def test_water_starts_earlier_only_where_the_reading_lets_it_hold(
    water_l: float | None, now: datetime, air_c: float, *, is_hastened: bool
) -> None:
    supplies = Supplies(hands=2, crew=("Ines", "Tobias"), water_l=water_l)
    lone = Reading(sensor="Post", at_utc=now, air_c=air_c)
    plain = plan_by(APRICOTS, BIG, now=now, supplies=supplies)
    read = plan_by(APRICOTS, BIG, lone, now=now, supplies=supplies)
    assert what_is_done(read) == what_is_done(plain) != []
    assert (start_of(read).start_utc < start_of(plain).start_utc) is is_hastened


def test_heat_that_may_not_burn_in_the_wind_of_that_hour_keeps_its_own() -> None:
    # Until one in the morning, local time.
    winds = layer("wmoUnit:km_h-1", [24.0] * 20 + [1.8] * 52)
    plain = plan_by(CHERRIES, RICH, windSpeed=winds)
    read = plan_by(CHERRIES, RICH, *far_below(POST), windSpeed=winds)
    assert start_of(read).start_utc == start_of(plain).start_utc
    assert what_is_done(read) == what_is_done(plain) != []


def test_what_is_only_listed_is_hastened_too() -> None:
    bare = replace(HEATERS, heat_each_w=None)
    plain, read = (plan_by(CHERRIES, bare, *given) for given in ((), far_below(POST)))
    assert [item.pair for item in read.listed] == [item.pair for item in plain.listed]
    assert start_of(read).start_utc == ELEVEN < start_of(plain).start_utc


def test_a_reading_that_is_borne_out_and_one_that_is_not_start_at_one_hour() -> None:
    alone = plan_by(CHERRIES, RICH, *far_below(POST, air_c=-2.0))
    both = plan_by(CHERRIES, RICH, *far_below(POST, SHED, air_c=-2.0))
    assert start_of(alone).start_utc == start_of(both).start_utc == ELEVEN
    # Only the second look changes what is done.
    assert alone.chosen[0].loss_before < both.chosen[0].loss_before


def test_who_answered_the_earlier_call_is_not_called_to_the_forecast_s_hour() -> None:
    later = ELEVEN + timedelta(minutes=80)
    key = (RICH.name, CHERRIES.name)
    progress = Progress(
        is_known=True,
        hands_since_utc=TWO_IN_THE_AFTERNOON,
        start_since_utc=ELEVEN,
        starts=called(key, at_utc=ELEVEN, state=StartState.RUNNING),
    )
    read = plan_by(CHERRIES, RICH, *far_below(POST), now=later, progress=progress)
    assert [item.is_running for item in read.chosen] == [True]
    assert read.starts == ()


def test_a_start_that_a_reading_calls_hands_to_is_not_one_if_called() -> None:
    mild = 0.2
    plain = plan_by(CHERRIES, RICH, low_c=mild)
    read = plan_by(CHERRIES, RICH, *far_below(POST), low_c=mild)
    assert start_of(plain).is_if_called
    assert not start_of(read).is_if_called
