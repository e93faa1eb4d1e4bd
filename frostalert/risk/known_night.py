"""All of a night that its numbers rest on, wherever its source's hours are laid."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from frostalert.model.block_columns import as_moment
from frostalert.model.block_values import TimeArray
from frostalert.model.forecast import HOUR, BoolArray, FloatArray
from frostalert.model.hours import SiteHours, SiteNight
from frostalert.risk.items import Places

Stretches = list[tuple[range, ...]]
"""Stretches of known hours, night by night."""
_MICROSECONDS_PER_H = 3.6e9
_NO_HOURS = slice(0, 0)


class KnownNight(NamedTuple):
    """All of a night that its numbers rest on.

    Of the present moment it is the hours to come, which the night itself holds.

    Attributes
    ----------
    air, humid : tuple of range
        Stretches of its source's grid with air, and with humidity too.
    offset_h : int
        Where the hours of its source begin, if several are laid end to end. [h]
    """

    shared: SiteHours
    night: SiteNight
    air: tuple[range, ...]
    humid: tuple[range, ...]
    low_sigma_c: float
    site_sigma_c: float
    offset_h: int = 0

    @property
    def past(self) -> slice:
        """The hours gone by of those that it is judged by."""
        return slice(self.night.judged.start, self.night.coming.start)

    @property
    def begun(self) -> slice:
        """The hours to come, where those are not all that it is judged by."""
        coming = self.night.coming
        return coming if coming != self.night.judged else _NO_HOURS


def airs_in(nights: Sequence[KnownNight], spans: Sequence[slice]) -> Stretches:
    """Return each night's stretches with air that lie in a span, as they are laid."""
    return [
        _cut(night.air, span, night.offset_h)
        for night, span in zip(nights, spans, strict=True)
    ]


def humid_in(nights: Sequence[KnownNight], spans: Sequence[slice]) -> Stretches:
    """Return the same of its stretches with humidity."""
    return [
        _cut(night.humid, span, night.offset_h)
        for night, span in zip(nights, spans, strict=True)
    ]


def _cut(stretches: tuple[range, ...], span: slice, offset_h: int) -> tuple[range, ...]:
    """Return the parts of a source's stretches that lie in a span, as they are laid."""
    cut = [
        (max(part.start, span.start), min(part.stop, span.stop)) for part in stretches
    ]
    return tuple(
        range(start + offset_h, stop + offset_h) for start, stop in cut if start < stop
    )


def have_begun(nights: Sequence[KnownNight]) -> BoolArray:
    """Return of which nights hours that they are judged by have gone by."""
    return np.array([night.begun != _NO_HOURS for night in nights], dtype=np.bool_)


def firsts(nights: Sequence[KnownNight]) -> TimeArray:
    """Return the moment that each night's hours are counted from."""
    by_source = {night.offset_h: night.shared.run.hours.first_utc for night in nights}
    begins = {
        offset_h: as_moment(first_utc - offset_h * HOUR)
        for offset_h, first_utc in by_source.items()
    }
    return np.array([begins[night.offset_h] for night in nights], "datetime64[us]")


def moments(hours: FloatArray, first: TimeArray) -> TimeArray:
    """Return moments by their hours on the grid, NaT where there is none."""
    is_known = np.isfinite(hours)
    steps = np.rint(np.where(is_known, hours, 0.0) * _MICROSECONDS_PER_H)
    found = first + steps.astype("timedelta64[us]")
    return np.asarray(np.where(is_known, found, np.datetime64("NaT", "us")))


def low_sigma(
    known: Sequence[KnownNight], nights: Places, low_h: FloatArray, count: int
) -> FloatArray:
    """Return the error of each item's low. [degC]

    By the sources together, at least what percentiles or an ensemble say at its hour,
    and by what is not known of the site.

    Parameters
    ----------
    known : sequence of KnownNight
        The nights.
    nights : ndarray of int
        The place of each item's night. Shape (items,).
    low_h : ndarray of float
        When each is coldest, as a place on the grid. [h] NaN for none.
    count : int
        Hours that are laid, of all sources. [h]
    """
    spread = np.full(count, np.nan)
    for run, offset_h in {(night.shared.run, night.offset_h) for night in known}:
        spread[offset_h : offset_h + run.hours.count] = run.hours.spread_c
    place = np.nan_to_num(low_h).astype(np.intp).clip(0, count - 1)
    pooled = np.array([night.low_sigma_c for night in known])[nights]
    site = np.array([night.site_sigma_c for night in known])[nights]
    return np.asarray(np.hypot(np.fmax(pooled, spread[place]), site))
