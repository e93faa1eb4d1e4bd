"""Print what pooling and learning are worth on nights whose outcome is known."""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from frostalert.risk.pooling import POOL, PoolRules
from tests.evaluation.hindcast.aims import aims
from tests.evaluation.hindcast.documents import (
    lines,
    play,
    read_archive,
    read_observed,
)
from tests.evaluation.hindcast.judged import Judged, judge_all
from tests.evaluation.hindcast.pairs import read_series
from tests.evaluation.hindcast.tables import (
    Line,
    called,
    chances,
    costs,
    errors,
    reliabilities,
)

CARRIED = Path(__file__).parents[1] / "data" / "airport_lows.csv.gz"
RESAMPLES = 500


def main(arguments: list[str] | None = None) -> int:
    """Do what the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.evaluation.hindcast")
    parser.add_argument(
        "--pairs", type=Path, default=CARRIED, metavar="FILE", help="lows as CSV"
    )
    parser.add_argument(
        "--resamples", type=int, default=RESAMPLES, help="times that weeks are drawn"
    )
    parser.add_argument(
        "--documents", type=Path, metavar="ARCHIVE", help="recorded answers"
    )
    parser.add_argument(
        "--observed", type=Path, metavar="FILE", help="official lows, for --documents"
    )
    given = parser.parse_args(arguments)
    if given.documents is not None:
        if given.observed is None:
            parser.error("--documents needs --observed FILE")
        told = play(read_archive(given.documents), read_observed(given.observed))
        for name, value in lines(told):
            sys.stdout.write(f"{name}: {value}\n")
        return 0
    leads, rules = judge_all(read_series(given.pairs))
    for name, value in _lines(leads, rules, given.resamples):
        sys.stdout.write(f"{name}: {value}\n")
    return 0


def _lines(
    leads: list[Judged], rules: dict[str, PoolRules], resamples: int
) -> Iterator[Line]:
    yield from _foreword(rules)
    for item in leads:
        start = f"lead {item.nights.lead_days}, "
        yield f"{start}nights", str(item.nights.night.size)
        yield f"{start}nights left out, a source missing", str(item.nights.left_out)
        for part in (errors, chances, called, costs):
            for name, value in part(item):
                yield start + name, value
        for name, value in reliabilities([item]):
            yield start + name, value
    for name, value in reliabilities(leads):
        yield f"all leads, {name}", value
    for aim in aims(leads, resamples):
        yield aim.line


def _foreword(rules: dict[str, PoolRules]) -> Iterator[Line]:
    yield "truth", "the low of a reanalysis (Open-Meteo archive), not of a thermometer"
    yield "left out", "the errors of site and thresholds"
    yield "nights counted", "November to May, where both sources had forecast"
    yield "kinds of night", "one: the file tells none"
    yield (
        "ours",
        "each station by the constants that serve the other stations best (log score)"
        if len(rules) > 1
        else "the package's constants: there is no other station to choose by",
    )
    yield "ours as shipped", f"the package's constants: {_constants(POOL)}"
    yield "ours, warmer lessons in full", "what holding them back costs; not to be had"
    for station, own in rules.items():
        yield f"constants for {station}, chosen without it", _constants(own)


def _constants(rules: PoolRules) -> str:
    return (
        f"errors {rules.near_c:.1f}, {rules.day_3_c:.1f} degC, "
        f"share {rules.spread_share:.2f}, lean {rules.lean_from_c:.0f} to "
        f"{rules.lean_full_c:.0f} degC to {np.round(rules.lean_share, 2)}"
    )


if __name__ == "__main__":
    sys.exit(main())
