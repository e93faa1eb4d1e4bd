"""The forecast of a past afternoon, put together from what an archive holds.

An archive of "previous runs" gives, hour by hour, what was forecast about a day, two
and three days before that hour, so each night's hours come from several runs. Of the
present night the afternoon had newer hours than those of the day before: what is judged
here is a forecast that is some hours too old.
"""

from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.model.forecast import HOUR, FloatArray, ForecastRun, Hours, Period
from frostalert.model.past import LATEST, LEAD_DAYS, Archive
from frostalert.physics.nights import night_window

AFTERNOON = time(16, 0)
"""Local hour at which a past day is looked at: before people stop working."""
_DAY = timedelta(days=1)


def look_moment(day: date, zone: ZoneInfo) -> datetime:
    """Return the moment at which a day is looked at."""
    return datetime.combine(day, AFTERNOON, tzinfo=zone).astimezone(UTC)


def afternoon_run(archive: Archive, day: date, zone: ZoneInfo) -> ForecastRun | None:
    """Return the forecast of an afternoon, its first night a day old.

    Parameters
    ----------
    archive : Archive
        One source's hours by lead.
    day : date
        The day.
    zone : ZoneInfo
        Local time.

    Returns
    -------
    ForecastRun or None
        From that day's midnight to the end of the third night. None where nothing is
        known of any of it.
    """
    start = datetime.combine(day, time(0), tzinfo=zone).astimezone(UTC)
    parts: list[tuple[ForecastRun, datetime, datetime]] = []
    for lead in LEAD_DAYS:
        end = night_window(day + (lead - 1) * _DAY, zone).end_utc
        if lead in archive:
            parts.append((archive[lead], start, end))
        start = end
    if not parts:
        return None
    begin, finish = parts[0][1], parts[-1][2]
    hours = _joined(parts, begin, finish)
    if not np.isfinite(hours.air_c).any():
        return None
    moment = look_moment(day, zone)
    return replace(
        parts[0][0],
        updated_utc=moment,
        fetched_utc=moment,
        hours=hours,
        precipitation_mm=_fallen(parts),
    )


def joined(pieces: Sequence[Archive]) -> Archive:
    """Return one archive from its pieces.

    Parameters
    ----------
    pieces : sequence of Archive
        In the order of time; hours between them that none holds stay unknown.

    Returns
    -------
    Archive
        By lead.
    """
    found = {}
    for lead in (LATEST, *LEAD_DAYS):
        runs = [piece[lead] for piece in pieces if lead in piece]
        if runs:
            last = max(run.hours.end_utc for run in runs) - HOUR
            parts = [(run, run.hours.first_utc, run.hours.end_utc) for run in runs]
            found[lead] = replace(
                runs[0],
                hours=_joined(parts, runs[0].hours.first_utc, last),
                precipitation_mm=tuple(p for run in runs for p in run.precipitation_mm),
            )
    return found


def made_at(run: ForecastRun, moment_utc: datetime) -> ForecastRun:
    """Return a forecast as if it had been fetched again and were the same."""
    return replace(run, updated_utc=moment_utc, fetched_utc=moment_utc)


def _joined(
    parts: list[tuple[ForecastRun, datetime, datetime]],
    begin: datetime,
    finish: datetime,
) -> Hours:
    """Return hours that each part gives its own stretch of."""
    count = (finish - begin) // HOUR + 1
    laid: dict[str, FloatArray] = {}
    for field in fields(Hours):
        if field.name == "first_utc":
            continue
        is_flag = field.name.startswith("is_")
        whole = np.zeros(count, bool) if is_flag else np.full(count, np.nan)
        for run, start, end in parts:
            _lay(whole, getattr(run.hours, field.name), run, start, end, begin)
        laid[field.name] = whole
    return Hours(first_utc=begin, **laid)  # type: ignore[arg-type]


def _lay(
    whole: FloatArray,
    values: FloatArray,
    run: ForecastRun,
    start: datetime,
    end: datetime,
    begin: datetime,
) -> None:
    """Lay a part's values into the whole, in place; the closing hour included."""
    first = (start - run.hours.first_utc) // HOUR
    last = (end - run.hours.first_utc) // HOUR + 1
    low, high = max(first, 0), min(last, values.size)
    if low < high:
        place = (start - begin) // HOUR + low - first
        whole[place : place + high - low] = values[low:high]


def _fallen(
    parts: list[tuple[ForecastRun, datetime, datetime]],
) -> tuple[Period, ...]:
    """Return the amounts that fall in each part's own stretch."""
    return tuple(
        period
        for run, start, end in parts
        for period in run.precipitation_mm
        if start <= period.start_utc < end
    )
