"""The solver of wet bulb and ice bulb, over all that it accepts."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import FloatArray
from frostalert.physics.humidity import (
    HIGHEST_C,
    HIGHEST_HPA,
    LOWEST_C,
    LOWEST_DEWPOINT_C,
    LOWEST_HPA,
    dewpoint_c,
    ice_bulb_c,
    wet_bulb_c,
)
from frostalert.physics.saturation import saturation_with_units_hpa

Bulb = Callable[..., FloatArray]
WITHIN_C = 1e-6
BULBS = pytest.mark.parametrize("bulb_c", [wet_bulb_c, ice_bulb_c])

# From saturated to as dry as can be, the nearly saturated as well.
DEPRESSIONS = st.one_of(
    st.floats(0.0, HIGHEST_C - LOWEST_DEWPOINT_C),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1e-6),
)
STATES = st.tuples(
    st.floats(LOWEST_C, HIGHEST_C), DEPRESSIONS, st.floats(LOWEST_HPA, HIGHEST_HPA)
)


def columns(
    states: list[tuple[float, float, float]],
) -> tuple[FloatArray, FloatArray, FloatArray]:
    air, depression, pressure = np.array(states).T.copy()
    return air, np.maximum(air - depression, LOWEST_DEWPOINT_C), pressure


def by_bisection(
    air: FloatArray, dew: FloatArray, slope: FloatArray, phase: str
) -> FloatArray:
    """Solve the psychrometer equation for each value, by MetPy's public function."""
    vapour = saturation_with_units_hpa(dew, "liquid")
    low, high = np.full_like(air, -130.0), np.full_like(air, 70.0)
    for _ in range(50):
        middle = (low + high) / 2.0
        over = saturation_with_units_hpa(middle, phase) - slope * (air - middle)
        low = np.where(over < vapour, middle, low)
        high = np.where(over < vapour, high, middle)
    return (low + high) / 2.0


def compare_with_bisection(
    air: FloatArray, dew: FloatArray, pressure: FloatArray
) -> None:
    wet, ice = wet_bulb_c(air, dew, pressure), ice_bulb_c(air, dew, pressure)
    water = by_bisection(air, dew, 6.60e-4 * pressure, "liquid")
    np.testing.assert_allclose(wet, water, rtol=0.0, atol=WITHIN_C)
    frozen = np.minimum(by_bisection(air, dew, 5.82e-4 * pressure, "solid"), air)
    has_ice = np.isfinite(ice)
    np.testing.assert_allclose(ice[has_ice], frozen[has_ice], rtol=0.0, atol=WITHIN_C)
    assert np.all(frozen[~has_ice] > -WITHIN_C)
    assert np.all(frozen[has_ice] < WITHIN_C)


@given(st.lists(STATES, min_size=1, max_size=40))
@example([(HIGHEST_C, 160.0, LOWEST_HPA), (HIGHEST_C, 160.0, HIGHEST_HPA)])
@example([(HIGHEST_C, 0.0, LOWEST_HPA), (LOWEST_C, 0.0, HIGHEST_HPA)])
@example([(LOWEST_C, 30.0, LOWEST_HPA), (LOWEST_C, 30.0, HIGHEST_HPA)])
@example([(0.0, 0.0, 1000.0), (1e-9, 0.0, 1000.0), (-1e-9, 1e-9, 1000.0)])
def test_bulbs_are_those_of_bisection_in_all_that_is_accepted(
    states: list[tuple[float, float, float]],
) -> None:
    compare_with_bisection(*columns(states))


def test_bulbs_are_those_of_bisection_on_a_grid_from_end_to_end() -> None:
    air, share, pressure = np.meshgrid(
        np.linspace(LOWEST_C, HIGHEST_C, 53),
        np.linspace(0.0, 1.0, 41),
        np.linspace(LOWEST_HPA, HIGHEST_HPA, 8),
    )
    dew = np.maximum(air - share * (air - LOWEST_DEWPOINT_C), LOWEST_DEWPOINT_C)
    compare_with_bisection(air, dew, pressure)


def frosty(count: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    random = np.random.default_rng(11)
    air = random.uniform(-10.0, 12.0, count)
    dew = dewpoint_c(air, random.uniform(15.0, 100.0, count))
    return air, dew, random.uniform(800.0, 1040.0, count)


@BULBS
def test_a_value_does_not_depend_on_what_stands_around_it(bulb_c: Bulb) -> None:
    air, dew, pressure = frosty(20_000)
    together = bulb_c(air, dew, pressure)
    for place in (0, 1, 8191, 8192, 8193, 16_384, 19_999):
        alone = bulb_c(air[place], dew[place], pressure[place])
        np.testing.assert_allclose(alone, together[place], rtol=0.0, atol=1e-7)


@BULBS
@pytest.mark.parametrize("which", [0, 1, 2])
def test_a_gap_stays_where_it_is_and_touches_nothing_else(
    bulb_c: Bulb, which: int
) -> None:
    given = frosty(20_000)
    whole = bulb_c(*given)
    is_gap = np.zeros(20_000, dtype=bool)
    is_gap[[3, 9000, 19_999]] = True
    given[which][is_gap] = np.nan
    found = bulb_c(*given)
    assert np.all(np.isnan(found[is_gap]))
    np.testing.assert_allclose(found[~is_gap], whole[~is_gap], rtol=0.0, atol=1e-7)


@BULBS
def test_nothing_but_gaps_is_nothing_but_gaps(bulb_c: Bulb) -> None:
    assert np.all(np.isnan(bulb_c(np.full(5, np.nan), -2.0, 1000.0)))


@BULBS
def test_what_is_given_is_only_read(bulb_c: Bulb) -> None:
    given = frosty(9000)
    kept = [array.copy() for array in given]
    for array in given:
        array.setflags(write=False)
    found = bulb_c(*given)
    assert found.flags.writeable
    for array, copy in zip(given, kept, strict=True):
        assert not np.shares_memory(found, array)
        np.testing.assert_array_equal(array, copy)


@BULBS
def test_one_array_may_be_air_and_dew_point(bulb_c: Bulb) -> None:
    air = np.linspace(-20.0, -0.5, 9000)
    np.testing.assert_allclose(bulb_c(air, air, 990.0), air, rtol=0.0, atol=1e-9)


@BULBS
def test_any_shape_and_layout_give_the_same(bulb_c: Bulb) -> None:
    air, dew, pressure = (array.reshape(60, 50, 7) for array in frosty(21_000))
    plain = bulb_c(air, dew, pressure)
    assert plain.shape == (60, 50, 7)
    turned = bulb_c(np.asfortranarray(air), dew, pressure.copy(order="F"))
    np.testing.assert_allclose(turned, plain, rtol=0.0, atol=1e-7)
    part = bulb_c(air[::-3, :, 1::2], dew[::-3, :, 1::2], pressure[::-3, :, 1::2])
    np.testing.assert_allclose(part, plain[::-3, :, 1::2], rtol=0.0, atol=1e-7)
    spread = bulb_c(air, dew.min(axis=0), 1000.0)
    filled = bulb_c(
        air, np.broadcast_to(dew.min(axis=0), air.shape).copy(), np.full(air.shape, 1e3)
    )
    np.testing.assert_allclose(spread, filled, rtol=0.0, atol=1e-7)


@BULBS
@pytest.mark.parametrize("shape", [(), (1,), (0,), (0, 3), (3, 0)])
def test_small_shapes_are_kept(bulb_c: Bulb, shape: tuple[int, ...]) -> None:
    found = bulb_c(np.full(shape, -1.0), -3.0, 1000.0)
    assert isinstance(found, np.ndarray)
    assert found.shape == shape
    assert found.dtype == np.float64
    assert np.all(np.abs(found + 1.8) < 0.3)


@BULBS
def test_a_dew_point_above_the_air_by_rounding_is_saturation(bulb_c: Bulb) -> None:
    assert bulb_c(-1.0, -1.0 + 5e-7, 1000.0) == -1.0


@BULBS
@pytest.mark.parametrize(("which", "wrong"), [(0, 61.0), (1, 30.0), (2, 1e5)])
def test_one_wrong_value_among_many_and_gaps_is_refused(
    bulb_c: Bulb, which: int, wrong: float
) -> None:
    given = frosty(20_000)
    given[which][:10] = np.nan
    given[which][19_000] = wrong
    with pytest.raises(PhysicsDomainError):
        bulb_c(*given)
