"""Invented springs, as archives would hold them: forecasts that err, and what came."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import numpy as np

from tests.support.archives import Played, Station, clear_nights, weather_of

_DAY = timedelta(days=1)
COLDER_C = 1.5
"""By how much the site is colder than every forecast of it."""


@dataclass
class Springs:
    """Years of nights with what came of them at the site. [degC]"""

    played: Played
    came_c: dict[date, float]


def invented_springs(
    years: Sequence[int], *, seed: int = 1, error_c: float = 1.2, spread_c: float = 4.0
) -> Springs:
    """Return springs from the last day of December to the end of June.

    Nights warm from about -4 to +10 degC; each forecast errs by more, the older it is.
    """
    random = np.random.default_rng(seed)
    first = datetime(min(years) - 1, 12, 1, tzinfo=UTC)
    last = date(max(years), 7, 15)
    nights = [first.date() + n * _DAY for n in range((last - first.date()).days)]
    true_c = {}
    for night in nights:
        into = (night - date(night.year, 1, 1)).days
        mean = -4.0 + 14.0 * min(into, 180) / 180.0
        true_c[night] = round(float(random.normal(mean, spread_c)), 1)
    hours = len(nights) * 24
    leads = {}
    for lead in range(4):
        told = {
            night: low
            if not lead
            else round(low + float(random.normal(0.0, error_c * (1 + 0.3 * lead))), 1)
            for night, low in true_c.items()
        }
        leads[lead] = weather_of(clear_nights(told, first, hours))
    return Springs(
        played=Played(first=first, leads=leads),
        came_c={night: low - COLDER_C for night, low in true_c.items()},
    )


def station_of(
    springs: Springs,
    *,
    identifier: str = "USC00450001",
    morning: bool = False,
    north_deg: float = 0.1,
    warmer_c: float = 0.0,
    elevation_m: float = 200.0,
) -> Station:
    """Return a station with the site's lows; its day ends at midnight, or at seven."""
    minimums: dict[date, float] = {}
    for night, low in springs.came_c.items():
        minimums[night + _DAY] = round(low + warmer_c, 1)
    if morning:
        # A cold morning is still there when the next day of the station begins.
        ordered = sorted(minimums)
        carried = {
            day: min(minimums[day], minimums[before] + 0.4)
            for before, day in pairwise(ordered)
        }
        minimums |= carried
    return Station(
        identifier=identifier,
        name="NORTH LANE 2 W",
        latitude=springs.played.latitude + north_deg,
        longitude=springs.played.longitude,
        elevation_m=elevation_m,
        minimums_c=minimums,
    )


def file_of(came_c: dict[date, float], nights: Sequence[date] = ()) -> str:
    """Return a grower's own file: the low that was read on each morning, in degC."""
    rows = [
        f"{night + _DAY},{low:.1f}"
        for night, low in sorted(came_c.items())
        if not nights or night in nights
    ]
    return "\n".join(["Date,Low", *rows]) + "\n"
