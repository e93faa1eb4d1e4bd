"""When work must start if the source that turns cold first is right.

The low is judged by all sources together; the hour to start is not: whoever waits for
the mean of two hours is late for the earlier.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

import numpy as np

from frostalert.model.block_values import BlockNightColumns, plain_values
from frostalert.model.site import Farm
from frostalert.risk.coverage import night_coverage
from frostalert.risk.measure import BlockNightKey, NightContext
from frostalert.risk.members import Member, site_lows
from frostalert.risk.uncertainty import UNUSABLE

ADVERSE_PROBABILITY = 0.2
"""Chance of harm by one source alone from which its hour to start counts. [0..1] Common
practice, no source."""

Place = tuple[date, int]
"""A night and a block's place among the blocks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberStart:
    """When one source alone would have protection running in a block.

    Attributes
    ----------
    probability : float
        Chance of harm by that source alone. [0..1]
    low_c : float
        Its bud low. [degC]
    start_air_c : float or None
        What the thermometer reads at the start of water, by its dew point. [degC]
    """

    source: str
    running_by_utc: datetime
    probability: float
    low_c: float
    start_air_c: float | None


def nights_alone(
    members: Sequence[Member], farm: Farm, now_utc: datetime, offset_h: int
) -> list[NightContext]:
    """Return the nights as each source alone has them.

    Parameters
    ----------
    members : sequence of Member
        The sources. One that stands alone has no other beside it: its own hours are the
        only ones.
    farm : Farm
        Site and rules.
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
    for member in members:
        shared = member.shared
        is_too_old = now_utc - shared.run.updated_utc > UNUSABLE
        found += [
            NightContext(
                shared=shared,
                night=night,
                coverage=night_coverage(shared, night, now_utc, is_too_old=is_too_old),
                now_utc=now_utc,
                rules=farm.rules,
                is_frost_forecast=False,
                site_low=low,
                offset_h=offset_h,
            )
            for night, low in zip(
                shared.nights, site_lows(member, (), farm), strict=True
            )
        ]
        offset_h += shared.run.hours.count
    return found


def adverse_starts(
    frames: Sequence[NightContext],
    items: Sequence[BlockNightKey],
    columns: BlockNightColumns,
) -> dict[Place, MemberStart]:
    """Return the most adverse source's start for each block and night.

    Of those by which alone harm is likely enough the earliest; else the coldest one's.
    Where a source lacks its hours it has none.

    Parameters
    ----------
    frames : sequence of NightContext
        The nights of `nights_alone`, after others.
    items : sequence of BlockNightKey
        Blocks on those nights.
    columns : BlockNightColumns
        What was measured of them.
    """
    found: dict[Place, list[tuple[NightContext, _Start]]] = {}
    for item, start in zip(items, _starts(columns), strict=True):
        if start is not None:
            frame = frames[item.night]
            place = frame.night.window.night, item.index
            found.setdefault(place, []).append((frame, start))
    return {place: _most_adverse(starts) for place, starts in found.items()}


def _most_adverse(starts: Sequence[tuple[NightContext, "_Start"]]) -> MemberStart:
    """Return the start that counts."""
    likely = [item for item in starts if item[1].probability >= ADVERSE_PROBABILITY]
    if likely:
        frame, start = min(likely, key=lambda item: item[1].running_by_utc)
    else:
        frame, start = min(starts, key=lambda item: item[1].low_c)
    return MemberStart(source=frame.shared.run.source_title, **start._asdict())


class _Start(NamedTuple):
    """What a `MemberStart` holds, without its source."""

    running_by_utc: datetime
    probability: float
    low_c: float
    start_air_c: float | None


def _starts(columns: BlockNightColumns) -> list[_Start | None]:
    """Return each item's start; None where the source lacks its hours."""
    dry, wet = columns.dry, columns.wet
    is_wet = columns.is_wet & ~np.isnan(wet.low_c)
    running_by = columns.water_start_utc
    for name in ("first_below_utc", "night_low_utc"):
        later = np.where(is_wet, getattr(wet, name), getattr(dry, name))
        running_by = np.where(np.isnat(running_by), later, running_by)
    low_c = np.where(is_wet, wet.low_c, dry.low_c)
    is_known = ~(np.isnan(low_c) | np.isnan(columns.probability))
    rows = zip(
        plain_values(running_by),
        plain_values(columns.probability),
        plain_values(low_c),
        plain_values(columns.start_air_c),
        strict=True,
    )
    return [
        _Start(*row) if known else None
        for known, row in zip(is_known.tolist(), rows, strict=True)
    ]
