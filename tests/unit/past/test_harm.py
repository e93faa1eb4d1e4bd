"""What a low that came would have done to blocks that nobody protected."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from frostalert.agronomy.kill import crop_loss_pct, kill_pct
from frostalert.forecast.nws import parse_grid
from frostalert.model.past import BlockHarm, PastNight
from frostalert.model.site import AlarmAt, Block, Farm
from frostalert.past.harm import costs_of, harms_of
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import make_block, make_holding
from tests.support.judged import assess

NOW = datetime(2026, 4, 12, 23, tzinfo=UTC)
SEEN = date(2026, 4, 11)
APPLES = make_block("Apples", "apple", "full bloom", seen=SEEN)
T10_C, T90_C = (28.0 - 32.0) / 1.8, (25.0 - 32.0) / 1.8


def harm_at(came_c: float, block: Block = APPLES) -> tuple[BlockHarm, float, float]:
    """The harm of a low; with that of the forecast: the site's low, and its bud's."""
    farm: Farm = make_holding(block)
    run = parse_grid(grid_text(air_c=frosty_hours(low_c=-1.0)), NOW)
    record = assess(farm, run, NOW).nights[0]
    bud, site_c = record.blocks[0].bud, record.low_c
    assert bud is not None
    assert site_c is not None
    [harm] = harms_of(record, farm, site_c, came_c)
    return harm, site_c, bud.low_c


def test_buds_go_as_far_below_the_air_as_forecast() -> None:
    _, site_c, bud_c = harm_at(0.0)
    assert bud_c < site_c
    at_limit = T10_C - (bud_c - site_c)
    colder, warmer = harm_at(at_limit - 0.05)[0], harm_at(at_limit + 0.05)[0]
    assert (colder.is_harmed, warmer.is_harmed) == (True, False)
    assert harm_at(at_limit)[0].kill_pct == pytest.approx(10.0, abs=0.1)


def test_hands_are_needed_for_a_twentieth_of_the_crop_where_that_counts() -> None:
    block = replace(APPLES, alarm_at=AlarmAt.CROP_LOSS)
    _, site_c, bud_c = harm_at(0.0)
    found = {}
    for low_c in (T10_C - 0.1, (T10_C + T90_C) / 2.0, T90_C - 0.5):
        harm = harm_at(low_c - (bud_c - site_c), block)[0]
        kill = float(kill_pct(low_c, T10_C, T90_C))
        loss = float(crop_loss_pct(kill, 100.0, 15.0))
        assert harm.is_harmed
        assert harm.is_worth_hands == (loss > 5.0)
        found[low_c] = harm.is_worth_hands
    assert list(found.values()) == [False, False, True]


def night(day: int, kill: float | None, *, harmed: bool = True) -> PastNight:
    return PastNight(
        night=date(2025, 4, day),
        is_judged=True,
        came_c=-3.0,
        harms=(
            BlockHarm(
                block="Apples",
                is_harmed=harmed,
                is_worth_hands=harmed,
                kill_pct=kill,
            ),
        ),
    )


def test_what_one_night_kills_is_not_there_for_the_next() -> None:
    block = replace(APPLES, crop_value=1000.0)
    [cost] = costs_of([night(1, 80.0), night(2, 80.0)], [block])
    # 4 % of the buds are left, where 15 % make a full crop.
    assert cost.lost_pct == pytest.approx(100.0 * (1.0 - 4.0 / 15.0))
    assert cost.value == pytest.approx(10.0 * (cost.lost_pct or 0.0))


def test_nights_without_harm_cost_nothing() -> None:
    assert costs_of([night(1, 3.0, harmed=False)], [APPLES]) == ()


def test_without_a_kill_curve_no_share_is_told() -> None:
    [cost] = costs_of([night(1, None)], [APPLES])
    assert (cost.lost_pct, cost.value) == (None, None)
