"""Ways to turn forecast lows into a chance, each held out by station.

What a way has to be told beforehand (the error of a source, the constants of pooling)
is chosen for each station on the nights of all the others.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from scipy.special import ndtr

from frostalert.model.forecast import FloatArray
from frostalert.risk.pooling import POOL, PoolRules, pool_lows
from tests.evaluation.hindcast.pairs import SOURCES
from tests.evaluation.hindcast.scores import log_density
from tests.evaluation.hindcast.walk import Nights

OURS, SHIPPED, MEAN, CLIMATOLOGY = "ours", "ours as shipped", "mean", "climatology"
UNHELD = "ours, warmer lessons in full"

ERRORS_C = np.arange(0.8, 2.45, 0.1)
SPREAD_SHARES = (0.0, 0.35, 0.7, 1.0)
LEANS_C = ((2.0, 5.0), (3.0, 6.0), (4.0, 7.0))
LEAN_SHARES = (0.2, 1.0 / 3.0, 0.5)
"""What the constants are chosen from. Half the way is no lean, where two are pooled."""
_SEASON, _WEEK = np.timedelta64(15, "D"), np.timedelta64(3, "D")


@dataclass(frozen=True, slots=True)
class Way:
    """A normal for the low of every night. [degC]"""

    centre_c: FloatArray
    sigma_c: FloatArray

    def chance(self, limit_c: float) -> FloatArray:
        """Return the chance of each night that its low is at or below a limit."""
        return np.asarray(ndtr((limit_c - self.centre_c) / self.sigma_c))


def pooled(nights: Nights, lows_c: FloatArray, rules: PoolRules) -> Way:
    """Return the pooled low of every night."""
    found = pool_lows(lows_c, nights.ahead, rules=rules)
    return Way(found.low_c, found.sigma_c)


def held_out_pool(
    nights: Nights, lows_c: FloatArray, rules: dict[str, PoolRules]
) -> Way:
    """Return the pooled low of every night by its station's constants."""
    centre, sigma = np.empty(nights.night.size), np.empty(nights.night.size)
    for station, constants in rules.items():
        own = nights.station == station
        way = pooled(nights.only(own), lows_c[:, own], constants)
        centre[own], sigma[own] = way.centre_c, way.sigma_c
    return Way(centre, sigma)


def held_out_normal(nights: Nights, centre_c: FloatArray) -> Way:
    """Return a normal about one value a night, its error that of other stations."""
    square = (centre_c - nights.analysed_c) ** 2
    sigma = np.empty(square.size)
    for station in np.unique(nights.station):
        own = nights.station == station
        # With one station alone there is nobody else to ask.
        asked = square[~own] if (~own).any() else square
        sigma[own] = np.sqrt(asked.mean())
    return Way(centre_c, sigma)


def landed(nights: Nights, first: int) -> Way:
    """Return the rule by which one source counts and the other widens its error."""
    alone = pool_lows(nights.corrected_c[[first]], nights.ahead)
    return Way(alone.low_c, np.hypot(alone.sigma_c, nights.spread_c / 2.0))


def climatology(nights: Nights, limit_c: float) -> FloatArray:
    """Return how often a station's low is at or below a limit at this time of year.

    Nights 15 days to either side, later ones too; of the week itself none.
    """
    apart = np.abs(nights.night[:, None] - nights.night)
    near = (nights.station[:, None] == nights.station) & (apart <= _SEASON)
    asked = near & (apart > _WEEK)
    return np.asarray(
        (asked @ (nights.analysed_c <= limit_c) + 0.5) / (asked.sum(axis=1) + 1.0)
    )


def normal_ways(
    nights: Nights, lows_c: FloatArray, rules: dict[str, PoolRules]
) -> dict[str, Way]:
    """Return what is compared, by name."""
    return {
        **{
            name: held_out_normal(nights, lows_c[place])
            for place, name in enumerate(SOURCES)
        },
        MEAN: held_out_normal(nights, lows_c.mean(axis=0)),
        OURS: held_out_pool(nights, lows_c, rules),
        SHIPPED: pooled(nights, lows_c, POOL),
    }


def held_out_rules(leads: Sequence[Nights]) -> dict[str, PoolRules]:
    """Return for each station the constants that serve all other stations best.

    The error of each lead is its own; the rest is the same for all leads. The score is
    the logarithm of the density at the low that came.
    """
    stations = np.unique(np.concatenate([nights.station for nights in leads]))
    shapes = [
        replace(
            POOL, spread_share=share, lean_from_c=start, lean_full_c=end, lean_share=to
        )
        for share, (start, end), to in product(SPREAD_SHARES, LEANS_C, LEAN_SHARES)
    ]
    # Shape (shapes, leads, errors, stations).
    table = np.array([[_table(n, shape, stations) for n in leads] for shape in shapes])
    if stations.size == 1:
        return {str(stations[0]): POOL}
    others = table.sum(axis=-1, keepdims=True) - table
    best_errors = others.argmax(axis=2)
    best_shapes = others.max(axis=2).sum(axis=1).argmax(axis=0)
    return {
        str(station): _with_errors(
            shapes[shape], leads, ERRORS_C[best_errors[shape, :, place]]
        )
        for place, (station, shape) in enumerate(
            zip(stations, best_shapes, strict=True)
        )
    }


def _table(nights: Nights, shape: PoolRules, stations: FloatArray) -> FloatArray:
    """Return the sums of the log score, shape (errors, stations)."""
    is_own = nights.station[:, None] == stations
    rows = []
    for error_c in ERRORS_C:
        rules = _with_errors(shape, [nights], [error_c])
        way = pooled(nights, nights.corrected_c, rules)
        rows.append(log_density(way.centre_c, way.sigma_c, nights.analysed_c) @ is_own)
    return np.array(rows)


def _with_errors(
    shape: PoolRules, leads: Sequence[Nights], errors_c: Sequence[float] | FloatArray
) -> PoolRules:
    """Return constants with the errors of some leads."""
    for nights, error_c in zip(leads, errors_c, strict=True):
        value = round(float(error_c), 3)
        near = nights.ahead <= 1
        shape = replace(shape, near_c=value) if near else replace(shape, day_3_c=value)
    return shape
