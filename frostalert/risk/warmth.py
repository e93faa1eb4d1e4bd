"""Give each block the warmth since it was looked at: past days and those forecast."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from itertools import accumulate
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.agronomy.heat_sum import STAGE_CD, degree_days_cd, stage_needs_cd
from frostalert.agronomy.looks import known_since
from frostalert.agronomy.stages import HALF_YEAR_DAYS
from frostalert.agronomy.winter import SpringAir, spring_of, warm_days
from frostalert.model.forecast import HOUR
from frostalert.model.site import HARVESTED, Block, Farm
from frostalert.model.warmth import DayAir, Sighting, Spring, StageWarmth

_LEAST_HOURS = 20
_DAY = timedelta(days=1)
_AHEAD = 16 * _DAY
"""Nights lie no further ahead."""


def day_air(
    hours_c: Sequence[tuple[datetime, float]], zone: ZoneInfo, day: date
) -> tuple[float, float] | None:
    """Return a local day's coldest and warmest air.

    Parameters
    ----------
    hours_c : sequence of (datetime, float)
        Moments and air. [degC]
    zone : ZoneInfo
        Local time.
    day : date
        The day.

    Returns
    -------
    tuple of float or None
        Low and high. [degC] None where fewer than 20 of its hours are known.
    """
    # The day's ends are made once: an hour's own date would cost far more.
    first, last = (
        datetime.combine(day + timedelta(days=n), time(0), tzinfo=zone).astimezone(UTC)
        for n in (0, 1)
    )
    own = [
        (moment, value)
        for moment, value in hours_c
        if first <= moment < last and np.isfinite(value)
    ]
    if len({(moment - first) // HOUR for moment, _ in own}) < _LEAST_HOURS:
        return None
    values = [value for _, value in own]
    return min(values), max(values)


def hourly_air(
    first_utc: datetime, air_c: Iterable[float]
) -> list[tuple[datetime, float]]:
    """Return hours of air with their moments.

    Parameters
    ----------
    first_utc : datetime
        The first hour.
    air_c : iterable of float
        Air, hour by hour. [degC]

    Returns
    -------
    list of (datetime, float)
        In order. [degC]
    """
    return [(first_utc + n * HOUR, float(value)) for n, value in enumerate(air_c)]


def with_warmth(
    farm: Farm,
    hours_c: Sequence[tuple[datetime, float]],
    days: Sequence[DayAir],
    sightings: Sequence[Sighting],
    now_utc: datetime,
) -> Farm:
    """Return the holding with each block's warmth since it was last looked at.

    Parameters
    ----------
    farm : Farm
        Blocks and their stages.
    hours_c : sequence of (datetime, float)
        Moments and air, for today and the days to come. [degC]
    days : sequence of DayAir
        Past days, in any order.
    sightings : sequence of Sighting
        What was seen in all years.
    now_utc : datetime
        The present moment.

    Returns
    -------
    Farm
        With when each crop may wake this year. For harvested blocks, and those that
        were looked at more than half a year ago, there is no warmth since.
    """
    zone = ZoneInfo(farm.site.time_zone)
    today = now_utc.astimezone(zone).date()
    past = {item.day: (item.low_c, item.high_c) for item in days if item.day < today}
    sums = _running_sums(tuple(sorted(past.items())))
    coming = _coming(tuple(hours_c), zone, today)
    air = _air(farm, past | coming, today)
    springs: dict[str, Spring] = {}
    warmths: dict[tuple[str, str, date], StageWarmth | None] = {}
    seen: dict[str, list[Sighting]] = {}
    for item in sorted(sightings, key=lambda item: item.seen, reverse=True):
        seen.setdefault(item.block, []).append(item)
    blocks = []
    for block in farm.blocks:
        # Blocks with the same crop and look share what it takes long to add up.
        name, key = block.crop.name, (block.crop.name, block.stage, block.stage_seen)
        if name not in springs:
            springs[name] = spring_of(block.crop, air, sightings)
        if key not in warmths:
            last = max(coming, default=today)
            warmths[key] = _stage_warmth(block, air, sums, sightings, last)
        blocks.append(
            replace(
                block,
                warmth=warmths[key],
                stage_since=known_since(block, seen.get(block.name, [])),
                spring=springs[name],
            )
        )
    return replace(farm, blocks=tuple(blocks))


def _air(farm: Farm, known: dict[date, tuple[float, float]], today: date) -> SpringAir:
    """Return the year's days as far as they are known."""
    return SpringAir(
        known=known,
        today=today,
        last=today + _AHEAD,
        is_south=farm.site.is_south,
        warm_day_c=farm.rules.warm_day_c,
        pace_cd=STAGE_CD / farm.rules.stage_days,
    )


def _stage_warmth(
    block: Block,
    air: SpringAir,
    sums: dict[date, float],
    sightings: Sequence[Sighting],
    last: date,
) -> StageWarmth | None:
    """Return one block's warmth, if it can say anything."""
    age = (air.today - block.stage_seen).days
    if block.stage == HARVESTED or not 0 <= age <= HALF_YEAR_DAYS:
        return None
    known = air.known
    wanted = [
        block.stage_seen + (n + 1) * _DAY for n in range((last - block.stage_seen).days)
    ]
    daily = [degree_days_cd(*known[day]) if day in known else 0.0 for day in wanted]
    needs, is_own = stage_needs_cd(
        block.crop.stage_names,
        block.stage,
        block.crop.name,
        sightings,
        sums,
        before=block.stage_seen,
    )
    return StageWarmth(
        days=tuple(wanted),
        sums_cd=tuple(accumulate(daily)),
        needs_cd=needs,
        is_own=is_own,
        is_whole=all(day in known for day in wanted if day < air.today),
        warm_days=warm_days(wanted, known, air.warm_day_c),
    )


@lru_cache(maxsize=4)
def _coming(
    hours_c: tuple[tuple[datetime, float], ...], zone: ZoneInfo, today: date
) -> dict[date, tuple[float, float]]:
    """Return the forecast days, today by what is known of it."""
    last = hours_c[-1][0].astimezone(zone).date()
    found = {}
    for n in range((last - today).days + 1):
        day = today + n * _DAY
        extremes = day_air(hours_c, zone, day)
        if extremes is not None:
            found[day] = extremes
    return found


# The past grows by a day a day.
@lru_cache(maxsize=4)
def _running_sums(
    past: tuple[tuple[date, tuple[float, float]], ...],
) -> dict[date, float]:
    """Return the warmth from the first known day on, for differences of it.

    A gap breaks nothing: the days of it count nothing, and needs come out smaller.
    """
    total, found = 0.0, {}
    for day, extremes in past:
        total += degree_days_cd(*extremes)
        found[day] = total
    return found
