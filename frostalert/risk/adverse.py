"""When work must start if the source that turns cold first is right.

The low is judged by all sources together; the hour to start is not: whoever waits for
the mean of two hours is late for the earlier.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from frostalert.model.assessment import SiteLow
from frostalert.model.block_values import TimeArray
from frostalert.model.forecast import FloatArray
from frostalert.risk.coverage import known_stretches
from frostalert.risk.items import Places
from frostalert.risk.known_night import KnownNight
from frostalert.risk.members import Member
from frostalert.risk.starts import Starts

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
    alone: Sequence[tuple[Member, Sequence[SiteLow]]], offset_h: int
) -> tuple[KnownNight, ...]:
    """Return the nights as each source alone has them.

    Parameters
    ----------
    alone : sequence of (Member, sequence of SiteLow)
        The sources, each with what it says alone. None where there is only one: it has
        no other beside it.
    offset_h : int
        Where the hours of the first are laid; the others' follow. [h]

    Returns
    -------
    tuple of KnownNight
        Source by source.
    """
    found = []
    for member, lows in alone:
        shared = member.shared
        for night, low in zip(shared.nights, lows, strict=True):
            air, humid = known_stretches(shared, night)
            errors_c = low.sigma_c, low.site_sigma_c
            found.append(KnownNight(shared, night, air, humid, *errors_c, offset_h))
        offset_h += shared.run.hours.count
    return tuple(found)


def adverse_starts(
    alone: Sequence[KnownNight], starts: Starts, running_by_utc: TimeArray
) -> MemberStarts:
    """Return the most adverse source's start where it is before the block's own.

    Of those by which alone harm is likely enough the earliest; else the coldest one's.
    Where a source lacks its hours it has none.

    Parameters
    ----------
    alone : sequence of KnownNight
        The nights as each source alone has them.
    starts : Starts
        What was measured of those.
    running_by_utc : ndarray
        The blocks' own, of the items that are judged. Shape (items,).
    """
    own = running_by_utc.size
    found = MemberStarts(
        np.full(own, np.datetime64("NaT"), "datetime64[us]"), np.full(own, np.nan), {}
    )
    if not starts.own.size:
        return found
    table = _table(alone, starts, own)
    is_known = (table >= 0) & starts.is_known[table]
    low_c = np.where(is_known, starts.low_c[table], np.inf)
    is_likely = is_known & (starts.probability[table] >= ADVERSE_PROBABILITY)
    moments = np.where(is_likely, starts.running_by_utc[table], _NEVER)
    picked = np.where(
        is_likely.any(axis=0), moments.argmin(axis=0), low_c.argmin(axis=0)
    )
    chosen = table[picked, np.arange(own)]
    is_earlier = starts.running_by_utc[chosen] < running_by_utc
    where = np.flatnonzero(is_earlier & is_known.any(axis=0))
    found.running_by_utc[where] = starts.running_by_utc[chosen[where]]
    found.start_air_c[where] = starts.start_air_c[chosen[where]]
    nights = starts.nights[chosen[where]].tolist()
    titles = [night.shared.run.source_title for night in alone]
    found.sources.update(
        (item, titles[night])
        for item, night in zip(where.tolist(), nights, strict=True)
    )
    return found


def _table(alone: Sequence[KnownNight], starts: Starts, own: int) -> Places:
    """Return which start each source alone has for each judged item; -1 for none.

    Shape (sources, judged items).
    """
    offsets = list(dict.fromkeys(night.offset_h for night in alone))
    rows = np.array([offsets.index(night.offset_h) for night in alone])
    table = np.full((len(offsets), own), -1, dtype=np.intp)
    table[rows[starts.nights], starts.own] = np.arange(starts.own.size)
    return table
