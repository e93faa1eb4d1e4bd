"""Learn a source's bias at a site from its past errors, which fade.

Forecast models change every year or two: what a source did wrong last year says little
of this spring. By source, lead and kind of night a pair counts half after twelve later
nights of its kind, and a quarter once it is more than a year old. Pairs out of an
archive count less than nights that the program saw, and what a station measured never
makes a site warmer.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import ArrayLike

from frostalert.errors import PhysicsDomainError
from frostalert.model.assessment import NightKind
from frostalert.model.forecast import FloatArray
from frostalert.model.learned import (
    ForecastObservation,
    LeadClass,
    Learned,
)

_STEPS, _CLOSE_C = 50, 1e-6
"""At most so many steps to the bent mean, which is found when a step is so small."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FadeRules:
    """Constants of learning; all are common practice, no source, unless said.

    Attributes
    ----------
    half_life_nights : float
        Later nights of its kind after which a pair counts half. [nights]
    old_days : float
        Age beyond which a pair is of another year. [d]
    old_share : float
        What such a pair counts. [1]
    prior_nights, prior_sigma_nights : float
        Nights' worth of belief that there is no bias, and in the error of the rules.
    enough_nights, enough_warmer_nights : float
        Nights from which a warmer correction, and a smaller error, are believed; and
        from which both are believed together.
    warmer_share, most_warmer_c : float
        Share of a warmer correction that counts, and its most. [1, degC]
    least_sigma_c : float
        Error below which none is believed. [degC]
    bend : float
        Huber's constant: errors beyond that many standard errors are pulled in. [1]

    Notes
    -----
    Half-lives of 6 to 40 nights score alike on the nights of `python -m
    tests.evaluation.hindcast`; the shorter, the sooner a changed source is noticed: one
    that turns from 2 degC too cold to 2 degC too warm is corrected the right way within
    twenty nights (by test), without fading not within forty.
    """

    half_life_nights: float = 12.0
    old_days: float = 365.0
    old_share: float = 0.25
    prior_nights: float = 3.0
    prior_sigma_nights: float = 5.0
    enough_nights: float = 10.0
    enough_warmer_nights: float = 20.0
    warmer_share: float = 0.5
    most_warmer_c: float = 1.0
    least_sigma_c: float = 1.0
    bend: float = 1.345


FADE = FadeRules()


def lead_class(nights_ahead: int) -> LeadClass:
    """Return the class of a lead.

    Parameters
    ----------
    nights_ahead : int
        0 for tonight, 1 for tomorrow night.

    Returns
    -------
    LeadClass
        Every lead beyond tomorrow is "later".

    Examples
    --------
    >>> [str(lead_class(ahead)) for ahead in (0, 1, 2, 5)]
    ['tonight', 'tomorrow', 'later', 'later']
    """
    if nights_ahead <= 0:
        return LeadClass.TONIGHT
    return LeadClass.TOMORROW if nights_ahead == 1 else LeadClass.LATER


def learn_source_bias(
    past: Sequence[ForecastObservation],
    night: date,
    *,
    source: str,
    lead: LeadClass,
    kind: NightKind,
    sigma_c: float,
    rules: FadeRules = FADE,
) -> Learned:
    """Return what a source's past errors say of one night.

    Parameters
    ----------
    past : sequence of ForecastObservation
        All that is known of the site. Of it only the same source, lead and kind count,
        on nights before this one.
    night : date
        The night to be judged.
    source, lead, kind : str, LeadClass, NightKind
        Of its forecast.
    sigma_c : float
        The error that is believed before anything is learned. [degC] Above zero.
    rules : FadeRules
        The constants.

    Returns
    -------
    Learned
        Nothing is applied without nights.

    Raises
    ------
    PhysicsDomainError
        As for `fade_errors`.

    Examples
    --------
    >>> kind = NightKind.RADIATION
    >>> lead = LeadClass.TONIGHT
    >>> cold = ForecastObservation(
    ...     night=date(2026, 4, 1), source="nws", lead=lead, kind=kind,
    ...     forecast_low_c=1.0, observed_low_c=-1.0
    ... )
    >>> learn_source_bias(
    ...     [cold], date(2026, 4, 2), source="nws", lead=lead, kind=kind, sigma_c=2.5
    ... ).applied_c
    -0.5
    """
    wanted = (source, lead, kind)
    same = [
        item
        for item in past
        if (item.source, item.lead, item.kind) == wanted and item.night < night
    ]
    known = replace(
        _learned_of(same, night, sigma_c, rules),
        archive_nights=sum(item.origin.is_archived for item in same),
    )
    own = [item for item in same if not item.origin.is_station]
    if len(own) == len(same):
        return known
    # A station stands elsewhere: it can warn, but neither make this site warmer nor
    # its forecast surer.
    alone = _learned_of(own, night, sigma_c, rules)
    if known.applied_c > alone.applied_c:
        return replace(known, applied_c=alone.applied_c, sigma_c=alone.sigma_c)
    return replace(known, sigma_c=alone.sigma_c)


def _learned_of(
    pairs: Sequence[ForecastObservation], night: date, sigma_c: float, rules: FadeRules
) -> Learned:
    """Return what some pairs of one source, lead and kind say."""
    return fade_errors(
        [item.error_c for item in pairs],
        [(night - item.night).days for item in pairs],
        sigma_c,
        rules,
        shares=[item.origin.weight for item in pairs],
    )


def fade_errors(
    errors_c: ArrayLike,
    ages_days: ArrayLike,
    sigma_c: float,
    rules: FadeRules = FADE,
    *,
    shares: ArrayLike = 1.0,
) -> Learned:
    """Return the bias that errors of one source, lead and kind of night show.

    Parameters
    ----------
    errors_c : array_like of float
        Observed less forecast. [degC] Shape (nights,), in any order.
    ages_days : array_like of float
        From each night to the one that is judged. [d] Above zero.
    sigma_c : float
        The error that is believed before anything is learned. [degC] Above zero.
    rules : FadeRules
        The constants.
    shares : array_like of float
        What each night counts beside one that the program saw itself. [1]

    Returns
    -------
    Learned
        Colder biases apply as learned, warmer ones late and in part.

    Raises
    ------
    PhysicsDomainError
        If an error is not finite, or a night is not past.

    Notes
    -----
    A smaller error is believed from ten nights on, with a warmer correction from
    twenty: the two together would hide a night that turns out as it used to. Both rest
    on the site's own nights alone: another place's show nothing of this one.

    References
    ----------
    .. [1] Huber, "Robust estimation of a location parameter," Ann. Math. Statist. 35,
       1964, 73-101, with weights.
    .. [2] Shrinkage towards zero as the posterior mean of a normal mean with a normal
       prior.

    Examples
    --------
    >>> fade_errors([-2.0] * 10, np.arange(1, 11), 2.5).nights
    10
    """
    errors = np.asarray(errors_c, dtype=np.float64)
    ages = np.asarray(ages_days, dtype=np.float64)
    if not errors.size:
        return Learned(bias_c=0.0, applied_c=0.0, sigma_c=None, nights=0)
    if not (np.isfinite(errors).all() and (ages > 0.0).all()):
        message = "past errors must be finite, and of nights that are past"
        raise PhysicsDomainError(message)
    share = np.broadcast_to(np.asarray(shares, dtype=np.float64), ages.shape)
    weights = share * pair_weights(ages, rules)
    total = float(weights.sum())
    centre = _bent_mean(errors, weights, rules.bend * sigma_c)
    bias = centre * total / (total + rules.prior_nights)
    year = np.where(ages > rules.old_days, rules.old_share, 1.0)
    counted = float((share * year).sum())
    needed = rules.enough_nights if bias <= 0.0 else rules.enough_warmer_nights
    left = _left_c(errors - centre, weights, sigma_c, rules)
    return Learned(
        bias_c=bias,
        applied_c=cautious_c(bias, counted, rules),
        sigma_c=max(rules.least_sigma_c, left) if counted >= needed else None,
        nights=int(errors.size),
    )


def pair_weights(ages_days: ArrayLike, rules: FadeRules = FADE) -> FloatArray:
    """Return what each of a kind's nights still counts.

    Parameters
    ----------
    ages_days : array_like of float
        From each night to the one that is judged. [d] Shape (nights,), in any order.
    rules : FadeRules
        The constants.

    Returns
    -------
    ndarray of float
        1 for the latest night of the kind, however long ago within the year. [1]

    Examples
    --------
    >>> pair_weights([1, 400], FadeRules(half_life_nights=1.0)).tolist()
    [1.0, 0.125]
    """
    ages = np.asarray(ages_days, dtype=np.float64)
    _, later_nights = np.unique(ages, return_inverse=True)
    year = np.where(ages > rules.old_days, rules.old_share, 1.0)
    return np.asarray(year * 0.5 ** (later_nights / rules.half_life_nights))


def cautious_c(bias_c: float, counted: float, rules: FadeRules = FADE) -> float:
    """Return what of a bias is counted: colder as learned, warmer with care. [degC]

    Parameters
    ----------
    bias_c : float
        What was learned. [degC]
    counted : float
        Nights that it rests on. [nights]
    rules : FadeRules
        The constants.

    Returns
    -------
    float
        The bias to add. [degC]

    Examples
    --------
    >>> cautious_c(-1.0, 1), cautious_c(1.0, 9), cautious_c(1.0, 10)
    (-1.0, 0.0, 0.5)
    """
    if bias_c <= 0.0:
        return bias_c
    if counted < rules.enough_nights:
        return 0.0
    return min(rules.warmer_share * bias_c, rules.most_warmer_c)


def _bent_mean(errors: FloatArray, weights: FloatArray, bend_c: float) -> float:
    """Return Huber's mean of some errors, by their weights. [degC]"""
    centre = float(np.median(errors))
    for _ in range(_STEPS):
        step = float(
            np.average(np.clip(errors - centre, -bend_c, bend_c), weights=weights)
        )
        centre += step
        if abs(step) < _CLOSE_C:
            break
    return centre


def _left_c(
    errors: FloatArray, weights: FloatArray, sigma_c: float, rules: FadeRules
) -> float:
    """Return the error that is left when the bias is taken off. [degC]"""
    total = float(weights.sum())
    squares = float((weights * np.clip(errors, -3 * sigma_c, 3 * sigma_c) ** 2).sum())
    prior = rules.prior_sigma_nights
    # The mean itself is not known exactly: it adds its own error.
    variance = (squares + prior * sigma_c**2) / (total + prior) * (1.0 + 1.0 / total)
    return float(np.sqrt(variance))
