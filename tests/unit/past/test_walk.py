"""The walk through past nights: whoever was to be called was called."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from frostalert.model.learned import PairOrigin
from frostalert.model.past import PastNight
from frostalert.model.site import Farm, Rules
from frostalert.model.warmth import Sighting
from frostalert.past.walk import Afternoon, afternoons_of, walk
from frostalert.risk.hands import SURE_PROBABILITY
from tests.evaluation.past_springs.site import archive_of
from tests.support.holdings import make_block, make_holding
from tests.support.springs import invented_springs

FIRST = date(2025, 3, 10)
NIGHTS = [FIRST + timedelta(days=n) for n in range(28)]
HARDY = replace(
    # Its water would have to run early in the night, and nobody is called for it.
    make_block("Hardy", "apple", "half-inch green", methods=("micro-sprinklers",)),
    crop_value=1.0,
    night_costs=(("heaters", 500.0),),
)
TENDER = make_block("Tender", "apricot", "full bloom")


def seen_daily(farm: Farm) -> list[Sighting]:
    return [
        Sighting(block=b.name, crop=b.crop.name, stage=b.stage, seen=night)
        for night in NIGHTS
        for b in farm.blocks
    ]


@pytest.fixture(scope="module")
def afternoons() -> list[Afternoon]:
    springs = invented_springs([2025], seed=5, spread_c=6.0)
    archive = archive_of(springs.played)
    farm = make_holding(TENDER)
    found, _ = afternoons_of(farm, [archive], NIGHTS, springs.came_c, origin=None)
    return found


def walked(
    afternoons: list[Afternoon], *blocks: str, rules: Rules | None = None
) -> tuple[PastNight, ...]:
    named = {"Hardy": HARDY, "Tender": TENDER}
    farm = make_holding(*(named[name] for name in blocks), rules=rules)
    return walk(farm, afternoons, seen_daily(farm))


def test_a_night_that_is_sure_to_harm_calls_people_out(
    afternoons: list[Afternoon],
) -> None:
    nights = walked(afternoons, "Tender")
    assert len(nights) == len(NIGHTS)
    sure = [night for night in nights if night.chance >= SURE_PROBABILITY]
    assert 3 < len(sure) < len(nights)
    assert all(night.is_called and night.is_ready for night in sure)
    mild = [night for night in nights if night.chance < 0.05]
    assert mild
    assert not any(night.is_called or night.is_ready for night in mild)


def test_a_block_that_is_earlier_at_risk_keeps_no_other_from_being_called(
    afternoons: list[Afternoon],
) -> None:
    alone = {n.night: n.is_called for n in walked(afternoons, "Tender")}
    both = {n.night: n.is_called for n in walked(afternoons, "Hardy", "Tender")}
    assert any(alone.values())
    assert all(both[night] for night, is_called in alone.items() if is_called)


def test_sooner_chances_call_more_often(afternoons: list[Afternoon]) -> None:
    counts = [
        sum(n.is_called for n in walked(afternoons, "Tender", rules=rules))
        for rules in (
            Rules(near_probability=0.06, start_probability=0.11),
            Rules(),
            Rules(near_probability=0.5, start_probability=0.59),
        )
    ]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > counts[2]


def test_nights_before_an_afternoon_alone_teach_it() -> None:
    springs = invented_springs([2025], seed=5, spread_c=6.0)
    found, lows = afternoons_of(
        make_holding(TENDER),
        [archive_of(springs.played)],
        NIGHTS,
        springs.came_c,
        origin=PairOrigin.ARCHIVE,
    )
    assert lows
    for afternoon in found:
        assert all(pair.night < afternoon.night for pair in afternoon.pairs)
        assert all(day.day < afternoon.night for day in afternoon.days_air)
    assert len(found[-1].pairs) > len(found[1].pairs) > 0


def test_days_are_as_warm_as_the_hours_were(afternoons: list[Afternoon]) -> None:
    days = {day.day: day for day in afternoons[-1].days_air}
    assert len(days) > 60
    assert all(day.low_c < day.high_c and not day.is_measured for day in days.values())
    assert datetime(2025, 3, 12, tzinfo=UTC).date() in days
