"""Curves of many blocks and nights laid side by side, whatever gaps they have.

An item is one block on one night. Each stretch of its night without a gap makes a row;
rows of the same length are measured together, and the results put together by item.
"""

from dataclasses import dataclass

import numpy as np

from frostalert.model.forecast import FloatArray
from frostalert.risk.exposure import coldest_mean, refuse_gaps, time_below
from frostalert.risk.items import Places


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of one length, no two of them of the same item.

    Attributes
    ----------
    items, blocks, starts : ndarray
        Item and block of each row, and the hour at which it starts. Shape (rows,).
    length : int
        Hours in each row.
    hours : ndarray
        The place on the grid of every value. Shape (rows, length).
    """

    items: Places
    blocks: Places
    starts: Places
    length: int
    hours: Places

    def take(self, curves: FloatArray) -> FloatArray:
        """Return the rows' part of curves of the shape (blocks, hours)."""
        return np.asarray(curves[self.blocks[:, None], self.hours], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Segments:
    """All rows of some items.

    Attributes
    ----------
    count : int
        Number of items.
    groups : tuple of Rows
        The rows, by length and by their order within the night.
    """

    count: int
    groups: tuple[Rows, ...]


def segment_by_gap(
    nights: Places, blocks: Places, stretches: list[tuple[range, ...]]
) -> Segments:
    """Return the rows of items.

    Parameters
    ----------
    nights, blocks : ndarray of int
        Night and block of each item. Shape (items,).
    stretches : list of tuple of range
        Known stretches of each night.

    Returns
    -------
    Segments
        Items without a stretch have no row.
    """
    members: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for night, parts in enumerate(stretches):
        for order, part in enumerate(parts):
            key = (order, part.stop - part.start)
            members.setdefault(key, []).append((night, part.start))
    groups = []
    for (_, length), places in members.items():
        items, starts = [], []
        for night, start in places:
            found = np.flatnonzero(nights == night)
            items.append(found)
            starts.append(np.full(found.size, start, dtype=np.intp))
        joined = np.concatenate(items)
        if joined.size:
            first = np.concatenate(starts)
            hours = first[:, None] + np.arange(length, dtype=np.intp)
            groups.append(Rows(joined, blocks[joined], first, length, hours))
    return Segments(count=int(nights.size), groups=tuple(groups))


@dataclass(frozen=True, slots=True)
class Lowest:
    """The lowest of each item, and its hour on the grid; NaN without a row."""

    value: FloatArray
    hour: FloatArray


def lowest_mean(
    layout: Segments, curves: FloatArray, exposure_minutes: FloatArray
) -> Lowest:
    """Return each item's coldest mean over its exposure time.

    Parameters
    ----------
    layout : Segments
        The rows.
    curves : ndarray of float
        Temperatures. [degC] Shape (blocks, hours).
    exposure_minutes : ndarray of float
        Exposure of each item. [min] Shape (items,).

    Returns
    -------
    Lowest
        Mean and the middle of its time. [degC, h]
    """
    found = _nothing(layout)
    for rows in layout.groups:
        part = rows.take(curves)
        exposures = exposure_minutes[rows.items]
        for minutes in sorted(set(exposures.tolist())):
            chosen = exposures == minutes
            coldest = coldest_mean(part[chosen], minutes)
            _keep_lower(
                found,
                rows.items[chosen],
                coldest.mean_c,
                coldest.middle_h + rows.starts[chosen],
            )
    return found


def lowest_value(layout: Segments, curves: FloatArray) -> Lowest:
    """Return each item's lowest hourly value.

    Parameters
    ----------
    layout : Segments
        The rows.
    curves : ndarray of float
        Temperatures. [degC] Shape (blocks, hours).

    Returns
    -------
    Lowest
        Value and its hour. [degC, h]
    """
    found = _nothing(layout)
    for rows in layout.groups:
        part = rows.take(curves)
        where = np.argmin(part, axis=1)
        value = part[np.arange(where.size), where]
        _keep_lower(found, rows.items, value, (where + rows.starts).astype(np.float64))
    return found


def lowest_until(
    layout: Segments, curves: FloatArray, until_h: FloatArray
) -> FloatArray:
    """Return each item's lowest hourly value up to an hour of its own.

    Parameters
    ----------
    layout : Segments
        The rows.
    curves : ndarray of float
        Temperatures. [degC] Shape (blocks, hours).
    until_h : ndarray of float
        Last hour that counts. [h] Shape (items,). NaN for none.

    Returns
    -------
    ndarray of float
        Values. [degC] Shape (items,). NaN where no hour counts.
    """
    found = np.full(layout.count, np.nan)
    for rows in layout.groups:
        counts = rows.hours <= until_h[rows.items, np.newaxis]
        part = np.where(counts, rows.take(curves), np.inf)
        lowest = part.min(axis=1)
        lowest[~np.isfinite(lowest)] = np.nan
        found[rows.items] = np.fmin(found[rows.items], lowest)
    return found


@dataclass(frozen=True, slots=True)
class TimeBelow:
    """Time at or below limits: hours in all, first and last hour; NaN if never.

    Every array has the shape (limits, items).
    """

    hours: FloatArray
    first: FloatArray
    last: FloatArray


def spell_below(
    layout: Segments, curves: FloatArray, limits_c: FloatArray
) -> TimeBelow:
    """Return each item's time at or below each of its limits.

    Parameters
    ----------
    layout : Segments
        The rows.
    curves : ndarray of float
        Temperatures. [degC] Shape (blocks, hours).
    limits_c : ndarray of float
        Limits of each item. [degC] Shape (limits, items); NaN where there is none.

    Returns
    -------
    TimeBelow
        Hours are NaN where there is no limit or no row.
    """
    hours = np.full(limits_c.shape, np.nan)
    first, last = hours.copy(), hours.copy()
    for rows in layout.groups:
        items, part = rows.items, rows.take(curves)
        refuse_gaps(part)
        limits = limits_c[:, items]
        before = hours[:, items]
        so_far = np.where(np.isnan(before), 0.0, before)
        hours[:, items] = np.where(np.isnan(limits), np.nan, so_far)
        # Most curves stay above most limits, which costs one look at their lowest.
        limit, row = np.nonzero(part.min(axis=1) <= limits)
        if not row.size:
            continue
        below = time_below(part[row], limits[limit, row])
        place = limit, items[row]
        hours[place] += below.hours
        first[place] = np.fmin(first[place], below.first_h + rows.starts[row])
        last[place] = np.fmax(last[place], below.last_h + rows.starts[row])
    return TimeBelow(hours, first, last)


def last_rise(layout: Segments, curves: FloatArray, limit_c: float) -> FloatArray:
    """Return when each item rises above a limit for the last time.

    Parameters
    ----------
    layout : Segments
        The rows.
    curves : ndarray of float
        Temperatures. [degC] Shape (blocks, hours).
    limit_c : float
        The limit. [degC]

    Returns
    -------
    ndarray of float
        Hour on the grid: after it the item stays above the limit as far as is known.
        NaN if it is still at or below it in the last known hour, or was never. [h]
    """
    spell = spell_below(layout, curves, np.full((1, layout.count), limit_c))
    end = np.full(layout.count, -np.inf)
    for rows in layout.groups:
        last = (rows.starts + rows.length - 1).astype(np.float64)
        end[rows.items] = np.maximum(end[rows.items], last)
    last_below = spell.last[0]
    return np.where(last_below < end, last_below, np.nan)


def _nothing(layout: Segments) -> Lowest:
    """Return results to be filled in."""
    return Lowest(np.full(layout.count, np.nan), np.full(layout.count, np.nan))


def _keep_lower(
    found: Lowest, items: Places, value: FloatArray, hour: FloatArray
) -> None:
    """Put a row's result in where it is lower than what an item has."""
    # Not "<": a comparison with NaN, for an item that has nothing yet, must win.
    is_lower = ~(found.value[items] <= value)
    found.value[items[is_lower]] = value[is_lower]
    found.hour[items[is_lower]] = hour[is_lower]
