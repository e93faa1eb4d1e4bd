"""Curves of many blocks and nights laid side by side, whatever gaps they have.

An item is one block on one night. Each stretch of its night without a gap makes a row;
rows of the same length are measured together, and the results put together by item.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import FloatArray
from frostalert.risk.exposure import (
    coldest_mean,
    first_below,
    hours_below,
    last_below,
    time_below,
)
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
    """

    items: Places
    blocks: Places
    starts: Places
    length: int

    @property
    def hours(self) -> Places:
        """The place on the grid of every value. Shape (rows, length)."""
        return _places_from(self.starts, self.length).T

    def take(self, curves: FloatArray) -> FloatArray:
        """Return the rows' part of curves of the shape (blocks, hours)."""
        first = self.blocks * curves.shape[1] + self.starts
        # An hour's values lie together: there are more rows than hours.
        return curves.take(_places_from(first, self.length)).T


def _places_from(first: Places, length: int) -> Places:
    """Return so many places from each first one on. Shape (length, first)."""
    return first + np.arange(length, dtype=np.intp)[:, None]


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
        Night and block of each item, night by night. Shape (items,).
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
        start_of = np.full(len(stretches), -1, dtype=np.intp)
        start_of[[night for night, _ in places]] = [start for _, start in places]
        starts = start_of[nights]
        items = np.flatnonzero(starts >= 0)
        if items.size:
            groups.append(Rows(items, blocks[items], starts[items], length))
    return Segments(count=int(nights.size), groups=tuple(groups))


def nothing_laid(count: int) -> Segments:
    """Return the rows of so many items that have none."""
    return Segments(count=count, groups=())


@dataclass(frozen=True, slots=True)
class Laid:
    """Curves laid in rows.

    Attributes
    ----------
    layout : Segments
        The rows.
    parts : tuple of ndarray
        The curves of each group of them. [degC] Shape (rows, length).
    lows_c : tuple of ndarray
        The lowest value of each row. [degC] Shape (rows,).
    """

    layout: Segments
    parts: tuple[FloatArray, ...]
    lows_c: tuple[FloatArray, ...]


def lay(layout: Segments, curves: FloatArray) -> Laid:
    """Return curves laid in rows.

    Parameters
    ----------
    layout : Segments
        The rows.
    curves : ndarray of float
        Temperatures. [degC] Shape (blocks, hours).

    Raises
    ------
    PhysicsDomainError
        If a value is NaN: a verdict would rest on it.
    """
    parts = tuple(rows.take(curves) for rows in layout.groups)
    return Laid(layout, parts, tuple(_lowest_of_rows(part) for part in parts))


def _lowest_of_rows(part: FloatArray) -> FloatArray:
    """Return the lowest value of every row, if all its hours are known. [degC]"""
    # One NaN in a row makes its lowest NaN.
    lowest = part.min(axis=1) if part.shape[1] else np.full(part.shape[0], np.nan)
    if np.isnan(lowest).any():
        message = "a curve with missing hours cannot be judged"
        raise PhysicsDomainError(message)
    return np.asarray(lowest)


@dataclass(frozen=True, slots=True)
class Lowest:
    """The lowest of each item, and its hour on the grid; NaN without a row."""

    value: FloatArray
    hour: FloatArray


def lowest_mean(laid: Laid, exposure_minutes: FloatArray) -> Lowest:
    """Return each item's coldest mean over its exposure time.

    Parameters
    ----------
    laid : Laid
        Temperatures.
    exposure_minutes : ndarray of float
        Exposure of each item. [min] Shape (items,).

    Returns
    -------
    Lowest
        Mean and the middle of its time. [degC, h]
    """
    found = _nothing(laid.layout)
    for rows, part in zip(laid.layout.groups, laid.parts, strict=True):
        exposures = exposure_minutes[rows.items]
        for minutes in sorted(set(exposures.tolist())):
            chosen = np.flatnonzero(exposures == minutes)
            is_all = chosen.size == exposures.size
            coldest = coldest_mean(part if is_all else part[chosen], minutes)
            _keep_lower(
                found,
                rows.items[chosen],
                coldest.mean_c,
                coldest.middle_h + rows.starts[chosen],
            )
    return found


def lowest_value(laid: Laid) -> Lowest:
    """Return each item's lowest hourly value.

    Parameters
    ----------
    laid : Laid
        Temperatures.

    Returns
    -------
    Lowest
        Value and its hour. [degC, h]
    """
    found = _nothing(laid.layout)
    for rows, part, low_c in zip(
        laid.layout.groups, laid.parts, laid.lows_c, strict=True
    ):
        where = np.argmin(part, axis=1) + rows.starts
        _keep_lower(found, rows.items, low_c, where.astype(np.float64))
    return found


def lowest_until(laid: Laid, until_h: FloatArray) -> FloatArray:
    """Return each item's lowest hourly value up to an hour of its own.

    Parameters
    ----------
    laid : Laid
        Temperatures.
    until_h : ndarray of float
        Last hour that counts. [h] Shape (items,). NaN for none.

    Returns
    -------
    ndarray of float
        Values. [degC] Shape (items,). NaN where no hour counts.
    """
    found = np.full(laid.layout.count, np.nan)
    for rows, part in zip(laid.layout.groups, laid.parts, strict=True):
        counts = rows.hours <= until_h[rows.items, np.newaxis]
        lowest = np.where(counts, part, np.inf).min(axis=1)
        lowest[~np.isfinite(lowest)] = np.nan
        found[rows.items] = np.fmin(found[rows.items], lowest)
    return found


@dataclass(frozen=True, slots=True)
class TimeBelow:
    """Time at or below a limit: hours in all, first and last hour; NaN if never.

    Every array has the shape (items,).
    """

    hours: FloatArray
    first: FloatArray
    last: FloatArray


def spell_below(laid: Laid, limit_c: FloatArray) -> TimeBelow:
    """Return each item's time at or below its limit.

    Parameters
    ----------
    laid : Laid
        Temperatures.
    limit_c : ndarray of float
        Limit of each item. [degC] Shape (items,); NaN where there is none.

    Returns
    -------
    TimeBelow
        Hours are NaN where there is no limit or no row.
    """
    hours = _no_hours(laid, limit_c)
    first, last = np.full((2, limit_c.size), np.nan)
    for start, part, limits, items in _reaching(laid, limit_c):
        below = time_below(part, limits)
        hours[items] += below.hours
        first[items] = np.fmin(first[items], below.first_h + start)
        last[items] = np.fmax(last[items], below.last_h + start)
    return TimeBelow(hours, first, last)


def time_at_limits(laid: Laid, limits_c: FloatArray) -> FloatArray:
    """Return how long each item is at or below each of its limits.

    Parameters
    ----------
    laid : Laid
        Temperatures.
    limits_c : ndarray of float
        Limits of each item. [degC] Shape (limits, items); NaN where there is none.

    Returns
    -------
    ndarray of float
        Hours, NaN where there is no limit or no row. [h] Shape (limits, items).
    """
    hours = np.stack([_no_hours(laid, limit_c) for limit_c in limits_c])
    for rows, part, low_c in zip(
        laid.layout.groups, laid.parts, laid.lows_c, strict=True
    ):
        limits = limits_c[:, rows.items]
        limit, row = np.nonzero(low_c <= limits)
        if row.size:
            below = hours_below(_rows(part, row), limits[limit, row])
            hours[limit, rows.items[row]] += below
    return hours


def start_at_limit(laid: Laid, limit_c: FloatArray) -> FloatArray:
    """Return each item's first hour at or below its limit, as in `spell_below`. [h]"""
    first = np.full(limit_c.size, np.nan)
    for start, part, limits, items in _reaching(laid, limit_c):
        first[items] = np.fmin(first[items], first_below(part, limits) + start)
    return first


def end_at_limit(laid: Laid, limit_c: FloatArray) -> FloatArray:
    """Return each item's last hour at or below its limit, as `spell_below` does. [h]"""
    last = np.full(limit_c.size, np.nan)
    for start, part, limits, items in _reaching(laid, limit_c):
        last[items] = np.fmax(last[items], last_below(part, limits) + start)
    return last


def _no_hours(laid: Laid, limit_c: FloatArray) -> FloatArray:
    """Return no hours for items with a limit and a row, NaN for the others."""
    hours = np.full(limit_c.size, np.nan)
    for rows in laid.layout.groups:
        hours[rows.items] = np.where(np.isnan(limit_c[rows.items]), np.nan, 0.0)
    return hours


def _reaching(
    laid: Laid, limit_c: FloatArray
) -> Iterator[tuple[Places, FloatArray, FloatArray, Places]]:
    """Yield, group by group, the rows that reach their limits.

    Their starts, curves, limits and items. Most curves stay above most limits, which
    costs one look at their lowest.
    """
    for rows, part, low_c in zip(
        laid.layout.groups, laid.parts, laid.lows_c, strict=True
    ):
        limits = limit_c[rows.items]
        reaches = low_c <= limits
        if reaches.all():
            yield rows.starts, part, limits, rows.items
        elif reaches.any():
            chosen = np.flatnonzero(reaches)
            curves, own = _rows(part, chosen), limits[chosen]
            yield rows.starts[chosen], curves, own, rows.items[chosen]


def _rows(part: FloatArray, chosen: Places) -> FloatArray:
    """Return some rows, an hour's values together as they were."""
    return part.T.take(chosen, axis=1).T


def last_rise(laid: Laid, limit_c: float) -> FloatArray:
    """Return when each item rises above a limit for the last time.

    Parameters
    ----------
    laid : Laid
        Temperatures.
    limit_c : float
        The limit. [degC]

    Returns
    -------
    ndarray of float
        Hour on the grid: after it the item stays above the limit as far as is known.
        NaN if it is still at or below it in the last known hour, or was never. [h]
    """
    layout = laid.layout
    last = end_at_limit(laid, np.full(layout.count, limit_c))
    end = np.full(layout.count, -np.inf)
    for rows in layout.groups:
        last_hour = (rows.starts + rows.length - 1).astype(np.float64)
        end[rows.items] = np.maximum(end[rows.items], last_hour)
    return np.where(last < end, last, np.nan)


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
