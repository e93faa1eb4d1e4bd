"""Water over plants by the hour that is hardest on it, whatever the others are."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.model.forecast import HOUR
from frostalert.model.plan import Option, WaterFacts
from frostalert.model.progress import UNKNOWN_PROGRESS
from frostalert.plan.block_case import BlockAtRisk, block_cases
from frostalert.plan.water_options import water_option
from tests.support.judged import nights_of
from tests.support.plans import (
    APRICOTS,
    LINE,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    planting,
)

FARM = planting(APRICOTS, equipment=(LINE,))
CALM_MPS, BREEZE_MPS = 0.3, 1.6
AREA_M2 = 206.12


def case_of(low_c: float = -4.5) -> BlockAtRisk:
    run = parse_grid(night_grid(low_c), TWO_IN_THE_AFTERNOON)
    nights = nights_of(FARM, run, TWO_IN_THE_AFTERNOON)
    night = nights.assessment.nights[0]
    [case] = block_cases(nights, FARM, night, UNKNOWN_PROGRESS)
    return case


def in_wind(case: BlockAtRisk, *, from_h: int, to_h: int) -> Option:
    """Its water, with a breeze in some hours from its start and calm in the others."""
    start = (case.start_utc - case.hours.first_utc) // HOUR
    wind_mps = np.full(case.hours.air_c.size, CALM_MPS)
    wind_mps[start + from_h : start + to_h] = BREEZE_MPS
    hours = replace(case.hours, wind_2m_mps=wind_mps)
    return water_option(replace(case, hours=hours), LINE, AREA_M2)


def table_mm_per_h(option: Option) -> float:
    assert isinstance(option.facts, WaterFacts)
    assert option.facts.table_mm_per_h is not None
    return option.facts.table_mm_per_h


def test_one_windy_hour_asks_for_the_rate_of_a_windy_night() -> None:
    case = case_of(-6.0)
    calm, always = in_wind(case, from_h=0, to_h=0), in_wind(case, from_h=0, to_h=30)
    once = in_wind(case, from_h=2, to_h=3)
    assert table_mm_per_h(calm) < table_mm_per_h(always)
    assert table_mm_per_h(once) == table_mm_per_h(always)


def test_dry_buds_beside_an_hour_of_rain_are_not_wetted_too_late() -> None:
    case = case_of()
    first = case.hours.first_utc
    rain_wet = np.zeros(case.hours.air_c.size)
    rain_wet[3] = 1.0
    wet = replace(case, hours=replace(case.hours, rain_wet=rain_wet))
    latest = first + 2 * HOUR
    assert not wet.is_too_late(first + 3 * HOUR, latest)
    # Between a wet hour and a dry one buds may be dry.
    assert wet.is_too_late(first + 3 * HOUR + timedelta(minutes=30), latest)
    assert not wet.is_too_late(first + HOUR, latest)


@pytest.mark.parametrize(("last_c", "hours"), [(0.0, 8), (0.5, 7)])
def test_water_runs_until_the_wet_bulb_has_left_freezing(
    last_c: float, hours: int
) -> None:
    # UF/IFAS after Circular 348: not before the wet bulb is above 32 degF.
    case = case_of()
    start = (case.start_utc - case.hours.first_utc) // HOUR
    wet_bulb_c = np.full(case.hours.air_c.size, 2.0)
    wet_bulb_c[start : start + 7] = -1.0
    wet_bulb_c[start + 7] = last_c
    cold = replace(
        case,
        hours=replace(case.hours, wet_bulb_c=wet_bulb_c),
        record=replace(case.record, wet_bulb_above_zero_utc=None),
        end_utc=case.start_utc,
    )
    option = water_option(cold, LINE, AREA_M2)
    assert option.end_utc == cold.hours.moment(start + hours)
