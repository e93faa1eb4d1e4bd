"""A holding without any equipment: what a house has, in plan, mail and text."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from frostalert.agronomy.methods import HOUSEHOLD, METHODS
from frostalert.messages.sms import gsm_length
from frostalert.model.channel import ChannelKind
from frostalert.model.equipment import Equipment
from frostalert.model.plan import Plan
from frostalert.model.progress import Progress
from frostalert.model.site import Farm
from tests.scenario.test_plan_messages import AT_NIGHT, TWO_HOURS, sent
from tests.support.mails import everything
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    COVERS,
    HEATERS,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    plan_of,
    planting,
    words_of,
)

BED = replace(STRAWBERRIES, methods=(), has_straw=False)
TREES = replace(APRICOTS, methods=())
BARE = planting(BED, TREES, equipment=())
MIDNIGHT = TWO_IN_THE_AFTERNOON + timedelta(hours=10)


def texts(plan: Plan) -> list[str]:
    assert plan.household is not None
    return [item.text for item in plan.household.means]


def test_low_plants_get_what_a_house_has_and_trees_do_not() -> None:
    plan = plan_of(BARE, night_grid(-3.0))
    assert plan.household is not None
    assert plan.household.blocks == ("Strawberries",)
    assert plan.household.means == HOUSEHOLD
    words = words_of(plan, BARE)
    assert "Cover Strawberries before dark, with what you have at home:" in words
    assert "- Sheets or blankets to the ground" in words
    assert "FAO, Frost Protection, vol. 1, 2005, p. 23" in words
    assert "Snow on blossom stays until it melts" in words
    assert "Nothing you have can work" not in words
    trees = plan_of(planting(TREES, equipment=()), night_grid(-3.0))
    assert trees.household is None
    assert "Nothing you have can work tonight." in words_of(
        trees, planting(TREES, equipment=())
    )


def test_each_of_them_has_a_source() -> None:
    for item in HOUSEHOLD:
        assert item.source.startswith(("common practice, no source", "FAO"))


@pytest.mark.parametrize(
    "farm",
    [
        planting(STRAWBERRIES, equipment=(COVERS,)),
        # Covers that lie elsewhere are told of with what keeps them off here.
        planting(STRAWBERRIES, equipment=()),
        # What is listed is done by one's own experience.
        planting(replace(BED, methods=(METHODS["row cover"],)), equipment=()),
    ],
    ids=["covers", "covers not described", "listed alone"],
)
def test_whoever_has_means_of_their_own_is_told_of_those(farm: Farm) -> None:
    assert plan_of(farm, night_grid(-3.0)).household is None


def test_equipment_for_others_takes_nothing_from_low_plants(tmp_path: Path) -> None:
    farm = planting(BED, CHERRIES, equipment=(HEATERS,))
    plan = plan_of(farm, night_grid(-3.0))
    assert plan.household is not None
    assert plan.household.blocks == (BED.name,)
    messages = sent(tmp_path, night_grid(-3.0), TWO_HOURS, farm=farm)
    mail, text = (messages[kind] for kind in (ChannelKind.EMAIL, ChannelKind.SMS))
    assert mail.subject.startswith("Get ready from ")
    assert "Cover Strawberries before dark, with what you have at home:" in mail.text
    assert "Heaters Cherries by" in text.text
    assert "Sheets, buckets: Strawberries." in text.text


def test_where_the_methods_of_low_plants_are_refused_a_house_still_has_sheets() -> None:
    by_hand = replace(BED, methods=(METHODS["hand wetting"],))
    cans = Equipment(
        name="Watering cans",
        method=METHODS["hand wetting"],
        litres_per_plant=0.5,
        time_each=timedelta(minutes=5),
    )
    plan = plan_of(planting(by_hand, equipment=(cans,)), night_grid(-3.0))
    assert plan.chosen == ()
    assert plan.household is not None
    assert plan.household.blocks == (BED.name,)


def test_no_lamp_on_straw_and_nothing_by_day_once_it_is_dark() -> None:
    straw = planting(replace(BED, has_straw=True), equipment=())
    assert not any("lights" in item for item in texts(plan_of(straw, night_grid(-3.0))))
    fresh = Progress(hands_since_utc=MIDNIGHT)
    late = plan_of(BARE, night_grid(-3.0), MIDNIGHT, fresh)
    assert not any("by day, so that" in item for item in texts(late))
    assert "Cover Strawberries now, in the dark" in words_of(late, BARE)


@pytest.mark.parametrize("progress", [None, TWO_IN_THE_AFTERNOON])
def test_who_was_told_by_day_is_not_told_again_at_night(progress: object) -> None:
    known = (
        Progress(is_known=False)
        if progress is None
        else Progress(hands_since_utc=TWO_IN_THE_AFTERNOON)
    )
    plan = plan_of(BARE, night_grid(-3.0), MIDNIGHT, known)
    assert plan.household is not None
    assert plan.household.is_laid
    words = words_of(plan, BARE)
    assert "Strawberries: what covers them stays on until morning." in words
    assert "Buckets" not in words
    morning = MIDNIGHT + timedelta(hours=8)
    assert plan_of(BARE, night_grid(-6.0), morning, known).household is None


def test_the_afternoon_mail_and_text_name_it_in_place_of_nothing(
    tmp_path: Path,
) -> None:
    messages = sent(tmp_path, night_grid(-3.0), TWO_HOURS, farm=BARE)
    mail, text = (messages[kind] for kind in (ChannelKind.EMAIL, ChannelKind.SMS))
    assert mail.subject.startswith("Cover low plants: frost tonight")
    assert mail.text.startswith(
        "Cover Strawberries before dark, with what you have at home: frost tonight"
    )
    assert "Sheets or blankets to the ground" in mail.text
    assert "Use what you have at home." in mail.text
    assert "Unprotected: no method is listed for it." in mail.text  # the trees
    assert "Nothing you have" not in mail.text
    assert len(mail.text.split()) <= 350
    assert "Buckets or cans upside down" in everything(mail)
    assert "COVER LOW PLANTS BEFORE DARK." in text.text
    assert gsm_length(text.text) <= 160


def test_told_only_at_night_it_is_laid_by_lamplight(tmp_path: Path) -> None:
    messages = sent(tmp_path, night_grid(-3.0), AT_NIGHT, farm=BARE)
    assert "COVER LOW PLANTS NOW." in messages[ChannelKind.SMS].text
    assert "now, in the dark" in messages[ChannelKind.EMAIL].text
