"""Several sources make one normal: surer where they agree, colder where they do not."""

from dataclasses import asdict

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from frostalert.agronomy.kill import reach_probability
from frostalert.errors import PhysicsDomainError
from frostalert.model.site import Rules
from frostalert.risk.pooling import POOL, PooledLow, PoolRules, pool_lows
from frostalert.risk.uncertainty import pool_rules

AHEAD = (0, 1, 2, 3, 9)
low = st.floats(-25.0, 25.0)


def chance(found: PooledLow, limit_c: float) -> float:
    return float(reach_probability(found.low_c, found.sigma_c, limit_c))


@pytest.mark.parametrize(
    ("ahead", "sigma_c"), list(zip(AHEAD, (1.8, 1.8, 2.2, 2.8, 2.8), strict=True))
)
def test_one_source_alone_keeps_its_low_and_the_error_of_one(
    ahead: int, sigma_c: float
) -> None:
    for lows in ([-1.0], [-1.0, np.nan], [np.nan, np.nan, -1.0]):
        found = pool_lows(lows, ahead)
        assert (float(found.low_c), float(found.sigma_c)) == (-1.0, sigma_c)
        assert (int(found.members), float(found.spread_c)) == (1, 0.0)


def test_the_errors_of_a_configuration_that_says_nothing_are_the_judged_ones() -> None:
    assert asdict(pool_rules(Rules())) == pytest.approx(asdict(POOL))
    wide = pool_rules(Rules(sigma_c=3.0, sigma_per_day_c=0.8))
    agreed = (wide.near_c, wide.day_3_c, wide.later_c)
    alone = (wide.alone_near_c, wide.alone_day_3_c, wide.alone_later_c)
    assert agreed == pytest.approx((2.0, 2.8, 3.6))
    assert alone == pytest.approx((3.0, 3.8, 5.0))


def test_one_source_alone_keeps_its_own_error_where_that_is_known() -> None:
    own = [1.1, 2.9]
    assert pool_lows([0.0, np.nan], 2, own_sigma_c=own).sigma_c == 1.1
    assert pool_lows([np.nan, 0.0], 2, own_sigma_c=own).sigma_c == 2.9
    assert pool_lows([0.0, np.nan], 2, own_sigma_c=[np.nan, 2.9]).sigma_c == 2.2
    # Of two, the errors that each has alone say nothing.
    assert pool_lows([0.0, 0.0], 2, own_sigma_c=own).sigma_c == 1.6


@pytest.mark.parametrize(
    ("ahead", "sigma_c"), list(zip(AHEAD, (1.2, 1.2, 1.6, 2.0, 2.0), strict=True))
)
def test_sources_that_agree_are_surer_than_one(ahead: int, sigma_c: float) -> None:
    found = pool_lows([-1.0, -1.0], ahead)
    assert float(found.sigma_c) == sigma_c < float(pool_lows([-1.0], ahead).sigma_c)


def test_two_that_differ_add_their_share_of_the_squared_difference() -> None:
    # By hand: mean squared deviation 1, so 1.2^2 + 0.7 * 1.
    found = pool_lows([1.0, -1.0], 0)
    assert float(found.sigma_c) == pytest.approx(np.sqrt(1.44 + 0.7))
    assert float(found.low_c) == 0.0


@given(low, st.floats(0.0, 20.0), st.floats(0.0, 1.0), st.sampled_from(AHEAD))
def test_between_two_lows_the_chance_lies_between_those_of_each_alone(
    coldest_c: float, apart_c: float, place: float, ahead: int
) -> None:
    lows = [coldest_c + apart_c, coldest_c]
    limit_c = coldest_c + place * apart_c
    warm, cold = (chance(pool_lows([value], ahead), limit_c) for value in lows)
    both = chance(pool_lows(lows, ahead), limit_c)
    assert warm - 1e-9 <= both <= cold + 1e-9


def test_hard_frost_by_one_of_two_is_nearly_an_even_chance() -> None:
    # +3 and -5 against a T10 of -2.8: by hand Phi(-0.467 / 3.556) = 0.448.
    assert chance(pool_lows([3.0, -5.0], 0), -2.8) == pytest.approx(0.448, abs=0.001)


@pytest.mark.parametrize(
    ("apart_c", "share_up"),
    [(0.0, 0.5), (3.0, 0.5), (4.5, 5 / 12), (6.0, 1 / 3), (9.0, 1 / 3)],
)
def test_far_apart_the_centre_leans_to_the_cold(
    apart_c: float, share_up: float
) -> None:
    found = pool_lows([2.0 + apart_c, 2.0], 0)
    assert float(found.low_c) == pytest.approx(2.0 + share_up * apart_c)


@given(
    hnp.arrays(float, st.integers(2, 5), elements=low),
    st.sampled_from(AHEAD),
    st.integers(0, 4),
    st.floats(-1e-6, 1e-6),
)
def test_a_little_colder_or_warmer_never_makes_a_jump(
    lows: np.ndarray[tuple[int], np.dtype[np.float64]],
    ahead: int,
    place: int,
    step_c: float,
) -> None:
    moved = lows.copy()
    moved[place % lows.size] += step_c
    one, two = pool_lows(lows, ahead), pool_lows(moved, ahead)
    # The lean moves the centre by at most a few degrees for one of spread.
    assert float(two.low_c) == pytest.approx(float(one.low_c), abs=2e-5)
    assert float(two.sigma_c) == pytest.approx(float(one.sigma_c), abs=2e-5)


@pytest.mark.parametrize("edge_c", [POOL.lean_from_c, POOL.lean_full_c])
def test_no_jump_as_the_spread_passes_an_edge_of_the_lean(edge_c: float) -> None:
    apart = edge_c + np.array([-1e-9, 0.0, 1e-9])
    found = pool_lows([apart, np.zeros(3)], 0)
    assert np.ptp(found.low_c) < 1e-8
    assert np.ptp(found.sigma_c) < 1e-8


@given(hnp.arrays(float, st.integers(1, 6), elements=low))
def test_the_centre_lies_among_the_members_and_never_above_their_mean(
    lows: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> None:
    centre = float(pool_lows(lows, 0).low_c)
    assert lows.min() - 1e-9 <= centre <= lows.mean() + 1e-9


@given(hnp.arrays(float, st.integers(1, 5), elements=low), st.integers(0, 5))
def test_members_that_are_missing_or_weigh_nothing_are_ignored(
    lows: np.ndarray[tuple[int], np.dtype[np.float64]], place: int
) -> None:
    place = min(place, lows.size)
    alone = pool_lows(lows, 2)
    missing = pool_lows(np.insert(lows, place, np.nan), 2)
    weights = np.insert(np.ones(lows.size), place, 0.0)
    unweighed = pool_lows(np.insert(lows, place, -40.0), 2, weights=weights)
    for other in (missing, unweighed):
        assert float(other.low_c) == pytest.approx(float(alone.low_c))
        assert float(other.sigma_c) == pytest.approx(float(alone.sigma_c))
        assert other.members == alone.members


def test_weights_move_the_mean_and_count_in_the_deviation() -> None:
    found = pool_lows([1.0, -1.0], 0, weights=[3.0, 1.0])
    assert float(found.low_c) == pytest.approx(0.5)
    # Deviations 0.5 and 1.5, weighted three to one: 0.75.
    assert float(found.sigma_c) == pytest.approx(np.sqrt(1.44 + 0.7 * 0.75))


@given(st.floats(0.1, 5.0))
def test_an_ensemble_s_spread_is_a_lower_bound(least_c: float) -> None:
    for lows in ([0.0], [0.0, 0.0], [2.0, -3.0]):
        plain = float(pool_lows(lows, 0).sigma_c)
        bound = float(pool_lows(lows, 0, least_sigma_c=least_c).sigma_c)
        assert bound == max(plain, least_c)


def test_where_no_member_is_known_nothing_is() -> None:
    found = pool_lows([[np.nan], [np.nan]], 0, least_sigma_c=1.0)
    assert np.isnan([found.low_c[0], found.sigma_c[0], found.spread_c[0]]).all()
    assert found.members.tolist() == [0]


@given(
    hnp.arrays(
        float,
        hnp.array_shapes(min_dims=1, max_dims=4, min_side=1, max_side=3),
        elements=low | st.just(float("nan")),
    )
)
def test_an_array_of_any_shape_is_pooled_place_by_place(
    lows: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
) -> None:
    shape = lows.shape[1:]
    ahead = np.arange(np.prod(shape, dtype=int)).reshape(shape) % 4
    weights = np.arange(1.0, lows.shape[0] + 1.0)
    found = pool_lows(lows, ahead, weights=weights)
    assert found.low_c.shape == found.sigma_c.shape == found.members.shape == shape
    for place in np.ndindex(shape):
        one = pool_lows(lows[(slice(None), *place)], ahead[place], weights=weights)
        for name in ("low_c", "sigma_c", "spread_c"):
            wanted = float(getattr(one, name))
            value = float(getattr(found, name)[place])
            assert value == pytest.approx(wanted, nan_ok=True)


@pytest.mark.parametrize("weights", [[1.0, -0.5], [np.nan, 1.0]])
def test_a_weight_that_is_none_is_refused(weights: list[float]) -> None:
    with pytest.raises(PhysicsDomainError, match="weight"):
        pool_lows([0.0, 1.0], 0, weights=weights)


@given(st.floats(0.0, 12.0), st.floats(0.0, 12.0))
def test_the_farther_apart_the_less_sure(one_c: float, two_c: float) -> None:
    assume(one_c + 1e-3 < two_c)
    near, far = (pool_lows([0.0, apart], 0).sigma_c for apart in (one_c, two_c))
    assert float(near) < float(far)


def test_other_constants_count() -> None:
    rules = PoolRules(near_c=0.5, spread_share=0.0, lean_share=0.5)
    found = pool_lows([8.0, 0.0], 0, rules=rules)
    assert (float(found.low_c), float(found.sigma_c)) == (4.0, 0.5)
