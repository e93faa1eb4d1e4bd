"""Warmth of days, and what it does to the stage that counts."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.agronomy.ageing import Pace
from frostalert.agronomy.crops import find_crop
from frostalert.agronomy.heat_sum import (
    OWN_SHARE,
    STAGE_CD,
    degree_days_cd,
    stage_needs_cd,
)
from frostalert.agronomy.stages import Look, stage_in_force
from frostalert.model.warmth import Sighting, StageWarmth

APRICOT = find_crop("apricot", {})
SEEN = date(2026, 4, 1)


@given(st.floats(-20.0, 30.0), st.floats(0.0, 25.0))
def test_degree_days_are_the_mean_excess_of_a_sine(
    low_c: float, range_c: float
) -> None:
    # Baskerville and Emin 1969: the area under the sine above the base.
    turns = np.linspace(0.0, 2.0 * np.pi, 20_001)
    air = low_c + range_c * (1.0 + np.sin(turns)) / 2.0
    expected = float(np.maximum(air - 5.0, 0.0).mean())
    assert degree_days_cd(low_c, low_c + range_c) == pytest.approx(expected, abs=2e-3)


def test_eighty_two_degree_days_of_apple_bud_break_in_two_units() -> None:
    # Nova Scotia tree fruit, 2022: 81.9 C-days above 5 C are 147 F-days above 41 F.
    days = [degree_days_cd(7.0, 15.0)] * 10 + [degree_days_cd(5.0, 9.38)] * 10
    assert sum(days) == pytest.approx(81.9)
    assert sum(days) * 1.8 == pytest.approx(147.4, abs=0.1)


def year(first: date, *stages: tuple[int, str], block: str = "A") -> list[Sighting]:
    return [
        Sighting(
            block=block, crop="apricot", stage=stage, seen=first + timedelta(days=days)
        )
        for days, stage in stages
    ]


def sums(first: date, a_day: float = 4.0, days: int = 120) -> dict[date, float]:
    return {first + timedelta(days=n): n * a_day for n in range(days)}


def needs(
    sightings: list[Sighting], totals: dict[date, float], stage: str = "first white"
) -> tuple[tuple[float, ...], bool]:
    return stage_needs_cd(
        APRICOT.stage_names, stage, "apricot", sightings, totals, before=SEEN
    )


def test_without_a_past_a_rule_of_thumb_counts() -> None:
    found, is_own = needs([], {})
    assert found[:3] == (STAGE_CD, 2 * STAGE_CD, 3 * STAGE_CD)
    assert not is_own


def test_the_past_of_the_site_comes_first_and_the_quickest_year_counts() -> None:
    first = date(2024, 3, 1)
    slow = year(first, (20, "first white"), (30, "first bloom"), (36, "full bloom"))
    quick = year(date(2025, 3, 1), (20, "first white"), (25, "first bloom"), block="B")
    totals = sums(first) | sums(date(2025, 3, 1))
    found, is_own = needs(slow + quick, totals)
    assert is_own
    assert found[0] == pytest.approx(OWN_SHARE * 5 * 4.0)
    assert found[1] == pytest.approx(OWN_SHARE * 16 * 4.0)
    # Beyond what was seen the rule of thumb goes on.
    assert found[2] == pytest.approx(found[1] + STAGE_CD)


def test_a_stage_that_was_skipped_in_the_notes_is_not_taken_for_slow() -> None:
    first = date(2024, 3, 1)
    found, is_own = needs(
        year(first, (0, "first white"), (42, "full bloom")), sums(first)
    )
    assert not is_own
    assert found[0] <= STAGE_CD
    # What was seen counts for itself, and never for what came before it.
    assert found[1] == pytest.approx(OWN_SHARE * 42 * 4.0)


def test_this_season_and_other_crops_teach_nothing() -> None:
    this = year(date(2026, 3, 1), (5, "first white"), (9, "first bloom"))
    other = [
        Sighting(block="C", crop="pear", stage=item.stage, seen=item.seen)
        for item in year(date(2025, 3, 1), (5, "first white"), (9, "first bloom"))
    ]
    totals = sums(date(2025, 3, 1)) | sums(date(2026, 3, 1))
    assert not needs(this + other, totals)[1]


def warmth(
    a_day: float, *, is_own: bool = False, need: float = STAGE_CD
) -> StageWarmth:
    days = tuple(SEEN + timedelta(days=n + 1) for n in range(40))
    return StageWarmth(
        days=days,
        sums_cd=tuple(a_day * (n + 1) for n in range(40)),
        needs_cd=tuple(need * (n + 1) for n in range(6)),
        is_own=is_own,
        is_whole=True,
    )


def stage_after(days: int, found: StageWarmth | None, stage: str = "tips separate"):  # type: ignore[no-untyped-def]
    return stage_in_force(
        APRICOT,
        Look(stage=stage, seen=SEEN, warmth=found),
        SEEN + timedelta(days=days),
        Pace(),
    )


def test_a_warm_week_moves_a_stage_before_eight_days_have_passed() -> None:
    cool, warm = stage_after(5, warmth(2.0)), stage_after(5, warmth(9.0))
    assert (cool.stage, cool.is_assumed) == ("tips separate", False)
    assert (warm.stage, warm.is_assumed) == ("calyx red", True)
    assert "45 degree-days C since; by a rule of thumb" in warm.reason


def test_age_still_counts_where_it_is_more() -> None:
    assert stage_after(9, warmth(0.0)).stage == "calyx red"
    assert stage_after(9, None).stage == "calyx red"


def test_in_a_cold_spell_a_known_site_holds_age_back() -> None:
    held = stage_after(9, warmth(0.5, is_own=True))
    assert held.stage == "tips separate"
    assert "not moved on by days alone: 4 degree-days C since" in held.reason
    assert stage_after(17, warmth(0.5, is_own=True)).stage == "calyx red"
    moved = stage_after(9, warmth(5.0, is_own=True))
    assert "by this site's past years" in moved.reason


def test_dormant_is_believed_only_until_warmth_may_have_moved_buds() -> None:
    assert stage_after(10, warmth(1.0), "dormant").is_muted
    woken = stage_after(10, warmth(5.0), "dormant")
    assert not woken.is_muted
    assert "50 degree-days C since" in woken.reason
    assert "buds may have moved" in woken.reason
