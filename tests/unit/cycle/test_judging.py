"""Judging whatever breaks: by less, and at last it is said that nothing is known."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from frostalert.cycle import judging
from frostalert.cycle.judging import judge
from frostalert.errors import PhysicsDomainError
from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import Tier
from frostalert.model.nights import Facts, Nights
from frostalert.risk.assess import assess_all
from tests.support.grids import grid_text
from tests.support.holdings import make_holding

NOW = datetime(2026, 4, 13, 0, tzinfo=UTC)
FARM = make_holding()
RUN = parse_grid(grid_text(), NOW)


def tonight(nights: Nights) -> tuple[Tier, str]:
    night = nights.assessment.nights[0]
    return night.tier, night.reason


def test_without_a_forecast_no_night_is_judged() -> None:
    tier, reason = tonight(judge(FARM, Facts(runs=()), NOW))
    assert tier is Tier.CANNOT_JUDGE
    assert "no forecast for this place has been received" in reason
    assert tonight(judge(FARM, Facts(runs=(RUN,)), NOW))[0] is Tier.PREPARE


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (PhysicsDomainError("air below zero kelvin"), "impossible values"),
        (ZeroDivisionError("x"), "the program failed on this forecast"),
    ],
)
def test_what_breaks_every_time_is_told_as_not_judged(
    monkeypatch: pytest.MonkeyPatch, error: Exception, words: str
) -> None:
    def broken(*_: Any) -> Nights:
        raise error

    monkeypatch.setattr(judging, "assess_all", broken)
    tier, reason = tonight(judge(FARM, Facts(runs=(RUN,)), NOW))
    assert tier is Tier.CANNOT_JUDGE
    assert words in reason


def test_what_breaks_over_what_was_learned_is_judged_by_the_forecast_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[Facts] = []

    def breaks_with_history(farm: Any, facts: Facts, now: datetime) -> Nights:
        asked.append(facts)
        if facts.has_history:
            raise ZeroDivisionError
        return assess_all(farm, facts, now)

    monkeypatch.setattr(judging, "assess_all", breaks_with_history)
    facts = Facts(runs=(RUN, replace(RUN, source="other")), has_history=True)
    assert tonight(judge(FARM, facts, NOW))[0] is Tier.PREPARE
    assert [len(item.runs) for item in asked] == [2, 1]
