"""When work must start if the source that turns cold first is right.

The low is judged by all sources together; the hour to start is not: whoever waits for
the mean of two hours is late for the earlier.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from frostalert.model.assessment import SiteLow
from frostalert.model.block_values import (
    BlockNightColumns,
    TimeArray,
    plain_values,
)
from frostalert.model.forecast import BoolArray, FloatArray
from frostalert.model.site import Rules
from frostalert.risk.coverage import night_coverage
from frostalert.risk.forecast_age import UNUSABLE
from frostalert.risk.measure import BlockNightKey, NightContext
from frostalert.risk.members import Member
from frostalert.risk.stretches import Places

ADVERSE_PROBABILITY = 0.2
"""Chance of harm by one source alone from which its hour to start counts. [0..1] Common
practice, no source."""

_NEVER = np.datetime64("9999-01-01", "us")
Place = tuple[date, int]
"""A night and a block's place among the blocks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberStart:
    """When one source alone would have protection running in a block.

    Attributes
    ----------
    start_air_c : float or None
        What the thermometer reads at the start of water, by its dew point. [degC]
    """

    source: str
    running_by_utc: datetime
    start_air_c: float | None


def nights_alone(
    alone: Sequence[tuple[Member, Sequence[SiteLow]]],
    rules: Rules,
    now_utc: datetime,
    offset_h: int,
) -> list[NightContext]:
    """Return the nights as each source alone has them.

    Parameters
    ----------
    alone : sequence of (Member, sequence of SiteLow)
        The sources, each with what it says alone. None where there is only one: it has
        no other beside it.
    rules : Rules
        The rules.
    now_utc : datetime
        The present moment.
    offset_h : int
        Where the hours of the first are laid; the others' follow. [h]

    Returns
    -------
    list of NightContext
        Source by source.
    """
    found = []
    for member, lows in alone:
        shared = member.shared
        is_too_old = now_utc - shared.run.updated_utc > UNUSABLE
        found += [
            NightContext(
                shared=shared,
                night=night,
                coverage=night_coverage(shared, night, now_utc, is_too_old=is_too_old),
                now_utc=now_utc,
                rules=rules,
                is_frost_forecast=False,
                site_low=low,
                offset_h=offset_h,
            )
            for night, low in zip(shared.nights, lows, strict=True)
        ]
        offset_h += shared.run.hours.count
    return found


def adverse_starts(
    frames: Sequence[NightContext],
    items: Sequence[BlockNightKey],
    own: int,
    columns: BlockNightColumns,
) -> dict[Place, MemberStart]:
    """Return the most adverse source's start where it is before the block's own.

    Of those by which alone harm is likely enough the earliest; else the coldest one's.
    Where a source lacks its hours it has none.

    Parameters
    ----------
    frames : sequence of NightContext
        The nights, those of `nights_alone` after those that are judged.
    items : sequence of BlockNightKey
        Blocks on those nights, in the same order.
    own : int
        How many of the items are judged.
    columns : BlockNightColumns
        What was measured of the items.
    """
    if own == len(items):
        return {}
    starts = _starts(columns)
    table = _alone(frames, items, own)
    is_known = (table >= 0) & starts.is_known[table]
    low_c = np.where(is_known, starts.low_c[table], np.inf)
    is_likely = is_known & (columns.probability[table] >= ADVERSE_PROBABILITY)
    moments = np.where(is_likely, starts.running_by_utc[table], _NEVER)
    picked = np.where(
        is_likely.any(axis=0), moments.argmin(axis=0), low_c.argmin(axis=0)
    )
    chosen = table[picked, np.arange(own)]
    is_earlier = starts.running_by_utc[chosen] < starts.running_by_utc[:own]
    found = {}
    for place in np.flatnonzero(is_earlier & is_known.any(axis=0)).tolist():
        frame, start = frames[items[chosen[place]].night], slice(chosen[place], None)
        (running_by_utc,) = plain_values(starts.running_by_utc[start][:1])
        (start_air_c,) = plain_values(columns.start_air_c[start][:1])
        found[_place(frames, items[place])] = MemberStart(
            source=frame.shared.run.source_title,
            running_by_utc=running_by_utc,
            start_air_c=start_air_c,
        )
    return found


def _place(frames: Sequence[NightContext], item: BlockNightKey) -> Place:
    """Return the night and the block of an item."""
    return frames[item.night].night.window.night, item.index


def _alone(
    frames: Sequence[NightContext], items: Sequence[BlockNightKey], own: int
) -> Places:
    """Return which item each source alone has for each judged one; -1 for none.

    Shape (sources, judged items).
    """
    judged = {_place(frames, item): n for n, item in enumerate(items[:own])}
    offsets = sorted({frames[item.night].offset_h for item in items[own:]})
    rows = {offset_h: row for row, offset_h in enumerate(offsets)}
    table = np.full((len(offsets), own), -1, dtype=np.intp)
    for n, item in enumerate(items[own:], start=own):
        column = judged.get(_place(frames, item))
        if column is not None:
            table[rows[frames[item.night].offset_h], column] = n
    return table


@dataclass(frozen=True, slots=True)
class _Starts:
    """When protection must be running in each item, and by which low. [degC]"""

    running_by_utc: TimeArray
    low_c: FloatArray
    is_known: BoolArray


def _starts(columns: BlockNightColumns) -> _Starts:
    """Return each item's start; not known where its source lacks its hours."""
    dry, wet = columns.dry, columns.wet
    is_wet = columns.is_wet & ~np.isnan(wet.low_c)
    running_by = columns.water_start_utc
    for name in ("first_below_utc", "night_low_utc"):
        later = np.where(is_wet, getattr(wet, name), getattr(dry, name))
        running_by = np.where(np.isnat(running_by), later, running_by)
    low_c = np.where(is_wet, wet.low_c, dry.low_c)
    is_known = ~(np.isnan(low_c) | np.isnan(columns.probability))
    return _Starts(running_by, low_c, is_known)
