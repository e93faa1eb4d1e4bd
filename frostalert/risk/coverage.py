"""Which hours of a night are known, and whether it can be judged by them."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache

import numpy as np

from frostalert.model.assessment import Tier
from frostalert.model.forecast import HOUR, BoolArray, FloatArray
from frostalert.model.hours import SiteHours, SiteNight

JUDGED_WITHIN = timedelta(hours=36)
"""A night that starts within this must be judged, or people are told that it cannot.
Common practice, no source: it holds the present night and the next."""
_LONG_H = 72.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """What is known of one night.

    Attributes
    ----------
    air, humid : tuple of range
        Stretches of the grid without a gap in the air temperature, and without a gap
        in air or dew point.
    gap : Tier or None
        What the night is if nothing in the known hours is at risk; None if complete.
    reason : str
        What is missing, in words; empty if nothing is.
    has_air : bool
        Whether the air of every hour to come is known.
    is_too_old : bool
        Whether the forecast is too old to be judged by.
    lacks_past_hours : bool
        Whether hours of this night that have gone by are unknown.
    """

    air: tuple[range, ...]
    humid: tuple[range, ...]
    gap: Tier | None
    reason: str
    has_air: bool
    is_too_old: bool
    lacks_past_hours: bool


def night_coverage(
    shared: SiteHours, night: SiteNight, now_utc: datetime, *, is_too_old: bool
) -> Coverage:
    """Return which hours of a night are known."""
    known = _known_hours(shared)
    has_air, has_both = known.air_before, known.both_before
    air, humid = known.stretches[night]
    reason = _missing(shared, night, now_utc, has_air, has_both)
    if is_too_old:
        reason = f"the forecast is {_age(shared, now_utc)} old, too old to rely on"
    ahead = _needed(shared, max(now_utc, night.window.start_utc), night.window.end_utc)
    begins_soon = night.window.start_utc - now_utc <= JUDGED_WITHIN
    gap = Tier.CANNOT_JUDGE if begins_soon else Tier.NOT_COVERED_YET
    past = _needed(shared, night.window.start_utc, min(now_utc, night.window.end_utc))
    return Coverage(
        air=air,
        humid=humid,
        gap=gap if reason else None,
        reason=reason,
        has_air=not _count_missing(has_air, ahead),
        is_too_old=is_too_old,
        lacks_past_hours=_count_missing(has_air, past) > 0,
    )


def known_stretches(
    shared: SiteHours, night: SiteNight
) -> tuple[tuple[range, ...], tuple[range, ...]]:
    """Return the stretches of a night with air, and those with humidity too."""
    return _known_hours(shared).stretches[night]


@dataclass(frozen=True, slots=True)
class _KnownHours:
    """Which hours are known of a site.

    Attributes
    ----------
    air_before, both_before : tuple of int
        How many hours up to each place on the grid have air, and humidity too.
    stretches : dict of SiteNight to tuple
        Of each night, those with air, and those with both.
    """

    air_before: tuple[int, ...]
    both_before: tuple[int, ...]
    stretches: dict[SiteNight, tuple[tuple[range, ...], tuple[range, ...]]]


# The hours of a look: as they are judged, and as each source alone has them. Of the
# present moment the hour alone counts.
@lru_cache(maxsize=8)
def _known_hours(shared: SiteHours) -> _KnownHours:
    """Return which hours of a site are known."""
    has_air = np.isfinite(shared.air_c)
    has_both = has_air & np.isfinite(shared.dewpoint_c)
    return _KnownHours(
        _counts(has_air),
        _counts(has_both),
        {
            night: (
                _stretches(has_air, night.hours),
                _stretches(has_both, night.hours),
            )
            for night in shared.nights
        },
    )


def _counts(known: BoolArray) -> tuple[int, ...]:
    """Return how many hours up to each place are known."""
    return (0, *np.cumsum(known).tolist())


def _missing(
    shared: SiteHours,
    night: SiteNight,
    now_utc: datetime,
    has_air: tuple[int, ...],
    has_both: tuple[int, ...],
) -> str:
    """Return what is missing from now to the night's end, in words."""
    start = max(now_utc, night.window.start_utc)
    needed = _needed(shared, start, night.window.end_utc)
    without_air = _count_missing(has_air, needed)
    if without_air == len(needed):
        return "the forecast has no hour of it"
    if without_air:
        hours = _hours(without_air)
        return f"the forecast has no air temperature for {hours} of the night"
    without_humidity = _count_missing(has_both, needed)
    if without_humidity:
        hours = _hours(without_humidity)
        return f"the forecast has no dew point for {hours} of the night"
    return ""


def _needed(shared: SiteHours, start: datetime, end: datetime) -> range:
    """Return the places on the grid of the hours between two moments."""
    first = shared.run.hours.first_utc
    return range((start - first) // HOUR, -((first - end) // HOUR))


def _count_missing(known_before: tuple[int, ...], needed: range) -> int:
    """Return how many of the needed hours are unknown."""
    start = max(0, needed.start)
    stop = max(start, min(len(known_before) - 1, needed.stop))
    # One that begins after the grid's end has none of its hours on it.
    present = known_before[stop] - known_before[start] if start < stop else 0
    return len(needed) - present


def _stretches(known: BoolArray, hours: slice) -> tuple[range, ...]:
    """Return the stretches of known hours within a night."""
    inside = known[hours].astype(np.int8)
    if not inside.size:
        return ()
    if inside.all():
        return (range(hours.start, hours.start + inside.size),)
    edges: FloatArray = np.diff(np.concatenate([[0], inside, [0]])).astype(np.float64)
    starts = np.flatnonzero(edges > 0) + hours.start
    stops = np.flatnonzero(edges < 0) + hours.start
    return tuple(
        range(int(start), int(stop)) for start, stop in zip(starts, stops, strict=True)
    )


def _age(shared: SiteHours, now_utc: datetime) -> str:
    """Return the age of the forecast in words."""
    # Whole hours and days that have passed, as everywhere else.
    hours = (now_utc - shared.run.updated_utc) // HOUR
    return f"{hours} h" if hours < _LONG_H else f"{hours // 24} days"


def _hours(count: int) -> str:
    """Return a number of hours in words."""
    return "1 hour" if count == 1 else f"{count} hours"
