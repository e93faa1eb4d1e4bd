"""What learning does when a source's error turns, drifts or stays as it is.

Forecast models are replaced every year or two: what was learned of the old one then
misleads. The same invented nights are judged by the package's rule and by one that
never forgets; each night by what the nights before it taught.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from frostalert.agronomy.kill import reach_probability
from frostalert.model.assessment import NightKind
from frostalert.model.forecast import FloatArray
from frostalert.model.learned import ForecastObservation, LeadClass, Learned
from frostalert.model.site import Rules
from frostalert.risk.source_bias import learn_source_bias
from frostalert.risk.uncertainty import unlearned_error_c

FIRST = date(2026, 3, 1)
LIMITS_C = (-3.0, -2.0, -1.0, 0.0)
FLIPS = (20, 80, 120, 240)
"""Nights after which a source that was 2 degC too cold is 2 degC too warm."""
SITES, JUDGED = 200, 40
"""Sites of each case, and nights of each that are judged: those after the flip."""
MOST_MISSED, MOST_BRIER = 0.55, 1.02
"""The aims, both as shares of what the rule that never forgets has."""
HANDS, UNLIKELY = 0.2, 0.05
_TURN_C = 2.0
_SPOILT = 0.025
_BEND, _PRIOR_NIGHTS, _PRIOR_SIGMA_NIGHTS, _ENOUGH = 1.345, 3.0, 5.0, 10

Line = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Nights:
    """One site's nights. [degC] What the sensor showed is not always what was."""

    kind: tuple[NightKind, ...]
    forecast_c: FloatArray
    observed_c: FloatArray
    shown_c: FloatArray


@dataclass(frozen=True, slots=True)
class Tally:
    """Chances that one rule told, and what came. Shape (chances,)."""

    chance: FloatArray
    happened: FloatArray

    @property
    def brier(self) -> float:
        """The mean squared error of the chances."""
        return float(((self.chance - self.happened) ** 2).mean())

    def told_below(self, chance: float) -> int:
        """Return how often harm came though less than a chance was told."""
        return int(((self.chance < chance) & (self.happened == 1.0)).sum())

    @property
    def missed(self) -> float:
        """The share of harm for which no hands were called."""
        return self.told_below(HANDS) / float(self.happened.sum())


def never_forgetting(errors_c: FloatArray, sigma_c: float) -> Learned:
    """Return what a rule learns that counts every night alike, however old.

    Huber's mean, shrunk by three nights; a smaller error and half of a warmer
    correction, a degree at most, from ten nights on.
    """
    count = errors_c.size
    if not count:
        return Learned(bias_c=0.0, applied_c=0.0, sigma_c=None, nights=0)
    centre = float(np.median(errors_c))
    for _ in range(50):
        bend_c = _BEND * sigma_c
        centre += float(np.clip(errors_c - centre, -bend_c, bend_c).mean())
    bias = centre * count / (count + _PRIOR_NIGHTS)
    is_enough = count >= _ENOUGH
    warmer = min(0.5 * bias, 1.0) if is_enough else 0.0
    left = np.clip(errors_c - centre, -3.0 * sigma_c, 3.0 * sigma_c)
    squares = float((left**2).sum()) + _PRIOR_SIGMA_NIGHTS * sigma_c**2
    variance = squares / (count + _PRIOR_SIGMA_NIGHTS) * (1.0 + 1.0 / count)
    return Learned(
        bias_c=bias,
        applied_c=bias if bias <= 0.0 else warmer,
        sigma_c=max(1.0, float(np.sqrt(variance))) if is_enough else None,
        nights=count,
    )


def flip(after: int) -> FloatArray:
    """Return a site's bias that turns after some nights: observed less forecast."""
    return np.repeat([_TURN_C, -_TURN_C], [after, JUDGED])


def drift() -> FloatArray:
    """Return a bias that turns as far, in 80 nights."""
    return np.linspace(_TURN_C, -_TURN_C, 2 * JUDGED)


def draw(random: np.random.Generator, bias_c: FloatArray | None) -> Nights:
    """Return one site's nights; without a bias, each kind of night has a constant own.

    One night in forty the sensor hangs in the sun or lies in the snow.
    """
    count = 2 * JUDGED if bias_c is None else bias_c.size
    is_clear = random.random(count) < 0.6
    if bias_c is None:
        clear_c, other_c = random.normal(-1.2, 1.0), random.normal(0.0, 0.5)
        bias_c = np.where(is_clear, clear_c, other_c)
    forecast = random.normal(1.0, 3.0, count)
    noise = random.normal(0.0, random.uniform(0.9, 1.8), count)
    observed = forecast + bias_c + noise
    spoilt = random.normal(0.0, 8.0, count) * (random.random(count) < _SPOILT)
    kinds = [NightKind.RADIATION if own else NightKind.MIXED for own in is_clear]
    return Nights(tuple(kinds), forecast, observed, observed + spoilt)


def judge(sites: int, seed: int, bias_c: FloatArray | None) -> tuple[Tally, Tally]:
    """Return what the package and the rule that never forgets tell of the last nights.

    Parameters
    ----------
    sites : int
        How many are drawn.
    seed : int
        Everything follows from it.
    bias_c : array of float or None
        As for `draw`. [degC]
    """
    ours: list[FloatArray] = []
    theirs: list[FloatArray] = []
    came: list[FloatArray] = []
    for site in range(sites):
        nights = draw(np.random.default_rng([seed, site]), bias_c)
        pairs = _pairs(nights)
        for place in range(len(pairs) - JUDGED, len(pairs)):
            ours.append(_told(nights, place, _fading(pairs, place)))
            theirs.append(_told(nights, place, _unfading(nights, place)))
            came.append(nights.observed_c[place] <= np.array(LIMITS_C))
    happened = np.concatenate(came).astype(float)
    return Tally(np.concatenate(ours), happened), Tally(
        np.concatenate(theirs), happened
    )


def _pairs(nights: Nights) -> list[ForecastObservation]:
    return [
        ForecastObservation(
            night=FIRST + timedelta(days=place),
            source="s",
            kind=kind,
            forecast_low_c=float(nights.forecast_c[place]),
            observed_low_c=float(nights.shown_c[place]),
        )
        for place, kind in enumerate(nights.kind)
    ]


def _fading(pairs: list[ForecastObservation], place: int) -> Learned:
    return learn_source_bias(
        pairs[:place],
        pairs[place].night,
        source="s",
        lead=LeadClass.TONIGHT,
        kind=pairs[place].kind,
        sigma_c=unlearned_error_c(0, Rules()),
    )


def _unfading(nights: Nights, place: int) -> Learned:
    is_own = np.array([kind is nights.kind[place] for kind in nights.kind[:place]])
    errors = (nights.shown_c - nights.forecast_c)[:place][is_own]
    return never_forgetting(errors, unlearned_error_c(0, Rules()))


def _told(nights: Nights, place: int, known: Learned) -> FloatArray:
    sigma = known.sigma_c or unlearned_error_c(0, Rules())
    low = float(nights.forecast_c[place]) + known.applied_c
    return np.array([float(reach_probability(low, sigma, c)) for c in LIMITS_C])


def cases(sites: int = SITES) -> Iterator[Line]:
    """Give every case's figures, and how they compare with the aims."""
    yield "sites of each case, nights judged", f"{sites}, {JUDGED}"
    for after in FLIPS:
        name = f"flip after night {after}"
        ours, theirs = judge(sites, after, flip(after))
        yield from _figures(name, ours, theirs)
        yield _aim(f"{name}, missed over", ours.missed / theirs.missed, MOST_MISSED)
    yield from _figures("drift in 80 nights, last 40", *judge(sites, 1, drift()))
    ours, theirs = judge(sites, 2, None)
    yield from _figures("stationary, nights 41 to 80", ours, theirs)
    yield _aim("stationary, Brier score over", ours.brier / theirs.brier, MOST_BRIER)


def _figures(name: str, ours: Tally, theirs: Tally) -> Iterator[Line]:
    for rule, told in (("ours", ours), ("never forgets", theirs)):
        yield f"{name}, {rule}, Brier score", f"{told.brier:.4f}"
        yield f"{name}, {rule}, missed at a {HANDS:.0%} call", f"{told.missed:.1%}"
        unlikely = f"{told.told_below(UNLIKELY)} of {told.happened.sum():.0f}"
        yield f"{name}, {rule}, harmed though told < {UNLIKELY:.0%}", unlikely


def _aim(name: str, ratio: float, most: float) -> Line:
    verdict = "met" if ratio <= most else "missed"
    return (
        f"aim {name} that of never forgetting",
        f"{ratio:.3f} (aim at most {most}) {verdict}",
    )
