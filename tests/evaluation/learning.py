"""What learning does to the chances that are told, on sites whose truth is known.

    python -m tests.evaluation.learning [--cases]

Seeded synthetic sites: each has a habitual error on clear nights and one of its own on
others, and a forecast that errs by chance besides. Every night is judged by what the
nights before it taught, as the program does; the thresholds lie round the usual lows.
`--cases` lets the error turn, drift or stay instead: `tests.evaluation.turning`.
"""

import argparse
import sys
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise

import numpy as np

from frostalert.agronomy.kill import reach_probability
from frostalert.model.assessment import NightKind
from frostalert.model.learned import ForecastObservation, LeadClass
from frostalert.model.site import Rules
from frostalert.risk.source_bias import learn_source_bias
from frostalert.risk.uncertainty import unlearned_error_c
from tests.evaluation.turning import FIRST, LIMITS_C, cases

SITES, NIGHTS = 40, 80
BINS = (0.0, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0)


@dataclass(frozen=True, slots=True)
class Told:
    """One chance that was told, before and after learning, and what came of it."""

    night: int
    plain: float
    learned: float
    happened: bool


def season(seed: int) -> list[Told]:
    """Return one site's season of chances."""
    random = np.random.default_rng(seed)
    bias = {
        NightKind.RADIATION: random.normal(-1.2, 1.0),
        NightKind.MIXED: random.normal(0.0, 0.5),
    }
    noise_c = random.uniform(0.9, 1.8)
    pairs: list[ForecastObservation] = []
    told = []
    for night in range(NIGHTS):
        kind = NightKind.RADIATION if random.random() < 0.6 else NightKind.MIXED
        forecast = random.normal(1.0, 3.0)
        observed = forecast + bias[kind] + random.normal(0.0, noise_c)
        unlearned = unlearned_error_c(0, Rules())
        known = learn_source_bias(
            pairs,
            FIRST + timedelta(days=night),
            source="s",
            lead=LeadClass.TONIGHT,
            kind=kind,
            sigma_c=unlearned,
        )
        sigma = known.sigma_c or unlearned
        for limit in LIMITS_C:
            plain = float(reach_probability(forecast, unlearned, limit))
            moved = float(reach_probability(forecast + known.applied_c, sigma, limit))
            told.append(Told(night, plain, moved, bool(observed <= limit)))
        # One night in forty the sensor hangs in the sun or lies in the snow.
        seen = observed + (random.normal(0.0, 8.0) if random.random() < 0.025 else 0.0)
        pairs.append(
            ForecastObservation(
                night=FIRST + timedelta(days=night),
                source="s",
                kind=kind,
                forecast_low_c=forecast,
                observed_low_c=seen,
            )
        )
    return told


def brier(told: list[Told]) -> tuple[float, float]:
    """Return the Brier scores before and after learning."""
    happened = np.array([item.happened for item in told], dtype=float)
    plain = np.array([item.plain for item in told])
    learned = np.array([item.learned for item in told])
    return (
        float(((plain - happened) ** 2).mean()),
        float(((learned - happened) ** 2).mean()),
    )


def reliability(told: list[Told], *, is_learned: bool) -> list[tuple[str, int, float]]:
    """Return for each bin of chances how many were told and how often it happened."""
    rows = []
    for low, high in pairwise(BINS):
        inside = [
            item
            for item in told
            if low <= (item.learned if is_learned else item.plain) < high
            or (high == 1.0 and (item.learned if is_learned else item.plain) == 1.0)
        ]
        share = float(np.mean([item.happened for item in inside])) if inside else 0.0
        rows.append((f"{100 * low:.0f}-{100 * high:.0f} %", len(inside), 100 * share))
    return rows


def later_half() -> list[Told]:
    """Return the second half of every site's season: what was learned by then."""
    return [
        item
        for seed in range(SITES)
        for item in season(seed)
        if item.night >= NIGHTS // 2
    ]


def main(arguments: list[str] | None = None) -> int:
    """Print both tables, or the cases."""
    parser = argparse.ArgumentParser(prog="python -m tests.evaluation.learning")
    parser.add_argument(
        "--cases", action="store_true", help="a source's error turns, drifts or stays"
    )
    if parser.parse_args(arguments).cases:
        for name, value in cases():
            sys.stdout.write(f"{name}: {value}\n")
        return 0
    told = later_half()
    before, after = brier(told)
    sys.stdout.write(f"sites: {SITES}\nnights of each: {NIGHTS}, second half\n")
    sys.stdout.write(
        f"Brier score before: {before:.4f}\nBrier score after: {after:.4f}\n"
    )
    sys.stdout.write("told | before: times, happened | after: times, happened\n")
    for one, two in zip(
        reliability(told, is_learned=False),
        reliability(told, is_learned=True),
        strict=True,
    ):
        sys.stdout.write(
            f"{one[0]} | {one[1]}, {one[2]:.0f} % | {two[1]}, {two[2]:.0f} %\n"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
