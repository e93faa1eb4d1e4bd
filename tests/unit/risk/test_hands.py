"""When a night is worth calling people out for, apart from when they get ready."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import BlockNight, NightAssessment, Tier
from frostalert.model.site import AlarmAt, Block, Rules
from frostalert.physics.start_reading import LIT_ABOVE_ALARM_C
from tests.support.called import hands_of, reading_to_start
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import make_block, make_holding
from tests.support.judged import assess

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
DUE = datetime(2026, 4, 13, 12, 15, tzinfo=UTC)
CHERRIES = make_block("Cherries", "sweet-cherry", "full bloom")
RULES = Rules()


def night_of(
    block: Block, low_c: float, now: datetime = NOW, rules: Rules = RULES
) -> NightAssessment:
    body = grid_text(
        air_c=frosty_hours(low_c=low_c), updated=now - timedelta(hours=2), wind_kmh=1.8
    )
    farm = make_holding(block, rules=rules)
    return assess(farm, parse_grid(body, now), now).nights[0]


def record_of(block: Block, low_c: float) -> BlockNight:
    return night_of(block, low_c).blocks[0]


def with_chance(probability: float) -> BlockNight:
    record = record_of(CHERRIES, -2.0)
    return replace(record, probability=probability, night_probability=probability)


@pytest.mark.parametrize(
    ("chance", "are_called"),
    [(0.09, False), (0.16, False), (0.19, False), (0.21, True), (0.9, True)],
)
def test_without_worth_hands_are_called_from_a_fifth_on(
    chance: float, *, are_called: bool
) -> None:
    found = hands_of(with_chance(chance), CHERRIES, RULES)
    assert found.are_called == are_called
    assert found.reason.startswith(f"{100 * chance:.0f} % chance of reaching")


@pytest.mark.parametrize(
    ("chance", "loss_pct", "are_called"),
    [
        (0.12, 10.0, True),  # 200 at stake against 35
        (0.30, 1.0, False),  # 20 against 35
        (0.09, 50.0, False),  # never below a tenth
        (0.61, 0.1, True),  # never withheld above three fifths
    ],
)
def test_with_worth_it_is_the_saving_against_the_cost(
    chance: float, loss_pct: float, *, are_called: bool
) -> None:
    block = replace(CHERRIES, crop_value=2000.0, night_costs=(("heaters", 35.0),))
    record = replace(with_chance(chance), crop_loss_pct=loss_pct)
    assert hands_of(record, block, RULES).are_called == are_called


def test_a_night_that_is_not_worth_hands_yet_stays_one_to_be_ready_for() -> None:
    # Between the two chances, and its hour has come.
    lows = [low / 10.0 for low in range(40, -30, -1)]
    found = [night_of(CHERRIES, low, DUE) for low in lows]
    tiers = [night.tier for night in found]
    assert tiers == sorted(tiers, key=lambda tier: tier.rank)
    assert set(tiers) == {Tier.NONE, Tier.PREPARE, Tier.ACT}
    waiting = [night for night in found if night.tier is Tier.PREPARE][-1]
    assert "not yet enough to call hands" in waiting.reason
    for night in found:
        block = night.blocks[0]
        assert block.night_probability is not None
        assert (night.tier is Tier.ACT) == (block.night_probability >= 0.2)


def test_getting_ready_begins_at_its_own_chance_and_no_margin() -> None:
    # A degree above the alarm temperature is no reason by itself.
    careless = replace(RULES, near_probability=0.5, start_probability=0.5)
    record = record_of(CHERRIES, 0.5)
    assert record.probability is not None
    assert 0.2 < record.probability < 0.5
    assert night_of(CHERRIES, 0.5).tier.rank
    assert night_of(CHERRIES, 0.5, rules=careless).tier is Tier.NONE


APPLES = replace(
    make_block("Apples", "apple", "full bloom"), alarm_at=AlarmAt.CROP_LOSS
)


def test_a_crop_that_thins_itself_calls_hands_by_the_crop_that_is_lost() -> None:
    by_harm = replace(APPLES, alarm_at=AlarmAt.FIRST_HARM)
    called = [
        low / 10.0
        for low in range(20, -60, -1)
        if hands_of(record_of(APPLES, low / 10.0), APPLES, RULES).are_called
    ]
    by_first = [
        low / 10.0
        for low in range(20, -60, -1)
        if hands_of(record_of(by_harm, low / 10.0), by_harm, RULES).are_called
    ]
    # Fifteen in a hundred blossoms make a crop: it takes a colder night.
    assert max(called) < max(by_first) - 1.0
    words = hands_of(record_of(APPLES, max(called)), APPLES, RULES).reason
    assert "losing over 5 % of the crop" in words


def test_before_full_bloom_was_seen_every_bud_counts() -> None:
    early = replace(APPLES, stage="full pink")
    for low in (1.0, -1.0, -3.0):
        record = record_of(early, low)
        by_harm = replace(early, alarm_at=AlarmAt.FIRST_HARM)
        assert hands_of(record, early, RULES) == hands_of(record, by_harm, RULES)


@pytest.mark.parametrize("above_c", [1.5, 0.4, -0.5])
def test_the_start_reading_is_of_the_air_above_the_bud(above_c: float) -> None:
    record = replace(record_of(CHERRIES, -2.0), start_air_c=None)
    threshold, bud = record.stage.threshold, record.bud
    assert threshold is not None
    assert bud is not None
    record = replace(record, site_low_c=bud.low_c + above_c)
    # A bud that is warmer than its air brings no start forward, and delays none.
    expected_c = threshold.alarm_c + LIT_ABOVE_ALARM_C + max(0.0, above_c)
    assert reading_to_start(record) == pytest.approx(expected_c)
    by_water = replace(record, start_air_c=expected_c + 2.0)
    assert reading_to_start(by_water) == pytest.approx(expected_c + 2.0)
