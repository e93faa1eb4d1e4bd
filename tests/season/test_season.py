"""Seasons in the short form; the long one is `python -m tests.season`."""

import logging
from dataclasses import replace
from typing import Any

import pytest

from frostalert.alarms.due_starts import with_due_starts
from frostalert.cycle import cycle
from frostalert.model.notice import Decision
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


EQUIPPED = 207


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


def test_each_start_of_an_equipped_planting_is_called_for_once() -> None:
    found = run_season(EQUIPPED, nights=40, has_equipment=True)
    assert limits_broken(found, 1) == []
    assert found.in_time + found.told_blind == found.risky
    assert found.risky >= 5


def test_starts_that_are_forgotten_are_called_for_again_and_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def forgetful(*given: Any) -> Decision:
        decision = with_due_starts(*given)
        nights = tuple(
            replace(item, remember=replace(item.remember, called_starts=()))
            for item in decision.nights
        )
        return replace(decision, nights=nights)

    monkeypatch.setattr(cycle, "with_due_starts", forgetful)
    found = run_season(EQUIPPED, nights=40, ends_when_found=True, has_equipment=True)
    assert any("a start called for twice" in line for line in found.violations)


@pytest.mark.parametrize("name", DEFECTS)
def test_a_planted_defect_is_caught(name: str) -> None:
    seed, nights = WHERE_CAUGHT.get(name, CATCHING)
    with planted(name):
        found = run_season(seed, nights=nights, ends_when_found=True)
    assert found.missed or found.violations


@pytest.mark.parametrize(("seed", "nights"), sorted({CATCHING, *WHERE_CAUGHT.values()}))
def test_the_seasons_of_the_defects_are_clean_without_them(
    seed: int, nights: int
) -> None:
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
