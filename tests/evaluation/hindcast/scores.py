"""Scores of chances and of lows; each night counts with a weight."""

from typing import NamedTuple

import numpy as np
from scipy.special import xlogy

from frostalert.model.forecast import BoolArray, FloatArray

BINS, SHOWN = 5, (0.05, 0.95)
_LEAST_CHANCE = 1e-6
"""No score is made infinite by one night."""


def mean(values: FloatArray, weight: FloatArray) -> float:
    """Return the weighted mean, NaN where nothing counts."""
    total = float(weight.sum())
    return float((values * weight).sum()) / total if total else float("nan")


def brier(chance: FloatArray, happened: BoolArray, weight: FloatArray) -> float:
    """Return the Brier score."""
    return mean((chance - happened) ** 2, weight)


def log_score(chance: FloatArray, happened: BoolArray, weight: FloatArray) -> float:
    """Return the mean of -ln of the chance that was given to what came."""
    kept = np.clip(chance, _LEAST_CHANCE, 1.0 - _LEAST_CHANCE)
    lost = -xlogy(happened, kept) - xlogy(~happened, 1.0 - kept)
    return mean(lost, weight)


def log_density(
    centre_c: FloatArray, sigma_c: FloatArray, low_c: FloatArray
) -> FloatArray:
    """Return ln of the density [1/degC] that a normal gave to each low that came."""
    away = (low_c - centre_c) / sigma_c
    return np.asarray(-0.5 * (away**2 + np.log(2.0 * np.pi)) - np.log(sigma_c))


class Bin(NamedTuple):
    """Chances of about the same height, their mean, and how often it happened."""

    told: float
    happened: float
    cases: int


def reliability(chance: FloatArray, happened: BoolArray) -> list[Bin]:
    """Return five bins with equally many of the chances from 5 to 95 %."""
    shown = (chance >= SHOWN[0]) & (chance <= SHOWN[1])
    order = np.argsort(chance[shown], kind="stable")
    parts = [part for part in np.array_split(order, BINS) if part.size]
    told, came = chance[shown], happened[shown]
    return [Bin(told[p].mean(), came[p].mean(), int(p.size)) for p in parts]


def largest_gap(bins: list[Bin]) -> float:
    """Return by how much the worst bin was told wrongly."""
    return max((abs(item.told - item.happened) for item in bins), default=0.0)


class Calls(NamedTuple):
    """What came of the nights on which people were called, and of the others."""

    hits: float
    misses: float
    false_calls: float


def calls(called: BoolArray, happened: BoolArray, weight: FloatArray) -> Calls:
    """Count hits, misses and false calls."""
    return Calls(
        hits=float(weight[called & happened].sum()),
        misses=float(weight[~called & happened].sum()),
        false_calls=float(weight[called & ~happened].sum()),
    )


def calls_at_hits(
    chance: FloatArray, happened: BoolArray, weight: FloatArray, hits: float
) -> Calls:
    """Count calls from the highest chance at which there are so many hits."""
    order = np.argsort(-chance[happened], kind="stable")
    reached = np.cumsum(weight[happened][order])
    place = int(np.searchsorted(reached, hits - 1e-9))
    if hits <= 0.0 or not reached.size:
        return calls(np.zeros(chance.size, dtype=np.bool_), happened, weight)
    level = chance[happened][order][min(place, reached.size - 1)]
    return calls(chance >= level, happened, weight)


def cost(called: BoolArray, happened: BoolArray, ratio: float) -> float:
    """Return the mean cost of a night, in units of the loss, at a cost-loss ratio."""
    return float(ratio * called.mean() + (happened & ~called).mean())
