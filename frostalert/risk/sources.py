"""Which forecasts count: the fresh ones, each source's hours by itself."""

from collections.abc import Sequence
from datetime import datetime

from frostalert.model.forecast import ForecastRun
from frostalert.risk.forecast_age import STALE
from frostalert.risk.past_hours import fill_past_hours


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
