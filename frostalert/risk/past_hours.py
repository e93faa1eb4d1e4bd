"""The hours of a night that have gone by, from the runs that held them."""

from dataclasses import fields, replace
from datetime import datetime
from functools import lru_cache

import numpy as np

from frostalert.model.forecast import HOUR, ForecastRun, Hours, Period, sealed


def fill_past_hours(run: ForecastRun, earlier: list[ForecastRun]) -> ForecastRun:
    """Return a run extended backwards by the hours of earlier runs.

    At half past six a low that has passed is not "warm": the hours gone by come from
    the newest earlier run that held them.
    """
    return _filled(run, tuple(earlier))


@lru_cache(maxsize=16)
def _filled(run: ForecastRun, earlier: tuple[ForecastRun, ...]) -> ForecastRun:
    """Return a run extended backwards: the same one for the same runs."""
    first_utc, minimums = run.hours.first_utc, run.night_minimums
    parts = [(run.hours, run.hours.count)]
    for old in earlier:
        if old.place != run.place or old.hours.first_utc >= first_utc:
            continue
        missing = (first_utc - old.hours.first_utc) // HOUR
        if missing > old.hours.count:
            continue
        parts.insert(0, (old.hours, missing))
        minimums = (*_ended_before(old.night_minimums, first_utc), *minimums)
        first_utc = old.hours.first_utc
    if len(parts) == 1:
        return run
    return replace(run, hours=_joined(parts), night_minimums=minimums)


def _ended_before(
    periods: tuple[Period, ...], moment_utc: datetime
) -> tuple[Period, ...]:
    """Return the periods that were over by a moment."""
    return tuple(period for period in periods if period.end_utc <= moment_utc)


def _joined(parts: list[tuple[Hours, int]]) -> Hours:
    """Return the first hours of each part, as many as it says, one after the other."""
    names = [row.name for row in fields(Hours) if row.name != "first_utc"]
    arrays = {
        name: np.concatenate([getattr(hours, name)[:count] for hours, count in parts])
        for name in names
    }
    return sealed(Hours(first_utc=parts[0][0].first_utc, **arrays))
