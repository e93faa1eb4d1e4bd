"""What pooling has to reach with constants that no reported night has chosen."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from tests.evaluation.hindcast.judged import FROST_C, Judged
from tests.evaluation.hindcast.pairs import SOURCES
from tests.evaluation.hindcast.scores import brier, largest_gap, mean
from tests.evaluation.hindcast.tables import (
    CALLED_C,
    Line,
    bins,
    landed_calls,
    ready_calls,
)
from tests.evaluation.hindcast.ways import MEAN, OURS
from tests.evaluation.hindcast.weeks import Weights, drawn, interval, once

BRIER_TO_SOURCE = {1: 0.90, 3: 0.97}
LOG_SCORE_GAIN = {1: 0.04, 3: 0.02}
MOST_GAP, MOST_FALSE = 0.10, 0.65


@dataclass(frozen=True, slots=True)
class Aim:
    """A figure, what it should be, and how far it would move with other weeks."""

    name: str
    value: float
    aim: float
    is_least: bool = False
    inside: tuple[float, float] | None = None

    @property
    def is_met(self) -> bool:
        """Return whether the figure is on the right side."""
        return self.value >= self.aim if self.is_least else self.value <= self.aim

    @property
    def line(self) -> Line:
        """Return it in words."""
        way = "at least" if self.is_least else "at most"
        sure = (
            ""
            if self.inside is None
            else ", 95 % {:.3f} to {:.3f}".format(*self.inside)
        )
        if np.isnan(self.value):
            return f"aim {self.name}", "no such cold in these nights, not judged"
        verdict = "met" if self.is_met else "missed"
        return (
            f"aim {self.name}",
            f"{self.value:.3f} (aim {way} {self.aim}) {verdict}{sure}",
        )


def aims(leads: Sequence[Judged], times: int) -> Iterator[Aim]:
    """Give every aim with its figure."""
    nights = [item.nights for item in leads]
    draws, all_once = drawn(nights, times), once(nights)

    def made(
        name: str,
        figure: Callable[[Weights], float],
        aim: float,
        *,
        is_least: bool = False,
    ) -> Aim:
        inside = interval(figure, draws) if draws else None
        return Aim(name, figure(all_once), aim, is_least, inside)

    for place, item in enumerate(leads):
        days = item.nights.lead_days
        lead = f"lead {days}"
        yield made(
            f"{lead}, Brier at three limits over that of the best corrected source",
            _brier_ratio(item, place, SOURCES),
            BRIER_TO_SOURCE[days],
        )
        yield made(
            f"{lead}, Brier at three limits over that of the corrected mean",
            _brier_ratio(item, place, (MEAN,)),
            1.0,
        )
        yield made(
            f"{lead}, log score gained on the corrected mean",
            _log_gain(item, place),
            LOG_SCORE_GAIN[days],
            is_least=True,
        )
        gap = largest_gap(bins([item], OURS))
        yield Aim(f"{lead}, largest gap of the five bins", gap, MOST_GAP)
    gap = largest_gap(bins(leads, OURS))
    yield Aim("all leads, largest gap of the five bins", gap, MOST_GAP)
    for first in reversed(SOURCES):
        yield made(
            f"all leads, false calls over those of the landed rule with {first} first",
            _false_ratio(leads, first),
            MOST_FALSE,
        )


def _brier_ratio(
    item: Judged, place: int, others: Sequence[str]
) -> Callable[[Weights], float]:
    """Return ours over the best of others, summed over the frosty limits."""
    told = {limit: item.chances(limit) for limit in FROST_C}

    def total(name: str, weights: Weights) -> float:
        return sum(
            brier(told[limit][name], item.happened(limit), weights[place])
            for limit in FROST_C
        )

    def ratio(weights: Weights) -> float:
        best = min(total(name, weights) for name in others)
        return total(OURS, weights) / best if best else float("nan")

    return ratio


def _log_gain(item: Judged, place: int) -> Callable[[Weights], float]:
    """Return by how much ours gives the low that came a higher log density."""
    densities = item.densities()
    gained = densities[OURS] - densities[MEAN]
    return lambda weights: mean(gained, weights[place])


def _false_ratio(leads: Sequence[Judged], first: str) -> Callable[[Weights], float]:
    """Return false calls over those of the landed rule at as many hits."""

    def ratio(weights: Weights) -> float:
        ours = theirs = 0.0
        for item, weight in zip(leads, weights, strict=True):
            for limit_c in CALLED_C:
                own = ready_calls(item, limit_c, weight)
                ours += own.false_calls
                equal = landed_calls(item, limit_c, weight, first, own.hits)
                theirs += equal.false_calls
        return ours / theirs if theirs else float("nan")

    return ratio
