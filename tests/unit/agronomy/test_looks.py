"""Which look at a block counts, and what may be seen next."""

from dataclasses import replace
from datetime import timedelta

import pytest

from frostalert.agronomy.looks import (
    goes_back,
    is_newer,
    is_of_this_season,
    next_stages,
    stages_of,
    steps_back,
    with_looks,
)
from frostalert.model.warmth import PhoneLook, Sighting
from tests.support.plans import APRICOTS, CHERRIES, planting

SEEN = APRICOTS.stage_seen
APRICOT = APRICOTS.crop


def look(days: int, stage: str = "in the shuck", **changes: str) -> PhoneLook:
    seen = {"block": APRICOTS.name, "crop": APRICOT.name, **changes}
    return PhoneLook(
        sighting=Sighting(
            block=seen["block"],
            crop=seen["crop"],
            stage=stage,
            seen=SEEN + timedelta(days=days),
        ),
        person="Ines",
        file_stage=APRICOTS.stage,
        file_seen=SEEN,
    )


@pytest.mark.parametrize(
    ("sent", "counts"),
    [
        (look(1), True),
        (look(0), True),
        (look(-1), False),
        (look(1, "dormant"), True),
        (look(1, "second leaf"), False),
        (look(1, crop="pear"), False),
        (look(1, block="Pears"), False),
    ],
)
def test_the_newest_of_file_and_phone_counts(sent: PhoneLook, *, counts: bool) -> None:
    assert is_newer(sent, APRICOTS) is counts
    farm = with_looks(planting(CHERRIES, APRICOTS), (sent,))
    assert (farm.blocks[1].stage == sent.sighting.stage) is counts
    assert farm.blocks[0] == CHERRIES


def test_a_file_written_after_a_look_of_the_same_day_counts() -> None:
    written = replace(APRICOTS, stage="green fruit")
    assert not is_newer(look(0), written)
    assert is_newer(look(1), written)


def test_what_follows_is_offered_in_order_without_the_harvest() -> None:
    names = tuple(APRICOT.stage_names)
    assert next_stages(APRICOT, names[0], 2) == names[1:3]
    assert next_stages(APRICOT, names[-1], 3) == ()
    assert next_stages(APRICOT, "dormant", 1) == names[:1]
    assert next_stages(APRICOT, "harvested", 2) == stages_of(APRICOT)[:2]


@pytest.mark.parametrize(
    ("days", "known", "back"), [(7, True, True), (149, True, True), (150, False, False)]
)
def test_a_stage_of_an_earlier_season_is_nothing_to_go_back_from(
    days: int, *, known: bool, back: bool
) -> None:
    day = SEEN + timedelta(days=days)
    assert is_of_this_season(APRICOTS, day) is known
    assert steps_back(APRICOTS, "swollen bud", day) is back
    assert not steps_back(APRICOTS, "swollen bud", SEEN - timedelta(days=1))


def test_buds_go_back_only_within_the_table() -> None:
    assert goes_back(APRICOT, "full bloom", "first white")
    assert not goes_back(APRICOT, "first white", "full bloom")
    assert not goes_back(APRICOT, "full bloom", "harvested")
    assert not goes_back(APRICOT, "harvested", "dormant")
