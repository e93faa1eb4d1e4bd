"""How sure a figure is: weeks drawn again, with all stations and leads of a week."""

from collections.abc import Callable, Sequence

import numpy as np

from frostalert.model.forecast import FloatArray
from tests.evaluation.hindcast.walk import Nights

SEED = 20260401
_INSIDE_PCT = (2.5, 97.5)

Weights = Sequence[FloatArray]
"""How often each night counts, for each lead."""


def once(leads: Sequence[Nights]) -> list[FloatArray]:
    """Return weights that count every night once."""
    return [np.ones(nights.night.size) for nights in leads]


def drawn(leads: Sequence[Nights], times: int) -> list[list[FloatArray]]:
    """Return how often each night counts when weeks are drawn with replacement.

    Neighbouring nights and stations share their weather: they are drawn together.
    """
    own = [nights.night.astype("datetime64[W]").astype(int) for nights in leads]
    weeks, places = np.unique(np.concatenate(own), return_inverse=True)
    random = np.random.default_rng(SEED)
    counts = random.multinomial(
        weeks.size, np.full(weeks.size, 1.0 / weeks.size), size=times
    )
    ends = np.cumsum([nights.night.size for nights in leads])[:-1]
    return [np.split(count[places].astype(float), ends) for count in counts]


def interval(
    figure: Callable[[Weights], float], draws: Sequence[Weights]
) -> tuple[float, float]:
    """Return where 95 % of a figure lie when weeks are drawn again."""
    found = np.array([figure(weights) for weights in draws])
    known = found[~np.isnan(found)]
    if not known.size:
        return float("nan"), float("nan")
    low, high = np.percentile(known, _INSIDE_PCT)
    return float(low), float(high)
