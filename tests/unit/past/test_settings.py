"""Which settings past springs are played with."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.model.past import SettingName
from frostalert.model.site import AlarmAt, Farm, Rules
from frostalert.model.warmth import Sighting
from frostalert.past.settings import Setting, scaled, settings_to_try
from tests.support.holdings import make_block, make_holding

APPLES = make_block("Apples", "apple", "full bloom")
BLOOM = Sighting(
    block="Apples", crop="apple", stage="full bloom", seen=APPLES.stage_seen
)


def tried(farm: Farm, *seen: Sighting) -> dict[SettingName, Setting]:
    return {item.name: item for item in settings_to_try(farm, seen)}


def test_the_present_setting_is_first_and_forgets_what_this_season_lost() -> None:
    farm = make_holding(replace(APPLES, buds_lost_pct=60.0))
    first = settings_to_try(farm)[0]
    assert first.name is SettingName.PRESENT
    assert first.farm.rules == farm.rules
    assert first.farm.blocks[0].buds_lost_pct == 0.0


def test_careful_calls_sooner_and_less_careful_later() -> None:
    found = tried(make_holding(APPLES))
    careful, less = (
        found[name].farm.rules
        for name in (SettingName.CAREFUL, SettingName.LESS_CAREFUL)
    )
    plain = Rules()
    assert careful.start_probability < plain.start_probability < less.start_probability
    assert careful.near_probability < plain.near_probability < less.near_probability
    keys = "chance_near = 0.09, chance_far = 0.15, chance_start = 0.12"
    assert found[SettingName.CAREFUL].keys == keys


def test_what_is_to_be_written_is_all_that_was_played() -> None:
    costed = replace(APPLES, crop_value=900.0, night_costs=(("heaters", 60.0),))
    rules = Rules(near_probability=0.1, clear_probability=0.08)
    found = tried(replace(make_holding(costed), rules=rules))[SettingName.CAREFUL]
    assert found.farm.rules.clear_probability == pytest.approx(0.054)
    assert "chance_clear = 0.054" in found.keys
    assert found.keys.endswith("no night_costs")
    assert found.farm.blocks[0].night_costs == ()


@given(
    near=st.floats(0.01, 0.99),
    start=st.floats(0.01, 0.99),
    factor=st.floats(0.1, 10.0),
)
def test_scaled_chances_stay_chances_and_clearing_below_them(
    near: float, start: float, factor: float
) -> None:
    rules = scaled(
        Rules(near_probability=near, far_probability=near, start_probability=start),
        factor,
    )
    assert 0.0 < rules.clear_probability < rules.near_probability < 1.0
    assert rules.clear_probability < rules.far_probability
    assert 0.0 < rules.start_probability < 1.0


def test_by_worth_needs_what_things_are_worth() -> None:
    bare = tried(make_holding(APPLES))[SettingName.BY_WORTH]
    assert "crop_value" in bare.why_not
    costed = replace(APPLES, crop_value=900.0, night_costs=(("heaters", 60.0),))
    found = tried(make_holding(costed))
    # Who goes by worth already is shown the other way.
    assert SettingName.BY_WORTH not in found
    assert found[SettingName.BY_CHANCE].farm.blocks[0].night_costs == ()
    assert found[SettingName.PRESENT].farm.blocks[0].night_costs


def test_loss_of_crop_needs_a_bloom_that_was_seen() -> None:
    found = tried(make_holding(APPLES))[SettingName.CROP_LOSS]
    assert "--crop-stages" in found.why_not
    seen = tried(make_holding(APPLES), BLOOM)[SettingName.CROP_LOSS]
    assert not seen.why_not
    assert seen.farm.blocks[0].alarm_at is AlarmAt.CROP_LOSS


def test_who_goes_by_loss_of_crop_is_shown_first_harm() -> None:
    farm = make_holding(replace(APPLES, alarm_at=AlarmAt.CROP_LOSS))
    found = tried(farm)[SettingName.FIRST_HARM]
    assert found.farm.blocks[0].alarm_at is AlarmAt.FIRST_HARM
    assert not found.why_not


@pytest.mark.parametrize("crop", ["apricot", "strawberry"])
def test_crops_without_a_published_share_cannot_go_by_loss(crop: str) -> None:
    block = make_block(
        "B", crop, "first white" if crop == "apricot" else "open blossom"
    )
    found = tried(make_holding(block))[SettingName.CROP_LOSS]
    assert "apple, pear and peach" in found.why_not
