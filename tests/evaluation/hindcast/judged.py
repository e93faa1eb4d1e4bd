"""All nights with every way's chances, worked out once and scored many times."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from frostalert.model.forecast import BoolArray, FloatArray
from frostalert.risk.pooling import PoolRules
from tests.evaluation.hindcast.pairs import SOURCES, Series
from tests.evaluation.hindcast.scores import log_density
from tests.evaluation.hindcast.walk import Nights, walk_forward
from tests.evaluation.hindcast.ways import (
    CLIMATOLOGY,
    UNHELD,
    Way,
    climatology,
    held_out_pool,
    held_out_rules,
    landed,
    normal_ways,
)

LEADS_DAYS = (1, 3)
FROST_C = (0.0, -2.2, -4.0)
SPRING_C = (0.0, 2.0, 4.0, 6.0)


@dataclass(frozen=True, slots=True)
class Judged:
    """One lead's nights, by all ways: without and with what past nights taught."""

    nights: Nights
    unlearned: dict[str, Way]
    ways: dict[str, Way]
    landed: dict[str, Way]
    climatology: dict[float, FloatArray]

    def happened(self, limit_c: float) -> BoolArray:
        """Return on which nights the analysed low was at or below a limit."""
        return np.asarray(self.nights.analysed_c <= limit_c)

    def chances(self, limit_c: float) -> dict[str, FloatArray]:
        """Return every way's chances of that."""
        told = {name: way.chance(limit_c) for name, way in self.ways.items()}
        return {CLIMATOLOGY: self.climatology[limit_c], **told}

    def densities(self) -> dict[str, FloatArray]:
        """Return ln of the density that each way gave to the low that came."""
        return {
            name: log_density(way.centre_c, way.sigma_c, self.nights.analysed_c)
            for name, way in self.ways.items()
        }


def judge_all(series: Sequence[Series]) -> tuple[list[Judged], dict[str, PoolRules]]:
    """Return both leads' nights by all ways, and each station's held-out constants."""
    known = {item.lead_days for item in series}
    leads = [walk_forward(series, lead) for lead in LEADS_DAYS if lead in known]
    rules = held_out_rules(leads)
    return [_judge(nights, rules) for nights in leads], rules


def _judge(nights: Nights, rules: dict[str, PoolRules]) -> Judged:
    limits = sorted({*FROST_C, *SPRING_C})
    return Judged(
        nights=nights,
        unlearned=normal_ways(nights, nights.raw_c, rules),
        ways=normal_ways(nights, nights.corrected_c, rules)
        | {UNHELD: held_out_pool(nights, nights.unheld_c, rules)},
        landed={name: landed(nights, place) for place, name in enumerate(SOURCES)},
        climatology={limit: climatology(nights, limit) for limit in limits},
    )
