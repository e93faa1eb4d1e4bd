"""What a mouth shows, as one flat record, and whether two of them agree."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from tests.agreement.cases import ZONE

LOW, MEMBERS, ERROR, CHANCE = "low", "members", "error", "chance"
TIER, STARTS, CHOSEN, REFUSED = "tier", "starts", "chosen", "refused"
QUANTITIES = (LOW, MEMBERS, ERROR, CHANCE, TIER, STARTS, CHOSEN, REFUSED)
NUMBERS = (LOW, MEMBERS, ERROR, CHANCE, TIER)
PLANNED = (STARTS, CHOSEN, REFUSED)
HEAD = "@head"
"""In the place of a block: the one whose numbers stand at the head of a night."""
SPOKEN = "@spoken"
"""In the place of a block: what was decided to be said in this minute."""
TOLD = "@told"
"""In the place of a block: all that was said since the service began."""
AT_RISK = ("outlook", "prepare", "act")
_SLACK = 1e-6


class MouthError(Exception):
    """A mouth that says nothing that can be read, with what it said instead."""


@dataclass(frozen=True, slots=True)
class Span:
    """A number as it is shown: anything between two ends is shown like that."""

    low: float
    high: float

    def holds(self, value: float, step: float = 0.0) -> bool:
        """Return whether a value, itself known to a step, would be shown like that."""
        slack = step + _SLACK
        return self.low - slack <= value <= self.high + slack


@dataclass(frozen=True, slots=True)
class Some:
    """A part of a set is shown, and must be in it."""

    items: frozenset[Any]


@dataclass(frozen=True, slots=True)
class Either:
    """Values of which any one is right."""

    values: tuple[Any, ...]


Key = tuple[str, str, str]
"""Night, block and quantity."""
Record = dict[Key, Any]

_STEPS = {LOW: 0.005, MEMBERS: 0.005, ERROR: 0.005, CHANCE: 0.00005}
"""Half of the last place in which the service's document gives a quantity."""


def agree(quantity: str, expected: Any, shown: Any) -> bool:
    """Return whether what is shown is what the service has."""
    if isinstance(expected, Either):
        return any(agree(quantity, value, shown) for value in expected.values)
    if isinstance(shown, Some):
        return bool(shown.items <= expected)
    if isinstance(shown, Span):
        return expected is not None and shown.holds(expected, _STEPS[quantity])
    if isinstance(shown, Mapping):
        return shown.keys() == expected.keys() and all(
            agree(quantity, expected[name], shown[name]) for name in shown
        )
    return bool(expected == shown)


def numbers_of(nights: Iterable[dict[str, Any]], *, is_exact: bool) -> Record:
    """Return the record of an assessment's document.

    Exact numbers are compared with; the others are shown, to the document's own step.
    """
    record: Record = {}
    for night in nights:
        date = night["night"]
        record[date, "", TIER] = night["tier"]
        lows = {item["source"]: item["low_c"] for item in night["other_lows"]}
        if lows:
            lows["own"] = night["low_c"]
        record[date, "", MEMBERS] = {
            name: _value(low, MEMBERS, is_exact=is_exact) for name, low in lows.items()
        }
        for block in night["blocks"]:
            name = block["block"]
            record[date, name, TIER] = block["tier"]
            for quantity, key in (
                (LOW, "site_low_c"),
                (ERROR, "low_sigma_c"),
                (CHANCE, "probability_at_risk"),
            ):
                record[date, name, quantity] = _value(
                    block[key], quantity, is_exact=is_exact
                )
        if is_exact:
            record |= _head(night)
    return record


def _value(
    value: float | None, quantity: str, *, is_exact: bool
) -> float | Span | None:
    """Return a document's number, as it is or as it is shown."""
    if value is None or is_exact:
        return value
    step = _STEPS[quantity]
    return Span(value - step, value + step)


def _head(night: dict[str, Any]) -> Record:
    """Return the numbers of the block that is likeliest to be harmed."""
    judged = [b for b in night["blocks"] if b["probability_at_risk"] is not None]
    if not judged:
        return {}
    places = [(b["tier"] in AT_RISK, b["probability_at_risk"]) for b in judged]
    first = max(places)
    # Blocks that are alike to the last place that is known may both stand there.
    heads = [
        block
        for block, (is_at_risk, chance) in zip(judged, places, strict=True)
        if is_at_risk == first[0] and chance >= first[1] - 2.0 * _STEPS[CHANCE]
    ]
    date = night["night"]
    return {
        (date, HEAD, LOW): Either(tuple(b["site_low_c"] for b in heads)),
        (date, HEAD, ERROR): Either(tuple(b["low_sigma_c"] for b in heads)),
        (date, HEAD, CHANCE): Either(tuple(b["probability_at_risk"] for b in heads)),
    }


def plan_of(night: str, plan: dict[str, Any] | None) -> Record:
    """Return the record of a plan's document; without one nothing is planned."""
    if plan is None:
        return {(night, "", quantity): frozenset() for quantity in PLANNED}
    starts = frozenset(
        (task["equipment"], block, local_clock(task["deadline_utc"]))
        for task in plan["tasks"]
        if task["kind"] == "start"
        for block in task["blocks"]
    )
    return {
        (night, "", STARTS): starts,
        (night, "", CHOSEN): _pairs(plan["chosen"]),
        (night, "", REFUSED): _pairs(plan["refused"]),
    }


def _pairs(options: Iterable[dict[str, Any]]) -> frozenset[tuple[str, str]]:
    """Return equipment and block of some options."""
    return frozenset((item["equipment"], item["block"]) for item in options)


def local_clock(moment: str) -> str:
    """Return the local time of day of a moment in a document."""
    return f"{datetime.fromisoformat(moment).astimezone(ZONE):%H:%M}"
