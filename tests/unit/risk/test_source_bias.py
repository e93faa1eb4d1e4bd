"""What a source's past errors teach, and how soon a change of the source is noticed."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.errors import PhysicsDomainError
from frostalert.model.assessment import NightKind
from frostalert.model.learned import (
    ForecastObservation,
    LeadClass,
    Learned,
    PairOrigin,
)
from frostalert.risk.source_bias import (
    FADE,
    fade_errors,
    learn_source_bias,
    pair_weights,
)

SIGMA_C = 2.5
NIGHT = date(2027, 4, 20)
FOR_EVER = replace(FADE, half_life_nights=1e12)
CLEAR, MIXED = NightKind.RADIATION, NightKind.MIXED


def learned(errors: list[float], *, oldest_first: bool = True) -> Learned:
    ages = np.arange(len(errors), 0, -1) if oldest_first else np.arange(len(errors)) + 1
    return fade_errors(errors, ages, SIGMA_C)


def past(error_c: float, nights: int, **other: object) -> list[ForecastObservation]:
    one = ForecastObservation(
        night=NIGHT,
        source="nws",
        lead=LeadClass.TONIGHT,
        kind=CLEAR,
        forecast_low_c=1.0,
        observed_low_c=1.0 + error_c,
    )
    return [
        replace(one, **{"night": NIGHT - timedelta(days=n + 1), **other})  # type: ignore[arg-type]
        for n in range(nights)
    ]


def bias(
    pairs: list[ForecastObservation], lead: LeadClass = LeadClass.TONIGHT
) -> Learned:
    return learn_source_bias(
        pairs, NIGHT, source="nws", lead=lead, kind=CLEAR, sigma_c=SIGMA_C
    )


def test_a_night_counts_half_after_twelve_later_ones_of_its_kind() -> None:
    # Nights of a kind may lie weeks apart: it is the nights that count.
    weights = pair_weights(np.arange(25) * 5 + 1)
    assert weights[[0, 12, 24]] == pytest.approx([1.0, 0.5, 0.25])


def test_more_than_a_year_old_it_counts_a_quarter_of_that() -> None:
    assert pair_weights([365, 366], FOR_EVER) == pytest.approx([1.0, 0.25])


@given(st.permutations(range(1, 9)))
def test_the_order_in_which_nights_are_given_is_of_no_account(ages: list[int]) -> None:
    errors = [0.5 * age - 3.0 for age in ages]
    found = fade_errors(errors, ages, SIGMA_C)
    assert found.bias_c == pytest.approx(
        fade_errors(sorted(errors), sorted(ages), SIGMA_C).bias_c
    )


def test_a_colder_site_counts_from_the_first_night_shrunk_by_three() -> None:
    assert learned([-2.0]).applied_c == pytest.approx(-2.0 / 4)
    weight = pair_weights(np.arange(10) + 1).sum()
    ten = learned([-2.0] * 10)
    assert ten.applied_c == ten.bias_c == pytest.approx(-2.0 * weight / (weight + 3.0))


def test_a_warmer_site_waits_for_ten_nights_and_counts_by_half_and_a_degree() -> None:
    assert learned([2.0] * 9).applied_c == 0.0
    ten = learned([1.5] * 10)
    assert ten.applied_c == pytest.approx(0.5 * ten.bias_c)
    assert learned([5.0] * 40).applied_c == 1.0


def test_nights_of_last_year_count_a_quarter_towards_the_ten() -> None:
    old = 400.0 + np.arange(39)
    assert fade_errors([2.0] * 39, old, SIGMA_C).applied_c == 0.0
    assert fade_errors([2.0] * 40, np.append(old, 450.0), SIGMA_C).applied_c > 0.0


@pytest.mark.parametrize(("error_c", "needed"), [(-1.0, 10), (0.0, 10), (1.0, 20)])
def test_a_smaller_error_comes_with_a_warmer_correction_only_from_twenty(
    error_c: float, needed: int
) -> None:
    assert learned([error_c] * (needed - 1)).sigma_c is None
    found = learned([error_c] * needed)
    assert found.sigma_c is not None
    assert FADE.least_sigma_c <= found.sigma_c < SIGMA_C


@pytest.mark.parametrize("sd_c", [1.2, 2.0])
def test_the_error_that_is_left_is_found(sd_c: float) -> None:
    random = np.random.default_rng(5)
    found = [learned(list(random.normal(-1.0, sd_c, 200))).sigma_c for _ in range(60)]
    # Five nights' belief in 2.5 stay among eighteen that count.
    believed = np.sqrt((17.8 * sd_c**2 + 5 * SIGMA_C**2) / 22.8 * (1 + 1 / 17.8))
    assert np.mean(np.array(found, dtype=float)) == pytest.approx(believed, rel=0.06)


def test_one_wild_night_moves_little() -> None:
    calm, wild = learned([-1.0] * 12), learned([-1.0] * 11 + [25.0])
    assert wild.bias_c == pytest.approx(calm.bias_c, abs=0.4)


@given(st.lists(st.floats(-6.0, 6.0), min_size=1, max_size=40))
def test_shrunk_towards_zero_and_warmer_by_a_degree_at_most(
    errors: list[float],
) -> None:
    found = learned(errors)
    assert abs(found.bias_c) <= max(map(abs, errors)) + 1e-9
    assert found.applied_c <= min(max(found.bias_c, 0.0), 1.0) or found.bias_c < 0.0
    assert found.sigma_c is None or found.sigma_c >= FADE.least_sigma_c


@given(st.floats(-1.0, 1.0), st.lists(st.floats(-6.0, 6.0), min_size=10, max_size=30))
def test_a_colder_night_never_makes_it_warmer(step: float, errors: list[float]) -> None:
    colder = [errors[0] - abs(step), *errors[1:]]
    assert learned(colder).applied_c <= learned(errors).applied_c + 1e-4


def test_a_source_that_turned_is_believed_again_within_a_few_weeks() -> None:
    def after(nights: int, rules_nights: float) -> float:
        errors = [2.0] * 120 + [-2.0] * nights
        rules = replace(FADE, half_life_nights=rules_nights)
        ages = np.arange(len(errors), 0, -1)
        return fade_errors(errors, ages, SIGMA_C, rules).applied_c

    assert after(0, 12.0) == pytest.approx(0.86, abs=0.02)
    assert after(20, 12.0) < -0.5
    assert after(40, 12.0) < -1.2
    # Without fading it would still be too warm by half a degree after forty nights.
    assert after(40, 1e12) > 0.4


def test_only_the_same_source_lead_and_kind_before_that_night_count() -> None:
    own = past(-2.0, 12)
    others = [
        *past(4.0, 20, source="met-norway"),
        *past(4.0, 20, lead=LeadClass.LATER),
        *past(4.0, 20, kind=MIXED),
        *past(4.0, 5, night=NIGHT),
        *past(4.0, 5, night=NIGHT + timedelta(days=3)),
    ]
    assert bias(own + others) == bias(own)
    assert bias(own).nights == 12


def test_nothing_is_applied_where_nothing_is_known() -> None:
    nothing = Learned(bias_c=0.0, applied_c=0.0, sigma_c=None, nights=0)
    assert bias([]) == nothing
    assert bias(past(-2.0, 12), LeadClass.TOMORROW) == nothing


@pytest.mark.parametrize(
    ("errors", "ages"), [([np.nan], [1]), ([np.inf], [1]), ([1.0], [0]), ([1.0], [-3])]
)
def test_an_error_that_is_none_or_of_a_night_to_come_is_refused(
    errors: list[float], ages: list[int]
) -> None:
    with pytest.raises(PhysicsDomainError, match="past"):
        fade_errors(errors, ages, SIGMA_C)


def test_a_pair_of_an_archive_counts_half_and_a_station_s_a_quarter() -> None:
    own, _, archive, station = (
        bias(past(-2.0, 1, origin=origin)).applied_c for origin in PairOrigin
    )
    assert own == pytest.approx(-2.0 * 1.0 / 4.0)
    assert archive == pytest.approx(-2.0 * 0.5 / 3.5)
    assert station == pytest.approx(-2.0 * 0.25 / 3.25)


def test_an_archive_s_pairs_fade_like_all() -> None:
    origin = PairOrigin.ARCHIVE
    near, far = (
        bias(past(-2.0, 1, origin=origin, night=NIGHT - timedelta(days=age))).applied_c
        for age in (365, 366)
    )
    assert near == pytest.approx(-2.0 * 0.5 / 3.5)
    assert far == pytest.approx(-2.0 * 0.125 / 3.125)


def test_a_thermometer_s_archive_is_believed_warmer_from_twenty_nights() -> None:
    few, enough = (
        bias(past(2.0, nights, origin=PairOrigin.ARCHIVE)) for nights in (19, 20)
    )
    assert few.applied_c == 0.0
    weight = 0.5 * pair_weights(np.arange(20) + 1).sum()
    assert enough.applied_c == pytest.approx(0.5 * 2.0 * weight / (weight + 3.0))


@given(
    station=st.lists(st.floats(-6.0, 6.0), min_size=1, max_size=60),
    own=st.lists(st.floats(-6.0, 6.0), max_size=30),
)
def test_a_station_never_makes_a_site_warmer_nor_its_forecast_surer(
    station: list[float], own: list[float]
) -> None:
    nights = [pair for error in own for pair in past(error, 1)]
    nights = [
        replace(pair, night=NIGHT - timedelta(days=2 * n + 1))
        for n, pair in enumerate(nights)
    ]
    told = [
        replace(pair, night=NIGHT - timedelta(days=2 * n + 2))
        for n, error in enumerate(station)
        for pair in past(error, 1, origin=PairOrigin.ARCHIVE_STATION)
    ]
    alone, together = bias(nights), bias([*nights, *told])
    assert together.applied_c <= alone.applied_c
    assert together.sigma_c == alone.sigma_c
    assert together.archive_nights == len(told)


def test_a_station_alone_makes_it_colder() -> None:
    found = bias(past(-2.0, 60, origin=PairOrigin.ARCHIVE_STATION))
    assert found.applied_c < -0.9
    assert found.sigma_c is None
    assert found.words == "60 nights, 60 of them from archives"


def test_a_station_s_nights_count_half() -> None:
    own, lent = past(-2.0, 8), past(-2.0, 8, origin=PairOrigin.STATION)
    weight = pair_weights(np.arange(8) + 1).sum()
    assert bias(own).applied_c == pytest.approx(-2.0 * weight / (weight + 3.0))
    half = 0.5 * weight
    assert bias(lent).applied_c == pytest.approx(-2.0 * half / (half + 3.0))
    assert bias(lent).nights == 8


def test_a_station_alone_never_makes_it_warmer_nor_surer() -> None:
    lent = bias(past(2.0, 60, origin=PairOrigin.STATION))
    assert lent.bias_c > 1.0
    assert (lent.applied_c, lent.sigma_c) == (0.0, None)
    cold = bias(past(-2.0, 60, origin=PairOrigin.STATION))
    assert cold.applied_c < -1.0
    # How far the site itself is from the station is not known any better.
    assert cold.sigma_c is None


@given(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0), st.integers(0, 30))
def test_beside_own_nights_a_station_adds_no_warmth(
    own_c: float, lent_c: float, nights: int
) -> None:
    own = past(own_c, nights)
    lent = [
        replace(pair, night=pair.night - timedelta(days=40))
        for pair in past(lent_c, 20, origin=PairOrigin.STATION)
    ]
    together = bias([*own, *lent]).applied_c
    assert together <= max(bias(own).applied_c, 0.0) + 1e-6


def test_the_error_that_is_left_counts_the_rules_own_and_that_of_the_mean() -> None:
    """Twenty nights of one weight, each a degree off, beside five of the rules' 2.5.

    The variance of a normal model with a conjugate prior, and one part in twenty more
    for the mean: Gelman et al., Bayesian Data Analysis, chapter 3; from memory.
    """
    errors = [-1.0, 1.0] * 10
    found = fade_errors(errors, np.arange(20, 0, -1), SIGMA_C, FOR_EVER)
    variance = (20 * 1.0 + 5 * SIGMA_C**2) / (20 + 5) * (1 + 1 / 20)
    assert found.bias_c == pytest.approx(0.0, abs=1e-9)
    assert found.sigma_c == pytest.approx(variance**0.5, rel=1e-9)
