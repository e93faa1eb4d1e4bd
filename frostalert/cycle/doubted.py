"""Sources that answer and are not to be believed blindly, in words. Pure."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta

from frostalert.model.forecast import HOUR, ForecastRun

FROZEN = timedelta(hours=9)
"""A service whose forecast has been the same for so long has stopped making new ones:
all three make them several times a day. Common practice, no source."""
_LEAST_SHARED = 24
_MOST_HIGHER_M = 30.0
"""A cell does not move; services round and redraw a little. [m] Common practice, no
source."""
DOUBT, STOPPED = "doubt-", "frozen-"
"""What the keys of these faults begin with."""


def is_doubt(key: str) -> bool:
    """Return whether a fault is one of these: the source has answered."""
    return key.startswith((DOUBT, STOPPED))


def doubted_sources(
    names: Iterable[str], runs: Sequence[ForecastRun], now_utc: datetime
) -> dict[str, str]:
    """Return what is odd about the newest forecast of some sources, by key.

    Parameters
    ----------
    names : iterable of str
        The sources that have answered.
    runs : sequence of ForecastRun
        Stored runs of all sources, the newest first.
    now_utc : datetime
        The present moment.

    Returns
    -------
    dict of str to str
        Nothing for a source that is as it should be.
    """
    found = {}
    for name in names:
        own = [run for run in runs if run.source == name]
        if not own:
            continue
        title = own[0].source_title
        doubts = (*own[0].doubts, *_moved(own))
        if doubts:
            found[DOUBT + name] = (
                f"the newest forecast of {title} is doubtful: {'; '.join(doubts)}. It "
                "counts as far as it could be read: compare another forecast"
            )
        age = now_utc - _same_since_utc(own)
        if age >= FROZEN:
            found[STOPPED + name] = (
                f"no new forecast from {title} for {age // HOUR} h, though it answers: "
                "check another forecast. Once it is 14 h old we call no night quiet by "
                "it"
            )
    return found


def _moved(runs: Sequence[ForecastRun]) -> Iterator[str]:
    """Give a line if a source's cell has changed its height, which moves every low."""
    newest = runs[0]
    before = [
        run.elevation_m
        for run in runs[1:]
        if run.place == newest.place and run.elevation_m is not None
    ]
    if newest.elevation_m is None or not before:
        return
    if abs(newest.elevation_m - before[-1]) > _MOST_HIGHER_M:
        yield (
            f"its cell lies at {newest.elevation_m:.0f} m now, and lay at "
            f"{before[-1]:.0f} m"
        )


def _same_since_utc(runs: Sequence[ForecastRun]) -> datetime:
    """Return since when a source has said the same, by its newest run and earlier ones.

    A service that does not say when its forecast was made is taken at its values.
    """
    newest = runs[0]
    since_utc = newest.updated_utc
    if newest.updated_utc != newest.fetched_utc:
        return since_utc
    for earlier in runs[1:]:
        if not _says_the_same(earlier, newest):
            break
        since_utc = earlier.updated_utc
    return since_utc


def _says_the_same(earlier: ForecastRun, later: ForecastRun) -> bool:
    """Return whether two runs have the same air in all hours that they share."""
    # Commands that compare no forecasts must not wait for it.
    import numpy as np  # noqa: PLC0415

    if earlier.place != later.place:
        return False
    apart = (later.hours.first_utc - earlier.hours.first_utc) // HOUR
    before = earlier.hours.air_c[max(0, apart) :]
    after = later.hours.air_c[max(0, -apart) :]
    count = min(before.size, after.size)
    same = np.array_equal(before[:count], after[:count], equal_nan=True)
    return count >= _LEAST_SHARED and same
