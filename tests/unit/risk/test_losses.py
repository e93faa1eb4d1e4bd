"""Kill, crop and money: what a night takes from what is left."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.agronomy.kill import (
    crop_loss_pct,
    kill_pct,
    kills_at_nodes,
    mean_over_error,
)
from frostalert.forecast.nws import parse_grid
from frostalert.messages.views import night_view
from frostalert.messages.wording import Wording
from frostalert.model.site import Block
from frostalert.risk.block_hours import derive_block_hours, organ_of
from frostalert.risk.site_hours import prepare_site_hours
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import SITE, make_block, make_holding
from tests.support.judged import assess

NOW = datetime(2026, 4, 13, 0, tzinfo=UTC)
RUN = parse_grid(grid_text(), NOW)


@pytest.mark.parametrize(("low", "sigma"), [(-3.0, 2.6), (0.5, 2.6), (-5.0, 1.0)])
def test_expected_kill_and_crop_loss_agree_with_monte_carlo(
    low: float, sigma: float
) -> None:
    draws = np.random.default_rng(3).normal(low, sigma, 400_000)
    kills = kill_pct(draws, -2.8, -4.4)
    # The error of the mean of so many draws is below 0.08 percent points.
    at_nodes = kills_at_nodes(low, sigma, -2.8, -4.4)
    assert mean_over_error(at_nodes) == pytest.approx(kills.mean(), abs=0.3)
    losses = crop_loss_pct(kills, 80.0, 15.0)
    found = mean_over_error(crop_loss_pct(at_nodes, 80.0, 15.0))
    assert found == pytest.approx(losses.mean(), abs=0.5)


def test_forty_per_cent_of_apple_bloom_is_no_loss_of_crop_and_of_cherry_it_is() -> None:
    # Shares needed: Utah State University Extension, IPM-012, 2011.
    assert crop_loss_pct(40.0, 100.0, 15.0) == 0.0
    assert crop_loss_pct(40.0, 100.0, 100.0) == pytest.approx(40.0)
    assert crop_loss_pct(90.0, 100.0, 15.0) == pytest.approx(100.0 / 3.0)


@given(kill=st.floats(0, 100), left=st.floats(1, 100), needed=st.floats(1, 100))
def test_crop_loss_keeps_its_bounds(kill: float, left: float, needed: float) -> None:
    loss = float(crop_loss_pct(kill, left, needed))
    assert -1e-9 <= loss <= 100.0
    assert loss <= float(crop_loss_pct(100.0, left, needed)) + 1e-9


def blocks_on_nights(block: Block) -> list[tuple[float, float]]:
    nights = assess(make_holding(block), RUN, NOW).nights
    rows = [night.blocks[0] for night in nights]
    return [(row.left_before_pct or 0.0, row.expected_kill_pct or 0.0) for row in rows]


def test_losses_counted_and_expected_carry_forward() -> None:
    rows = blocks_on_nights(replace(make_block(), buds_lost_pct=30.0))
    assert rows[0][0] == 70.0
    for (left, kill), (following, _) in pairwise(rows):
        assert following == pytest.approx(left * (1.0 - kill / 100.0))


def lines(block: Block) -> tuple[str, tuple[str, ...], str]:
    farm = make_holding(block, site=replace(SITE, currency="USD"))
    assessment = assess(farm, RUN, NOW)
    view = night_view(assessment.nights[0], farm, Wording(farm.site, NOW))
    row = view.blocks[0]
    return row.crop_line, row.money_lines, row.start_line


def test_both_shares_and_the_rule_are_said() -> None:
    crop_line, money, _ = lines(make_block("Cherries", "sweet-cherry", "full bloom"))
    assert "of the living buds" in crop_line
    assert "100 % of the blossoms make a full crop (Utah State" in crop_line
    assert money == ()


def test_without_a_published_share_nothing_is_said_of_the_crop() -> None:
    assert lines(make_block())[0] == ""


def test_money_is_weighed_only_where_it_is_given() -> None:
    cherry = make_block("Cherries", "sweet-cherry", "full bloom")
    rich = replace(cherry, crop_value=4000.0, night_costs=(("propane heaters", 60.0),))
    [line] = lines(rich)[1]
    assert line.startswith("At stake ")
    assert "a night of propane heaters costs 60 USD: worth it if it saves" in line
    poor = replace(rich, crop_value=50.0)
    assert "not worth it on money alone" in lines(poor)[1][0]


def test_a_start_reading_is_given_where_water_is_planned() -> None:
    watered = make_block(methods=("micro-sprinklers",))
    _, _, start = lines(watered)
    assert start.startswith("Have water running when the wet bulb falls to 33 F (the ")
    assert "by this forecast at" in start
    assert lines(make_block())[2] == ""


def test_dry_buds_that_stay_above_are_left_dry() -> None:
    watered = make_block(methods=("micro-sprinklers",))
    farm = make_holding(watered)
    run = parse_grid(grid_text(air_c=frosty_hours(low_c=-0.5)), NOW)
    assessment = assess(farm, run, NOW)
    view = night_view(assessment.nights[0], farm, Wording(farm.site, NOW))
    assert view.blocks[0].start_line.startswith("Dry buds are expected to stay above")
    assert "leave them dry" in view.blocks[0].start_line


def test_water_runs_from_the_reading_that_the_message_names() -> None:
    watered = make_block(methods=("micro-sprinklers",))
    farm = make_holding(watered, make_block("Dry ones"))
    run = parse_grid(grid_text(), NOW)
    night = assess(farm, run, NOW).nights[0]
    wet, dry = night.blocks
    assert wet.water_start_utc is not None
    assert night.sunset_utc is not None
    assert dry.danger_start_utc is not None
    assert dry.water_start_utc is None
    assert night.sunset_utc <= wet.water_start_utc < dry.danger_start_utc
    assert night.act_at_utc == wet.water_start_utc - farm.rules.set_up
    # The wet bulb is at the start of watering at that hour, by straight lines.
    hour = (wet.water_start_utc - run.hours.first_utc) / timedelta(hours=1)
    shared = prepare_site_hours(run, farm.site, NOW)
    organs = (organ_of(farm, watered, shared),)
    hours = derive_block_hours((shared,), farm.site, (watered,), organs)
    places = np.arange(hours.wet_bulb_c.shape[1])
    at_start = np.interp(hour, places, hours.wet_bulb_c[0])
    is_at_sunset = wet.water_start_utc == night.sunset_utc
    assert is_at_sunset or at_start == pytest.approx(0.5, abs=0.01)
