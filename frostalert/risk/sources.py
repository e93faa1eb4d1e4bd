"""Which forecast counts, and what the others say beside it. Nothing is averaged."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from frostalert.model.assessment import OtherLow
from frostalert.model.forecast import ForecastRun
from frostalert.model.hours import SiteHours
from frostalert.model.site import Site
from frostalert.risk.past_hours import fill_past_hours
from frostalert.risk.site_hours import dark_hours, prepare_site_hours
from frostalert.risk.uncertainty import STALE


def choose_runs(
    runs: Sequence[ForecastRun], order: Sequence[str], now_utc: datetime
) -> list[ForecastRun]:
    """Return the run that counts, then the fresh ones of other sources."""
    by_source: dict[str, list[ForecastRun]] = {}
    for run in runs:
        by_source.setdefault(run.source, []).append(run)
    places = {name: place for place, name in enumerate(order)}
    names = sorted(by_source, key=lambda name: places.get(name, len(places)))
    newest = [fill_past_hours(by_source[n][0], by_source[n][1:]) for n in names]
    fresh = [run for run in newest if now_utc - run.updated_utc <= STALE]
    if not fresh:
        return [max(newest, key=lambda run: run.updated_utc)]
    return fresh


@dataclass(frozen=True, slots=True)
class OtherHours:
    """What another source says, worked out like the first."""

    run: ForecastRun
    shared: SiteHours


def prepare_others(
    others: Sequence[ForecastRun], site: Site, now_utc: datetime
) -> list[OtherHours]:
    """Return the other sources' hours.

    Raises
    ------
    PhysicsDomainError
        If a forecast holds values outside what the formulas hold for.
    """
    return [OtherHours(run, prepare_site_hours(run, site, now_utc)) for run in others]


def other_lows(others: Sequence[OtherHours], night: date) -> tuple[OtherLow, ...]:
    """Return the lows of one night by other sources, where they know all of it."""
    found = []
    for other in others:
        for record in other.shared.nights:
            if record.window.night != night or record.source_low_c is None:
                continue
            dark = other.shared.air_c[dark_hours(other.shared, record)]
            dawn = record.sunrise_utc or record.window.end_utc
            is_whole = other.run.hours.end_utc > dawn
            if dark.size and is_whole and np.isfinite(dark).all():
                title = other.run.source_title
                found.append(OtherLow(source=title, low_c=record.source_low_c))
    return tuple(found)


def disagreement_c(low_c: float | None, lows: Sequence[OtherLow]) -> float:
    """Return by how much the error of a low is widened. [degC]

    Parameters
    ----------
    low_c : float or None
        The low that counts. [degC]
    lows : sequence of OtherLow
        What other sources say.

    Returns
    -------
    float
        Half of the greatest difference, to be added in quadrature; zero where there is
        nothing to compare.

    References
    ----------
    .. [1] The standard deviation of two values is half their difference (as a
       population); with more the greatest difference counts, the cautious end.
    """
    if low_c is None or not lows:
        return 0.0
    return max(abs(other.low_c - low_c) for other in lows) / 2.0
