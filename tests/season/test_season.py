"""Seasons in the short form; the long one is `python -m tests.season`."""

import logging

import pytest

from tests.season.defects import DEFECTS, planted
from tests.season.score import Score
from tests.season.season import limits_broken, run_season

SEASONS = ((201, 60), (203, 60), (205, 60))
"""Seed and nights."""
CATCHING = (105, 25)
"""Seed and nights of a short season in which nearly every defect shows."""
WHERE_CAUGHT = {
    "stale data taken as new": (105, 40),
    "cannot-judge never said": (105, 40),
    "a decision without its messages": (105, 40),
}


@pytest.fixture(autouse=True)
def quiet() -> None:
    logging.getLogger("frostalert").setLevel(logging.CRITICAL)


@pytest.mark.parametrize(("seed", "nights"), SEASONS)
def test_a_season_with_faults_misses_no_night_and_keeps_the_limits(
    seed: int, nights: int
) -> None:
    found = run_season(seed, nights=nights)
    assert limits_broken(found, 1) == []
    # The season must have been worth watching.
    assert found.risky >= 5
    assert found.in_time + found.told_blind == found.risky
    assert found.duplicates > 0
    assert len(found.faults) >= 12


@pytest.mark.parametrize("name", DEFECTS)
def test_a_planted_defect_is_caught(name: str) -> None:
    seed, nights = WHERE_CAUGHT.get(name, CATCHING)
    with planted(name):
        found = run_season(seed, nights=nights, ends_when_found=True)
    assert found.missed or found.violations


def test_the_seasons_of_the_defects_are_clean_without_them() -> None:
    for seed, nights in {CATCHING, *WHERE_CAUGHT.values()}:
        found = run_season(seed, nights=nights, ends_when_found=True)
        assert (found.missed, found.violations, found.nights) == ([], [], nights)


def test_a_season_follows_from_its_seed_alone() -> None:
    first, second = (run_season(7, nights=10) for _ in range(2))
    assert first == second
    assert run_season(8, nights=10) != first


def test_limits_are_limits() -> None:
    good = Score(nights=120, false_alarms=50, blind_nights=15, duplicates=30)
    assert limits_broken(good, 1) == []
    for name in ("false_alarms", "blind_nights", "duplicates", "absurd_alarms"):
        worse = Score(nights=120, **{name: getattr(good, name) + 1})
        assert len(limits_broken(worse, 1)) == 1
    assert limits_broken(Score(nights=120, missed=["m"], violations=["v"]), 1) != []
