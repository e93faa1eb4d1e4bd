"""What a method's row says is what the plan does: keys it needs, wind, harm."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from frostalert.agronomy.methods import METHODS
from frostalert.model.equipment import Equipment
from frostalert.model.method import (
    Agent,
    EquipmentKey,
    Method,
    MethodKind,
    RefusalReason,
    WindAt,
)
from frostalert.model.plan import Option, Verdict
from tests.support.plans import APRICOTS, WINDY_KMH, night_grid, plan_of, planting

ROWS = list(METHODS.values())
VALUE_OF: dict[EquipmentKey, dict[str, Any]] = {
    EquipmentKey.FLOW: {"flow_l_per_h": 2500.0},
    EquipmentKey.WATER_PER_PLANT: {"litres_per_plant": 1.0},
    EquipmentKey.TIME_EACH: {"time_each": timedelta(minutes=1)},
    EquipmentKey.COUNT: {"count": 40},
    EquipmentKey.HEAT_EACH: {"heat_each_w": 11_700.0},
    EquipmentKey.WEIGHT: {"weight_g_per_m2": 50.0},
    EquipmentKey.SKIN_EACH: {"skin_each_m2": 8.0},
}
NEEDED = [(row, key) for row in ROWS for key in (*row.needs, *row.needs_or_gain)]


def described(row: Method, *, without: EquipmentKey | None = None) -> Equipment:
    """Equipment with everything that its row asks for, or all but one."""
    item = Equipment(name="It", method=row)
    for key in (*row.needs, *row.needs_or_gain):
        if key is not without:
            item = replace(item, **VALUE_OF[key])
    return item


def the_option(item: Equipment, grid: str) -> Option:
    """What a plan says of it in the only block."""
    block = replace(APRICOTS, methods=(item.method,), area_m2=206.0)
    plan = plan_of(planting(block, equipment=(item,)), grid)
    [option] = {i.pair: i for i in (*plan.chosen, *plan.listed, *plan.refused)}.values()
    return option


def name_of(value: object) -> str:
    return value.name if isinstance(value, Method) else str(value)


@pytest.mark.parametrize("row", ROWS, ids=name_of)
def test_with_all_keys_of_its_row_a_method_is_reckoned(row: Method) -> None:
    item = described(row)
    assert item.missing == ()
    option = the_option(item, night_grid(-2.5))
    assert option.verdict is not Verdict.NOT_ESTIMATED, option.grounds


@pytest.mark.parametrize(("row", "key"), NEEDED, ids=name_of)
def test_without_one_of_them_it_is_only_listed(row: Method, key: EquipmentKey) -> None:
    item = described(row, without=key)
    assert item.missing == (key,)
    option = the_option(item, night_grid(-2.5))
    assert option.verdict is Verdict.NOT_ESTIMATED
    assert option.grounds == (RefusalReason.UNKNOWN_NUMBERS,)


@pytest.mark.parametrize("row", [row for row in ROWS if row.needs_or_gain], ids=name_of)
def test_a_gain_of_ones_own_stands_in_for_what_is_published(row: Method) -> None:
    item = Equipment(name="It", method=row, gain_delta_c=2.0, is_measured=True)
    for key in row.needs:
        item = replace(item, **VALUE_OF[key])
    assert item.missing == ()
    assert the_option(item, night_grid(-2.5)).verdict is not Verdict.NOT_ESTIMATED


@pytest.mark.parametrize("row", ROWS, ids=name_of)
def test_wind_above_its_limit_refuses_a_method_that_has_one(row: Method) -> None:
    option = the_option(described(row), night_grid(-2.5, wind_kmh=WINDY_KMH))
    is_by_wind = bool(
        {RefusalReason.TOO_WINDY, RefusalReason.FIRE_WIND} & {*option.grounds}
    )
    assert is_by_wind == (row.most_wind_mps is not None)
    if is_by_wind:
        share = 1.0 if row.wind_at is WindAt.FORECAST else 0.7
        assert option.wind_mps == pytest.approx(share * WINDY_KMH / 3.6, rel=0.08)


def test_what_wets_buds_is_water_and_what_burns_harms_in_wind() -> None:
    assert {row.kind for row in ROWS} == set(MethodKind)
    for row in ROWS:
        assert row.is_water or not row.wets_buds
        assert row.is_open_fire <= row.burns
        assert bool(row.harms_when) == (row.wets_buds or row.agent is Agent.FLAME)
