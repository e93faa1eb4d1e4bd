"""When work must start if the source that turns cold first is right.

The low is judged by all sources together; the hour to start is not: whoever waits for
the mean of two hours is late for the earlier.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from frostalert.model.assessment import SiteLow
from frostalert.model.block_columns import deciding_bud
from frostalert.model.block_values import BlockNightColumns, BudColumns, TimeArray
from frostalert.model.forecast import BoolArray, FloatArray
from frostalert.model.site import Rules
from frostalert.risk.coverage import night_coverage
from frostalert.risk.forecast_age import UNUSABLE
from frostalert.risk.items import Items, Places
from frostalert.risk.measure import NightContext
from frostalert.risk.members import Member

ADVERSE_PROBABILITY = 0.2
"""Chance of harm by one source alone from which its hour to start counts. [0..1] Common
practice, no source."""

_NEVER = np.datetime64("9999-01-01", "us")


@dataclass(frozen=True, slots=True)
class MemberStarts:
    """When one source alone would have protection running, of items that are judged.

    Attributes
    ----------
    running_by_utc : ndarray
        The moments. NaT where none is before the block's own. Shape (items,).
    start_air_c : ndarray
        What the thermometer reads at the start of water, by its dew point. [degC]
    sources : dict of int to str
        Which source that is, by the item's place.
    """

    running_by_utc: TimeArray
    start_air_c: FloatArray
    sources: dict[int, str]


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
    frames: Sequence[NightContext], items: Items, columns: BlockNightColumns
) -> MemberStarts:
    """Return the most adverse source's start where it is before the block's own.

    Of those by which alone harm is likely enough the earliest; else the coldest one's.
    Where a source lacks its hours it has none.

    Parameters
    ----------
    frames : sequence of NightContext
        The nights, those of `nights_alone` after those that are judged.
    items : Items
        Blocks on those nights, in the same order.
    columns : BlockNightColumns
        What was measured of the items.
    """
    own = items.own
    found = MemberStarts(
        np.full(own, np.datetime64("NaT"), "datetime64[us]"), np.full(own, np.nan), {}
    )
    if own == len(items.nights):
        return found
    starts = _starts(columns)
    table = _alone(frames, items)
    is_known = (table >= 0) & starts.is_known[table]
    low_c = np.where(is_known, starts.low_c[table], np.inf)
    is_likely = is_known & (columns.probability[table] >= ADVERSE_PROBABILITY)
    moments = np.where(is_likely, starts.running_by_utc[table], _NEVER)
    picked = np.where(
        is_likely.any(axis=0), moments.argmin(axis=0), low_c.argmin(axis=0)
    )
    chosen = table[picked, np.arange(own)]
    is_earlier = starts.running_by_utc[chosen] < starts.running_by_utc[:own]
    where = np.flatnonzero(is_earlier & is_known.any(axis=0))
    found.running_by_utc[where] = starts.running_by_utc[chosen[where]]
    found.start_air_c[where] = columns.start_air_c[chosen[where]]
    for place, other in zip(where.tolist(), chosen[where].tolist(), strict=True):
        found.sources[place] = frames[items.nights[other]].shared.run.source_title
    return found


def _alone(frames: Sequence[NightContext], items: Items) -> Places:
    """Return which item each source alone has for each judged one; -1 for none.

    Shape (sources, judged items).
    """
    own, (nights, blocks, _) = items.own, items.places()
    dates = [frame.night.window.night for frame in frames]
    offsets = sorted({frames[night].offset_h for night in items.nights[own:]})
    rows = np.array([_place_of(frame.offset_h, offsets) for frame in frames])
    # The judged nights come first: the first of a date is the judged one.
    firsts = np.array([dates.index(date) for date in dates])
    judged = np.full((len(frames), blocks.max() + 1), -1, dtype=np.intp)
    judged[nights[:own], blocks[:own]] = np.arange(own)
    columns = judged[firsts[nights[own:]], blocks[own:]]
    is_there = columns >= 0
    table = np.full((len(offsets), own), -1, dtype=np.intp)
    others = np.arange(own, nights.size)[is_there]
    table[rows[nights[others]], columns[is_there]] = others
    return table


def _place_of(offset_h: int, offsets: list[int]) -> int:
    """Return a source's place by where its hours are laid; -1 for what is judged."""
    return offsets.index(offset_h) if offset_h in offsets else -1


@dataclass(frozen=True, slots=True)
class _Starts:
    """When protection must be running in each item, and by which low. [degC]"""

    running_by_utc: TimeArray
    low_c: FloatArray
    is_known: BoolArray


def _starts(columns: BlockNightColumns) -> _Starts:
    """Return each item's start; not known where its source lacks its hours."""
    low_c = np.where(columns.is_wet, columns.wet.low_c, columns.dry.low_c)
    is_known = ~(np.isnan(low_c) | np.isnan(columns.probability))
    return _Starts(own_starts(columns, deciding_bud(columns)), low_c, is_known)


def own_starts(columns: BlockNightColumns, bud: BudColumns) -> TimeArray:
    """Return when protection must be running by what was measured alone.

    Water goes on before harm can begin; what warms runs when it begins.
    """
    running_by = columns.water_start_utc
    for later in (bud.first_below_utc, bud.night_low_utc):
        running_by = np.where(np.isnat(running_by), later, running_by)
    return running_by
