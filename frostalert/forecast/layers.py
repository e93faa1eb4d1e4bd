"""Layers of intervals laid out as hours, without inventing a value."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from frostalert.forecast.intervals import as_number, parse_interval
from frostalert.forecast.notes import Notes, shown
from frostalert.model.forecast import HOUR, BoolArray, FloatArray, Period

# unit -> (factor, offset) to the unit used inside
_TO_INTERNAL = {
    "degC": (1.0, 0.0),
    "degF": (5.0 / 9.0, -160.0 / 9.0),
    "K": (1.0, -273.15),
    "km_h-1": (1.0 / 3.6, 0.0),
    "m_s-1": (1.0, 0.0),
    "kt": (1852.0 / 3600.0, 0.0),
    "mi_h-1": (0.44704, 0.0),
    "degree_(angle)": (1.0, 0.0),
    "percent": (1.0, 0.0),
    "mm": (1.0, 0.0),
    "cm": (10.0, 0.0),
    "m": (1.0, 0.0),
}
_KIND_UNITS = {
    "temperature": {"degC", "degF", "K"},
    "speed": {"km_h-1", "m_s-1", "kt", "mi_h-1"},
    "direction": {"degree_(angle)"},
    "share": {"percent"},
    "depth": {"mm", "cm", "m"},
}
# What the service gives each kind in; another unit is converted, and said.
_USUAL_UNITS = {
    "temperature": "degC",
    "speed": "km_h-1",
    "direction": "degree_(angle)",
    "share": "percent",
    "depth": "mm",
}


@dataclass(frozen=True, slots=True)
class LayerRule:
    """What a layer may hold.

    Attributes
    ----------
    kind : str
        Kind of quantity, which fixes its units.
    lowest, highest : float
        Values outside are taken as missing. [internal unit]
    """

    kind: str
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True)
class Grid:
    """The hours that a forecast is laid out on."""

    first_utc: datetime
    count: int

    def places(self, start: datetime, end: datetime) -> slice:
        """Return the hours whose start lies in [start, end)."""
        first = -((self.first_utc - start) // HOUR)
        stop = -((self.first_utc - end) // HOUR)
        return slice(min(max(first, 0), self.count), min(max(stop, 0), self.count))


def read_periods(
    layer: object, rule: LayerRule, name: str, notes: Notes
) -> list[Period]:
    """Return a layer's values with their periods, missing ones left out.

    Parameters
    ----------
    layer : object
        The layer as parsed from JSON.
    rule : LayerRule
        What it may hold.
    name : str
        Its name, for the notes.
    notes : Notes
        Gets a line for everything that was left out.

    Returns
    -------
    list of Period
        In the document's order; empty where the layer is absent or in an unknown unit.
    """
    entries = layer.get("values") if isinstance(layer, dict) else None
    if not isinstance(layer, dict) or not isinstance(entries, list) or not entries:
        return []
    unit = str(layer.get("uom", "")).rpartition(":")[2]
    if unit not in _KIND_UNITS[rule.kind]:
        notes.doubt(f'{name}: left out, unknown unit "{shown(unit)}"')
        return []
    if unit != _USUAL_UNITS[rule.kind]:
        notes.doubt(f"{name}: in {unit}, and {_USUAL_UNITS[rule.kind]} is usual")
    periods, odd = _read_entries(entries, rule, unit)
    if odd:
        say = notes.doubt if rule.kind == "temperature" else notes.note
        say(f"{name}: {odd} values left out, unreadable or out of range")
    return periods


def count_given(layer: dict[str, Any]) -> int:
    """Return how many entries of a layer are not said to be missing."""
    return sum(
        not (isinstance(entry, dict) and entry.get("value", 0) is None)
        for entry in layer["values"]
    )


def _read_entries(
    entries: list[Any], rule: LayerRule, unit: str
) -> tuple[list[Period], int]:
    """Return the values that can be used, and how many could not."""
    is_depth_in_metres = rule.kind == "depth" and unit == "m"
    factor, offset = (1000.0, 0.0) if is_depth_in_metres else _TO_INTERNAL[unit]
    periods, odd = [], 0
    for entry in entries:
        period = _period(entry, factor, offset)
        if period is None:
            odd += 1
        elif rule.lowest <= period.value <= rule.highest:
            periods.append(period)
        elif not np.isnan(period.value):
            odd += 1
    return periods, odd


def lay_out(periods: list[Period], grid: Grid) -> FloatArray:
    """Return a layer's values hour by hour; hours that no period covers are NaN.

    Where periods overlap the later entry counts.
    """
    values = np.full(grid.count, np.nan)
    for period in periods:
        values[grid.places(period.start_utc, period.end_utc)] = period.value
    return values


def doubt_overlaps(periods: list[Period], name: str, notes: Notes) -> None:
    """Say how often two values are given for one hour."""
    ordered = sorted(periods, key=lambda period: period.start_utc)
    end, count = datetime.min.replace(tzinfo=UTC), 0
    for period in ordered:
        count += period.start_utc < end
        end = max(end, period.end_utc)
    if count:
        notes.doubt(f"{name}: {count} periods overlap others; the later entry counts")


def first_start(layer: object) -> datetime | None:
    """Return when a layer begins, its missing values included; None if nowhere."""
    starts = []
    entries = layer.get("values") if isinstance(layer, dict) else None
    for entry in entries if isinstance(entries, list) else []:
        try:
            start, _ = parse_interval(entry["validTime"])
        except (ValueError, TypeError, KeyError):
            continue
        starts.append(start)
    return min(starts, default=None)


def lay_out_weather(layer: object, grid: Grid, words: frozenset[str]) -> BoolArray:
    """Return in which hours the weather layer speaks of one of the words."""
    found = np.zeros(grid.count, dtype=np.bool_)
    entries = layer.get("values") if isinstance(layer, dict) else None
    for entry in entries if isinstance(entries, list) else []:
        if not isinstance(entry, dict) or not isinstance(entry.get("value"), list):
            continue
        try:
            start, end = parse_interval(entry.get("validTime"))
        except ValueError:
            continue
        kinds = {
            str(item.get("weather"))
            for item in entry["value"]
            if isinstance(item, dict)
        }
        if kinds & words:
            found[grid.places(start, end)] = True
    return found


def spanning_grid(periods: list[Period], longest: timedelta) -> Grid:
    """Return the hours from the first to the last of some periods."""
    first = min(period.start_utc for period in periods)
    first = first.replace(minute=0, second=0, microsecond=0)
    last = max(period.end_utc for period in periods)
    return Grid(first, -((first - min(last, first + longest)) // HOUR))


def _period(entry: Any, factor: float, offset: float) -> Period | None:
    """Return one entry of a layer, or None if it cannot be read."""
    if not isinstance(entry, dict) or "value" not in entry:
        return None
    value = entry["value"]
    number = as_number(value)
    if value is not None and np.isnan(number):
        return None
    try:
        start, end = parse_interval(entry.get("validTime"))
    except ValueError:
        return None
    return Period(start_utc=start, end_utc=end, value=number * factor + offset)
