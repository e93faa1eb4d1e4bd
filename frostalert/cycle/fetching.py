"""Ask every source, keep what is new, and say what went wrong."""

import logging
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from frostalert.cycle.doubted import doubted_sources
from frostalert.cycle.judging import PAST
from frostalert.errors import ForecastError, ForecastRejectedError
from frostalert.model.forecast import CLOCK_SLACK
from frostalert.ports import Fetched, ForecastSource, ForecastStore

_LOG = logging.getLogger(__name__)


def fetch_sources(
    sources: list[ForecastSource],
    store: ForecastStore,
    now: Callable[[], datetime],
    *,
    is_rehearsal: bool = False,
) -> dict[str, str]:
    """Fetch from every source; return what went wrong or is doubtful, by key.

    The time is asked for anew once all have answered: they may have put the clock
    right. A rehearsal plays whatever forecast it is given, also an old one.
    """
    wrong: dict[str, str] = {}
    got: dict[str, Fetched] = {}
    for source in sources:
        try:
            got[source.name] = source.fetch(store.source_memory(source.name), now())
        except ForecastError as error:
            wrong[f"source-{source.name}"] = _not_had(error)
        except Exception:  # noqa: BLE001 - the next source must be asked all the same
            _LOG.exception("forecast %s: its answer could not be read", source.name)
            # Told at once: a defect does not pass by itself as an outage does.
            wrong[f"fetch-{source.name}"] = (
                f"the answer of {source.name} could not be read; the log says why. "
                "The last good one is used, with its age shown, as long as it can be."
            )
    answered: list[str] = []
    # Only now: what the last one answered may have put the clock right.
    for name, fetched in got.items():
        try:
            dated = by_the_clock(fetched, now())
        except ForecastError as error:
            wrong[f"source-{name}"] = _not_had(error)
            continue
        answered.append(name)
        is_new = store.save_run(dated, name, now())
        _LOG.info("forecast %s: %s", name, "new" if is_new else "nothing newer")
    if is_rehearsal:
        return wrong
    runs = store.recent_runs(now() - PAST, now())
    return wrong | doubted_sources(answered, runs, now())


def _not_had(error: ForecastError) -> str:
    """Return the word of a forecast that could not be had."""
    _LOG.warning("forecast: %s", error)
    return (
        f"no new forecast came; {error}. We use the last good one while it is "
        "fresh enough, and show its age."
    )


def by_the_clock(fetched: Fetched, now_utc: datetime) -> Fetched:
    """Return what was fetched, at a moment that has come.

    Raises
    ------
    ForecastRejectedError
        If it claims to be made in the time to come.
    """
    run = fetched.run
    if run is None:
        return fetched
    if run.fetched_utc > now_utc + CLOCK_SLACK:
        made_utc = min(run.updated_utc, now_utc)
        run = replace(run, fetched_utc=now_utc, updated_utc=made_utc)
        return replace(fetched, run=run)
    if run.updated_utc > now_utc + CLOCK_SLACK:
        problem = f"its forecast claims to be made at {run.updated_utc:%Y-%m-%d %H:%M}"
        raise ForecastRejectedError(run.source, f"{problem} UTC, which is to come")
    return fetched
