"""ISO 8601 moments, durations and intervals, as the US National Weather Service uses.

Months and years are refused: their length depends on where they start, and a forecast
that speaks of them is not one we understand.
"""

import math
import re
from datetime import UTC, datetime, timedelta

_DURATION = re.compile(
    r"^P(?:(?P<weeks>\d+)W)?(?:(?P<days>\d+)D)?"
    r"(?:T(?=\d)(?:(?P<hours>\d+)H)?(?:(?P<minutes>\d+)M)?(?:(?P<seconds>\d+)S)?)?$"
)
_LONGEST = timedelta(days=40)


def parse_moment(text: object) -> datetime:
    """Return a moment in UTC; the text must carry its offset.

    Examples
    --------
    >>> parse_moment("2026-04-12T18:00:00+00:00").isoformat()
    '2026-04-12T18:00:00+00:00'
    """
    try:
        moment = datetime.fromisoformat(str(text).strip())
        moment = moment if moment.tzinfo is None else moment.astimezone(UTC)
    except OverflowError as error:
        message = f"a moment beyond the calendar: {text!r}"
        raise ValueError(message) from error
    if moment.tzinfo is None:
        message = f"a moment without an offset: {text!r}"
        raise ValueError(message)
    return moment


def parse_duration(text: str) -> timedelta:
    """Return a duration of weeks, days, hours, minutes and seconds.

    Examples
    --------
    >>> parse_duration("P1DT6H")
    datetime.timedelta(days=1, seconds=21600)
    """
    match = _DURATION.match(text)
    parts = {k: int(v) for k, v in match.groupdict().items() if v} if match else {}
    if not parts or any(value > 10_000 for value in parts.values()):  # noqa: PLR2004
        message = f"not a duration of days, hours, minutes and seconds: {text!r}"
        raise ValueError(message)
    duration = timedelta(**parts)
    if not timedelta(0) < duration <= _LONGEST:
        message = f"a duration that no forecast has: {text!r}"
        raise ValueError(message)
    return duration


def parse_interval(text: object) -> tuple[datetime, datetime]:
    """Return start and end of start/duration, start/end or duration/end.

    Examples
    --------
    >>> start, end = parse_interval("2026-04-12T18:00:00Z/PT3H")
    >>> (end - start).total_seconds() / 3600
    3.0
    """
    parts = text.split("/") if isinstance(text, str) else []
    if len(parts) != 2:  # noqa: PLR2004 - an interval has two ends
        message = f"not an interval: {text!r}"
        raise ValueError(message)
    try:
        return _ends(*parts)
    except OverflowError as error:
        message = f"an interval beyond the calendar: {text!r}"
        raise ValueError(message) from error


def _ends(first: str, second: str) -> tuple[datetime, datetime]:
    """Return start and end of an interval's two parts."""
    if first.startswith("P"):
        end = parse_moment(second)
        start = end - parse_duration(first)
    else:
        start = parse_moment(first)
        by_length = second.startswith("P")
        end = start + parse_duration(second) if by_length else parse_moment(second)
    if not timedelta(0) < end - start <= _LONGEST:
        message = f"an interval that no forecast has: {first}/{second}"
        raise ValueError(message)
    return start, end


def as_number(value: object) -> float:
    """Return a number, or NaN for anything that is not a finite one."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return math.nan
    try:
        number = float(value)
    except OverflowError:
        return math.nan
    return number if math.isfinite(number) else math.nan
