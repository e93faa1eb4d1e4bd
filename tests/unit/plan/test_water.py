"""Water over plants by the hour that is hardest on it, whatever the others are."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from frostalert.agronomy.methods import METHODS
from frostalert.forecast.nws import parse_grid
from frostalert.model.forecast import HOUR, FloatArray
from frostalert.model.method import RefusalReason
from frostalert.model.plan import GainFacts, Option, Resource, Verdict, WaterFacts
from frostalert.model.progress import UNKNOWN_PROGRESS
from frostalert.plan.block_case import BlockAtRisk, block_cases
from frostalert.plan.dry_start import latest_dry_start
from frostalert.plan.options import options_of
from frostalert.plan.served import Served
from frostalert.plan.warm_judgement import cold_hours_h
from frostalert.plan.warm_options import under_plant_options
from frostalert.plan.water_options import water_option
from frostalert.plan.wind import needed_hours
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
    return water_option(replace(case, hours=hours), LINE, Served(AREA_M2))


def without_humidity(case: BlockAtRisk, *, at: slice = slice(None)) -> BlockAtRisk:
    """The case without humidity in some hours, as a forecast that gives none has it."""

    def holed(values: FloatArray) -> FloatArray:
        values = values.copy()
        values[at] = np.nan
        return values

    hours = replace(
        case.hours,
        dewpoint_c=holed(case.hours.dewpoint_c),
        wet_bulb_c=holed(case.hours.wet_bulb_c),
        wet_c=holed(case.hours.wet_c),
    )
    record = case.record
    if at == slice(None):
        record = replace(record, start_air_c=None, water_start_utc=None, wet=None)
    return replace(case, hours=hours, record=record)


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
    option = water_option(cold, LINE, Served(AREA_M2))
    assert option.end_utc == cold.hours.moment(start + hours)


@pytest.mark.parametrize(
    ("gpm_an_acre", "gain_f"),
    [(40.5, (1.0, 3.0)), (39.0, (1.0, 2.0)), (30.5, (1.0, 2.0)), (29.5, (0.0, 1.0))],
)
def test_water_under_plants_gains_what_is_published_for_its_rate(
    gpm_an_acre: float, gain_f: tuple[float, float]
) -> None:
    # 40 gpm an acre: R. Evans, USDA-ARS; 30 and 15: University of California trials.
    litres_per_h_m2 = gpm_an_acre * 3.785412 * 60.0 / 4046.856
    under = replace(
        LINE,
        method=METHODS["under-plant sprinklers"],
        flow_l_per_h=litres_per_h_m2 * AREA_M2,
    )
    [option] = under_plant_options(case_of(), under, Served(AREA_M2))
    assert isinstance(option.facts, GainFacts)
    assert option.units == 0  # sprinklers are not counted
    gains_f = (1.8 * option.facts.low_delta_c, 1.8 * option.facts.high_delta_c)
    assert gains_f == pytest.approx(gain_f)


def test_the_hour_at_which_the_sun_rises_is_not_calm_before_sunrise() -> None:
    """Heat is judged by the wind of the night: the hour of sunrise is day already."""
    case = case_of()
    method = METHODS["propane heaters"]
    needed = np.flatnonzero(needed_hours(case, method, case.end_utc))
    last = case.hours.moment(int(needed[-1]))
    on_the_hour = replace(case, sunrise_utc=last)
    kept = np.flatnonzero(needed_hours(on_the_hour, method, case.end_utc))
    assert kept.tolist() == needed[:-1].tolist()


@pytest.mark.parametrize("is_whole_night", [True, False])
def test_wind_and_tables_refuse_water_whose_humidity_is_not_known(
    *, is_whole_night: bool
) -> None:
    case = case_of()
    after_start = (case.start_utc - case.hours.first_utc) // HOUR + 2
    one = slice(after_start, after_start + 1)
    case = without_humidity(case, at=slice(None) if is_whole_night else one)
    hours = case.hours
    windy = replace(
        case,
        hours=replace(
            hours,
            wind_2m_mps=np.full(hours.air_c.size, 7.0),
            wind_10m_mps=np.full(hours.air_c.size, 9.0),
        ),
    )
    option = water_option(windy, LINE, Served(AREA_M2))
    assert (option.verdict, option.grounds) == (
        Verdict.NOT_TONIGHT,
        (RefusalReason.TOO_WINDY,),
    )
    assert option.wind_mps is not None
    little = replace(LINE, flow_l_per_h=0.1 * AREA_M2)
    option = water_option(case, little, Served(AREA_M2))
    assert (option.verdict, option.grounds) == (
        Verdict.TOO_LITTLE,
        (RefusalReason.LESS_THAN_NEEDED,),
    )
    enough = water_option(case, LINE, Served(AREA_M2))
    assert (enough.verdict, enough.grounds) == (
        Verdict.NOT_ESTIMATED,
        (RefusalReason.NO_HUMIDITY,),
    )


def test_water_of_unknown_humidity_runs_by_the_driest_row_of_a_table() -> None:
    # Ontario strawberries: at a dew point of -8.3 degC water starts at 4.4 degC of air.
    case = without_humidity(case_of())
    option = water_option(case, LINE, Served(AREA_M2))
    assert option.start_utc is not None
    assert option.start_air_c == 4.4
    air_c = case.hours.air_c[(option.start_utc - case.hours.first_utc) // HOUR]
    assert air_c <= 4.4
    assert option.start_utc < case.start_utc
    # Dry buds are not wetted later than in any damper air.
    latest = latest_dry_start(case)
    known = latest_dry_start(case_of())
    assert latest is not None
    assert known is not None
    assert option.not_dry_after_utc == latest <= known
    late = replace(case, now_utc=latest)
    assert water_option(late, LINE, Served(AREA_M2)).grounds == (
        RefusalReason.TOO_LATE,
    )


@pytest.mark.parametrize("method", ["micro-sprinklers", "under-plant sprinklers"])
def test_what_falls_between_the_plants_is_gone_from_the_tank(method: str) -> None:
    # 36 crowns shade half of the ground that the line waters: all of it flows.
    flow_l_per_h = 8.0 * AREA_M2
    line = replace(LINE, method=METHODS[method], flow_l_per_h=flow_l_per_h)
    case = case_of()
    for served, share in (
        (Served(2 * AREA_M2), 1.0),
        (Served(2 * AREA_M2, 0.5), 0.5),
        (Served(2 * AREA_M2, 0.7), 0.7),
        # Of two blocks on a line for one, the one that runs takes all.
        (Served(AREA_M2, 0.5), 1.0),
    ):
        [option] = options_of(case, line, served)
        [litres] = [amount for what, _, amount in option.uses if what is Resource.WATER]
        start, end = option.cold_start_utc, option.cold_end_utc
        hours = (end - start) / HOUR if start and end else cold_hours_h(case)
        assert litres == pytest.approx(share * flow_l_per_h * hours)
