"""Lay afternoons' forecasts out as an archive of previous runs would hold them."""

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from frostalert.model.forecast import HOUR, FloatArray, ForecastRun
from tests.support.archives import Column, Played

_COLUMNS = {
    "temperature_2m": "air_c",
    "dew_point_2m": "dewpoint_c",
    "wind_speed_10m": "wind_mps",
    "wind_direction_10m": "wind_from_deg",
    "cloud_cover": "cloud_pct",
}
LEADS = (0, 1, 2, 3)


def played_from(runs: Sequence[ForecastRun]) -> Played:
    """Return an archive that holds what some runs, the oldest first, had said."""
    first = min(run.hours.first_utc for run in runs)
    last = max(run.updated_utc for run in runs) + timedelta(days=2)
    count = (last - first) // HOUR
    leads: dict[int, dict[str, Column]] = {}
    for lead in LEADS:
        chosen = _newest_before(runs, first, count, timedelta(days=lead))
        leads[lead] = {
            name: _laid(runs, chosen, attribute, first)
            for name, attribute in _COLUMNS.items()
        }
        leads[lead]["precipitation"] = _fallen(runs, chosen, first)
    site = runs[0]
    return Played(
        first=first,
        leads=leads,
        latitude=site.latitude or 0.0,
        longitude=site.longitude or 0.0,
        elevation_m=site.elevation_m or 0.0,
    )


def _newest_before(
    runs: Sequence[ForecastRun], first: datetime, count: int, lead: timedelta
) -> list[int | None]:
    """Return which run each hour is taken from: none where there was none in time."""
    chosen: list[int | None] = []
    place = -1
    for n in range(count):
        moment = first + n * HOUR - lead
        while place + 1 < len(runs) and runs[place + 1].updated_utc <= moment:
            place += 1
        # What is older than two days more is a gap of the archive, no forecast.
        is_there = place >= 0 and moment - runs[place].updated_utc < timedelta(days=1)
        chosen.append(place if is_there else None)
    return chosen


def _laid(
    runs: Sequence[ForecastRun],
    chosen: Sequence[int | None],
    attribute: str,
    first: datetime,
) -> Column:
    """Return one variable hour by hour."""
    found: Column = []
    for n, place in enumerate(chosen):
        value = None
        if place is not None:
            hours = runs[place].hours
            values: FloatArray = getattr(hours, attribute)
            index = (first + n * HOUR - hours.first_utc) // HOUR
            if 0 <= index < values.size and np.isfinite(values[index]):
                value = round(float(values[index]), 3)
        found.append(value)
    return found


def _fallen(
    runs: Sequence[ForecastRun], chosen: Sequence[int | None], first: datetime
) -> Column:
    """Return the amount of each preceding hour."""
    fallen = [{p.end_utc: p.value for p in run.precipitation_mm} for run in runs]
    return [
        None if place is None else fallen[place].get(first + n * HOUR)
        for n, place in enumerate(chosen)
    ]
