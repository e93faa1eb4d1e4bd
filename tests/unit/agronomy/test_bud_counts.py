"""Counts and trials against published worked examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.agronomy.bud_counts import (
    compare_trial,
    counted_share,
    crop_outlook_pct,
)
from frostalert.errors import PhysicsDomainError

COUNTS = st.integers(1, 400).flatmap(
    lambda counted: st.tuples(st.integers(0, counted), st.just(counted))
)


@pytest.mark.parametrize(
    ("dead", "counted", "low", "high"),
    # Newcombe, Statistics in Medicine 17, 1998, 857-872, table I, method 5 (exact).
    [(81, 263, 0.2527, 0.3676), (15, 148, 0.0578, 0.1617), (0, 20, 0.0, 0.1684)],
)
def test_the_exact_interval(dead: int, counted: int, low: float, high: float) -> None:
    found = counted_share(dead, counted)
    assert found.low == pytest.approx(low, abs=5e-5)
    assert found.high == pytest.approx(high, abs=5e-5)


def test_the_interval_of_a_difference() -> None:
    # Newcombe, Statistics in Medicine 17, 1998, 873-890, table II, method 10: 56/70
    # less 48/80.
    trial = compare_trial((48, 80), (56, 70))
    assert trial.saved == pytest.approx(0.2)
    assert trial.saved_low == pytest.approx(0.0524, abs=5e-5)
    assert trial.saved_high == pytest.approx(0.3339, abs=5e-5)


def test_eight_cups_are_too_few_to_tell() -> None:
    # Fisher, The Design of Experiments, 1935: three of four cups right.
    trial = compare_trial((1, 4), (3, 4))
    assert trial.p_value == pytest.approx(34 / 70)
    assert not trial.can_tell


@given(COUNTS)
def test_the_interval_holds_the_share(count: tuple[int, int]) -> None:
    found = counted_share(*count)
    assert 0.0 <= found.low <= found.share <= found.high <= 1.0


@given(COUNTS, COUNTS)
def test_swapping_the_sides_turns_the_sign(
    one: tuple[int, int], other: tuple[int, int]
) -> None:
    there, back = compare_trial(one, other), compare_trial(other, one)
    assert there.saved == pytest.approx(-back.saved)
    assert there.saved_low == pytest.approx(-back.saved_high)
    assert there.p_value == pytest.approx(back.p_value)


@pytest.mark.parametrize(("dead", "counted"), [(3, 2), (-1, 5), (0, 0)])
def test_counts_that_cannot_be_are_refused(dead: int, counted: int) -> None:
    with pytest.raises(PhysicsDomainError, match="cannot be"):
        counted_share(dead, counted)


def test_the_crop_is_what_is_left_over_what_a_full_one_needs() -> None:
    # Utah State University, IPM-012: apple makes a full crop from 10 to 15 %.
    found = counted_share(95, 100)
    expected, least, most = crop_outlook_pct(found, 0.0, 15.0)
    assert expected == pytest.approx(100.0 * 5.0 / 15.0)
    assert least < expected < most
    half_gone = crop_outlook_pct(found, 50.0, 15.0)[0]
    assert half_gone == pytest.approx(expected / 2.0)
    assert crop_outlook_pct(counted_share(50, 100), 0.0, 15.0)[0] == 100.0
