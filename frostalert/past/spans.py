"""Which nights make a spring, and in which pieces an archive is asked for them."""

from datetime import date, timedelta

from frostalert.agronomy.winter import fruit_year
from frostalert.errors import UsageError
from frostalert.model.past import SpringSpan

PIECE_DAYS = 14
"""Days in one answer of an archive: a longer one counts as several. [d]"""
_FIRST_MONTH, _NIGHTS = 1, 135
"""A spring's nights begin a month after midwinter and last to mid-June, mid-December in
the south. [months, d] Common practice, no source."""
_DAY = timedelta(days=1)
_MOST_SPRINGS = 10


def last_springs(count: int, last_night: date, *, is_south: bool) -> list[SpringSpan]:
    """Return the last springs, the oldest first; a running one as far as it has come.

    Parameters
    ----------
    count : int
        How many.
    last_night : date
        The last night that is over.
    is_south : bool
        Whether summer is in January.

    Returns
    -------
    list of SpringSpan
        Each from a month after midwinter on.

    Raises
    ------
    UsageError
        If that is none, or more than any archive holds.
    """
    if not 1 <= count <= _MOST_SPRINGS:
        message = f"--springs {count}: give a number from 1 to {_MOST_SPRINGS}"
        raise UsageError(message)
    year = fruit_year(last_night, is_south=is_south).counts_from.year
    found = [
        _whole(year - back, is_south=is_south)
        for back in range(count + 1)
        if _whole(year - back, is_south=is_south).first <= last_night
    ]
    return sorted(_cut(span, span.first, last_night) for span in found[:count])


def springs_between(first: date, last: date, *, is_south: bool) -> list[SpringSpan]:
    """Return the springs between two nights, each of which is cut there.

    Parameters
    ----------
    first, last : date
        Evenings' dates.
    is_south : bool
        Whether summer is in January.

    Returns
    -------
    list of SpringSpan
        The oldest first.

    Raises
    ------
    UsageError
        If there is none, or more than any archive holds.
    """
    spans = [
        _cut(_whole(year, is_south=is_south), first, last)
        for year in range(first.year, last.year + 1)
    ]
    found = [span for span in spans if span.first <= span.last]
    if not found:
        whole = _whole(first.year, is_south=is_south)
        message = (
            f"--from {first} --to {last} holds no night of a spring, which lasts from "
            f"{whole.first:%d %B} to {whole.last:%d %B}"
        )
        raise UsageError(message)
    if len(found) > _MOST_SPRINGS:
        message = f"--from {first} --to {last}: at most {_MOST_SPRINGS} springs at once"
        raise UsageError(message)
    return found


def pieces(span: SpringSpan, *, is_south: bool) -> list[tuple[date, date]]:
    """Return the days of a spring, from midwinter on, in pieces of two weeks.

    Parameters
    ----------
    span : SpringSpan
        The spring.
    is_south : bool
        Whether summer is in January.

    Returns
    -------
    list of (date, date)
        First and last day of each, in UTC. The pieces of a year are the same whatever
        part of it is asked for, so that what was got before is not asked for again.
    """
    start = fruit_year(span.first, is_south=is_south).counts_from - _DAY
    end = span.last + 2 * _DAY
    found = []
    while start <= end:
        found.append((start, start + (PIECE_DAYS - 1) * _DAY))
        start += PIECE_DAYS * _DAY
    return found


def nights_of(span: SpringSpan) -> list[date]:
    """Return the nights of a spring."""
    return [span.first + n * _DAY for n in range((span.last - span.first).days + 1)]


def _whole(year: int, *, is_south: bool) -> SpringSpan:
    """Return the spring of a year."""
    winter = fruit_year(date(year, 7 if is_south else 1, 1), is_south=is_south)
    start = winter.counts_from.replace(month=winter.counts_from.month + _FIRST_MONTH)
    return SpringSpan(start, start + (_NIGHTS - 1) * _DAY)


def _cut(span: SpringSpan, first: date, last: date) -> SpringSpan:
    """Return the part of a spring that lies between two nights."""
    return SpringSpan(max(span.first, first), min(span.last, last))
