"""Exposure, exact on straight lines, against a fine grid."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.errors import PhysicsDomainError
from frostalert.risk.exposure import coldest_mean, time_below
from frostalert.risk.stretches import lay, segment_by_gap

# Tenths of a degree, and limits between them: a curve that just touches its limit is
# beyond what a fine grid can tell.
TENTHS = st.integers(-100, 100).map(lambda n: n / 10.0)
LIMITS = st.integers(-80, 80).map(lambda n: n / 10.0 + 0.05)
CURVES = st.lists(TENTHS, min_size=3, max_size=20)
FINE = 600


def fine_curve(curve: list[float]) -> tuple[np.ndarray, np.ndarray]:
    hours = np.linspace(0.0, len(curve) - 1.0, (len(curve) - 1) * FINE + 1)
    return hours, np.interp(hours, np.arange(len(curve)), curve)


@given(curve=CURVES, minutes=st.sampled_from([30.0, 60.0, 120.0]))
def test_coldest_mean_against_a_fine_grid(curve: list[float], minutes: float) -> None:
    found = coldest_mean(np.array([curve]), minutes)
    _, values = fine_curve(curve)
    width = round(minutes / 60.0 * FINE)
    total = np.concatenate([[0.0], np.cumsum((values[:-1] + values[1:]) / 2.0)])
    expected = ((total[width:] - total[:-width]) / width).min()
    assert found.mean_c[0] == pytest.approx(expected, abs=2e-4)
    assert found.mean_c[0] <= expected + 1e-9


@given(curve=CURVES, limit=LIMITS)
def test_time_below_against_a_fine_grid(curve: list[float], limit: float) -> None:
    found = time_below(np.array([curve]), np.array([limit]))
    hours, values = fine_curve(curve)
    inside = values <= limit
    step = 1.0 / FINE
    assert found.hours[0] == pytest.approx(inside.sum() * step, abs=len(curve) * step)
    if not inside.any():
        return
    assert found.first_h[0] == pytest.approx(hours[inside][0], abs=2 * step)
    assert found.last_h[0] == pytest.approx(hours[inside][-1], abs=2 * step)


def test_a_curve_that_never_goes_below_has_no_crossing() -> None:
    found = time_below(np.array([[1.0, 2.0, 3.0]]), np.array([0.0]))
    assert found.hours[0] == 0.0
    assert np.isnan(found.first_h[0])
    assert np.isnan(found.last_h[0])


def test_curves_are_judged_side_by_side() -> None:
    curves = np.array([[1.0, -1.0, 1.0], [5.0, 5.0, 5.0], [-2.0, -2.0, -2.0]])
    found = time_below(curves, np.array([0.0, 0.0, 0.0]))
    assert found.hours.tolist() == [1.0, 0.0, 2.0]


@pytest.mark.parametrize("minutes", [30.0, 60.0])
def test_of_equal_means_the_first_counts(minutes: float) -> None:
    one = [4.0, -1.0, -2.0, 3.0, 5.0, 5.0, 5.0]
    found = coldest_mean(np.array([one + one]), minutes)
    alone = coldest_mean(np.array([one]), minutes)
    assert found.mean_c == pytest.approx(alone.mean_c)
    assert found.middle_h == pytest.approx(alone.middle_h)
    level = coldest_mean(np.zeros((1, 9)), minutes)
    assert level.middle_h.tolist() == [minutes / 120.0]


def test_a_curve_at_the_edge_of_what_is_known_is_coldest_there() -> None:
    curves = np.array([[-3.0, 0.0, 4.0], [4.0, 1.0, -3.0]])
    found = coldest_mean(curves, 30.0)
    assert found.mean_c.tolist() == [-2.25, -2.0]
    assert found.middle_h.tolist() == [0.25, 1.75]


def test_curves_laid_hour_by_hour_or_row_by_row_are_the_same() -> None:
    rows = np.random.default_rng(4).normal(0.0, 2.0, (40, 24))
    by_hour = np.asfortranarray(rows)
    for minutes in (30.0, 60.0, 240.0):
        here, there = coldest_mean(rows, minutes), coldest_mean(by_hour, minutes)
        assert np.array_equal(here.mean_c, there.mean_c)
        assert np.array_equal(here.middle_h, there.middle_h)
    limits = np.zeros(40)
    below, again = time_below(rows, limits), time_below(by_hour, limits)
    assert np.array_equal(below.hours, again.hours)
    assert np.array_equal(below.first_h, again.first_h, equal_nan=True)
    assert np.array_equal(below.last_h, again.last_h, equal_nan=True)


def test_a_short_curve_gives_its_lowest_value() -> None:
    assert coldest_mean(np.array([[3.0]]), 30.0).mean_c.tolist() == [3.0]
    assert coldest_mean(np.array([[3.0, 1.0]]), 240.0).mean_c.tolist() == [1.0]


def test_a_verdict_on_missing_hours_is_refused() -> None:
    nights, blocks = np.zeros(2, dtype=np.intp), np.arange(2)
    layout = segment_by_gap(nights, blocks, [(range(3),)])
    lay(layout, np.zeros((2, 3)))
    with pytest.raises(PhysicsDomainError, match="missing hours"):
        lay(layout, np.array([[1.0, 0.0, 1.0], [1.0, np.nan, 1.0]]))
    nothing = segment_by_gap(nights, blocks, [(range(0),)])
    with pytest.raises(PhysicsDomainError, match="missing hours"):
        lay(nothing, np.zeros((2, 3)))


def test_an_exposure_that_is_not_whole_half_hours_is_refused() -> None:
    with pytest.raises(PhysicsDomainError):
        coldest_mean(np.zeros((1, 5)), 20.0)
