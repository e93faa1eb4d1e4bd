"""The fruit year: when leaves are off, and when a crop may wake."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate

from frostalert.agronomy.heat_sum import STAGE_CD, degree_days_cd
from frostalert.model.crop import Crop
from frostalert.model.warmth import Sighting, Spring, StageWarmth

EARLY_DAYS = 10
"""How long before the fastest published degree-days a crop may wake. [d] Common
practice, no source."""
OWN_EARLY_DAYS = 14
"""How long before the earliest year of the site. [d] Common practice, no source."""
STAND_IN_CD, STAND_IN_BASE_C = 24.0 / 1.8, (43.0 - 32.0) / 1.8
"""Degree-days to the first stage where none are published [degC d], and their base.
[degC] The fastest published of any fruit here: green tip of McIntosh apple at Geneva
NY, 24 degF days above 43 degF (Cornell Scaffolds Fruit Journal 4, 1995)."""
_LEAF_FALL = {False: 11, True: 5}
"""Month from which a tree that nobody looked at counts as dormant, in north and south.
Common practice, no source."""
_SPRING_DAYS = 150
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class FruitYear:
    """One year of a fruit tree.

    Attributes
    ----------
    begins : date
        Leaf fall: 1 November, 1 May in the south.
    counts_from : date
        Midwinter, from which degree-days count.
    """

    begins: date
    counts_from: date


def fruit_year(day: date, *, is_south: bool) -> FruitYear:
    """Return the fruit year that a day belongs to.

    Parameters
    ----------
    day : date
        The day.
    is_south : bool
        Whether summer is in January.

    Returns
    -------
    FruitYear
        From leaf fall to leaf fall.

    References
    ----------
    .. [1] Degree-days are published from 1 January: Cornell Scaffolds Fruit Journal 4,
       1995; Nova Scotia tree fruit, 2022. The rest is common practice, no source.
    """
    begins = date(day.year, _LEAF_FALL[is_south], 1)
    if begins > day:
        begins = begins.replace(year=begins.year - 1)
    year, month = divmod(begins.year * 12 + begins.month - 1 + 2, 12)
    return FruitYear(begins=begins, counts_from=date(year, month + 1, 1))


def calendar_wake(crop: Crop, year: FruitYear) -> date:
    """Return the day by which a crop counts as awake, whatever the weather.

    Parameters
    ----------
    crop : Crop
        The crop.
    year : FruitYear
        The year.

    Returns
    -------
    date
        A month after midwinter, or midwinter itself where no degree-days of the crop
        are published.

    References
    ----------
    .. [1] Common practice, no source.
    """
    start = year.counts_from
    return start if crop.first_stage is None else start.replace(month=start.month + 1)


@dataclass(frozen=True, slots=True)
class SpringAir:
    """The days of a year as far as they are known.

    Attributes
    ----------
    known : mapping of date to (float, float)
        Lows and highs, forecast days included. [degC]
    today, last : date
        The present day, and the last one that is looked at.
    is_south : bool
        Whether summer is in January.
    warm_day_c : float
        High from which a day counts as warm. [degC]
    pace_cd : float
        What a day counts of which nothing is known. [degC d]
    """

    known: Mapping[date, tuple[float, float]]
    today: date
    last: date
    is_south: bool
    warm_day_c: float
    pace_cd: float


def spring_of(crop: Crop, air: SpringAir, sightings: Sequence[Sighting]) -> Spring:
    """Return when a crop may wake this year.

    It wakes at the earliest of: ten days before the fastest published degree-days to
    a stage, a fortnight before the earliest year of the site, and the calendar's day.
    Days of which nothing is known count nothing before the calendar's day, and like
    fast ones after it.

    Parameters
    ----------
    crop : Crop
        The crop.
    air : SpringAir
        The days.
    sightings : sequence of Sighting
        What was seen in all years.

    Returns
    -------
    Spring
        With the days on which the first stages may be reached.

    References
    ----------
    .. [1] The degree-days are the crop's own (`first_stage`), else `STAND_IN_CD`. The
       rule is our own.
    """
    year = fruit_year(air.today, is_south=air.is_south)
    latest = calendar_wake(crop, year)
    days = _days(year.counts_from, air.last)
    first = crop.first_stage
    need_cd, base_c = STAND_IN_CD, STAND_IN_BASE_C
    if first is not None:
        need_cd, base_c = first.need_cd, first.base_c
    known = [
        degree_days_cd(*air.known[day], base_c) if day in air.known else None
        for day in days
    ]
    paced = _sums(
        [
            value if value is not None else air.pace_cd * (day >= latest)
            for day, value in zip(days, known, strict=True)
        ]
    )
    wakes = [latest, *_own_wake(crop, year, sightings, is_south=air.is_south)]
    if first is not None:
        surely = _reached(days, _sums([value or 0.0 for value in known]), need_cd)
        wakes += [surely - EARLY_DAYS * _DAY] if surely else []
    # Stages before the published one came before it: they share its warmth evenly.
    steps = 1 + (crop.stage_names.index(first.stage) if first is not None else 0)
    first_on = _not_before(min(wakes), _reached(days, paced, need_cd / steps))
    return Spring(
        counts_from=year.counts_from,
        wakes=min(wakes),
        first_on=first_on,
        published_on=None
        if first is None
        else _not_before(min(wakes), _reached(days, paced, need_cd)),
        since_first=None if first_on is None else _since(crop, first_on, air),
    )


def _days(first: date, last: date) -> list[date]:
    """Return all days from one to another."""
    return [first + n * _DAY for n in range((last - first).days + 1)]


def _sums(values: list[float]) -> list[float]:
    """Return running sums."""
    return list(accumulate(values))


def _reached(days: list[date], sums_cd: list[float], need_cd: float) -> date | None:
    """Return the first day on which a sum is reached."""
    return next(
        (day for day, total in zip(days, sums_cd, strict=True) if total >= need_cd),
        None,
    )


def _not_before(wakes: date, day: date | None) -> date | None:
    """Return a day, at the earliest that of waking."""
    return None if day is None else max(wakes, day)


def _own_wake(
    crop: Crop, year: FruitYear, sightings: Sequence[Sighting], *, is_south: bool
) -> list[date]:
    """Return a fortnight before the earliest stage of the site's earlier years."""
    found = []
    for item in sightings:
        if item.crop != crop.name or item.stage not in crop.stage_names:
            continue
        then = fruit_year(item.seen, is_south=is_south)
        after = (item.seen - then.counts_from).days
        if then.counts_from < year.counts_from and 0 <= after <= _SPRING_DAYS:
            found.append(after)
    return [
        year.counts_from + (days - OWN_EARLY_DAYS) * _DAY for days in sorted(found)[:1]
    ]


def _since(crop: Crop, first_on: date, air: SpringAir) -> StageWarmth:
    """Return the warmth since the first stage may have been reached."""
    days = _days(first_on + _DAY, air.last)
    daily = [degree_days_cd(*air.known[d]) if d in air.known else 0.0 for d in days]
    return StageWarmth(
        days=tuple(days),
        sums_cd=tuple(accumulate(daily)),
        needs_cd=tuple(STAGE_CD * (n + 1) for n in range(len(crop.stages))),
        is_own=False,
        is_whole=False,
        warm_days=warm_days(days, air.known, air.warm_day_c),
    )


def warm_days(
    days: Sequence[date],
    known: Mapping[date, tuple[float, float]],
    warm_day_c: float,
) -> tuple[date, ...]:
    """Return the days that reached a high.

    Parameters
    ----------
    days : sequence of date
        The days to look at, in order.
    known : mapping of date to (float, float)
        Lows and highs. [degC]
    warm_day_c : float
        The high. [degC]

    Returns
    -------
    tuple of date
        Those of which it is known.
    """
    return tuple(day for day in days if day in known and known[day][1] >= warm_day_c)
