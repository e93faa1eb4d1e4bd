"""How far buds may have moved since they were looked at, and what they bear then."""

from dataclasses import dataclass, replace
from datetime import date
from functools import cache

from frostalert.model.crop import Crop, StageThreshold
from frostalert.model.warmth import StageWarmth


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """Ages by which stages count as moved on, each changeable. [d]

    `bloom_days` holds from first pink to petal fall; `dormant_days` is how long
    "dormant" is believed once the season has begun. Common practice, no source.
    """

    stage_days: int = 8
    bloom_days: int = 4
    dormant_days: int = 30


@dataclass(frozen=True, slots=True)
class Moved:
    """How many stages further buds count.

    Attributes
    ----------
    steps : int
        Stages.
    days_left : float
        Days counted since the last of them. [d]
    why : str
        By what, in words; empty for age alone.
    """

    steps: int
    days_left: float
    why: str


def moved_on(
    crop: Crop,
    place: int,
    days: int,
    night: date,
    pace: Pace,
    warmth: StageWarmth | None,
) -> Moved:
    """Return how many stages further buds count: by age or by warmth, the sooner.

    A day that reached the warm day's high counts double. Where the site's own past
    years tell what a stage takes, and every day since is known, age alone counts half
    as fast: a cold spell holds buds back.

    Parameters
    ----------
    crop : Crop
        The crop.
    place : int
        Place of the stage that was seen.
    days : int
        Its age. [d]
    night : date
        The night.
    pace : Pace
        What age does.
    warmth : StageWarmth or None
        Warmth since then.

    Returns
    -------
    Moved
        Beyond the table's end nothing is counted.

    References
    ----------
    .. [1] Stage models err by several days (Zavalloni et al. 2006, abstract: -4 to +1
       days for tart cherry). The ages and the warm day are common practice, no source.
    """
    counted = days + (warmth.warm_until(night) if warmth is not None else 0)
    is_sure = warmth is not None and warmth.is_own and warmth.is_whole
    by_age = _by_age(crop, place, counted, pace, 2 if is_sure else 1)
    if warmth is None:
        return by_age
    by = "this site's past years" if warmth.is_own else "a rule of thumb"
    words = f"{warmth.sum_on(night):.0f} degree-days C since; by {by}"
    if warmth.steps_on(night) > by_age.steps:
        return Moved(warmth.steps_on(night), 0.0, f" ({words})")
    if is_sure and _by_age(crop, place, counted, pace, 1).steps > by_age.steps:
        return replace(by_age, why=f" (not moved on by days alone: {words})")
    return by_age


def _by_age(crop: Crop, place: int, days: int, pace: Pace, slowness: int) -> Moved:
    """Return how many stages further buds count by their age."""
    steps = 0
    for row in crop.stages[place:]:
        takes = slowness * (pace.bloom_days if row.is_bloom else pace.stage_days)
        if days < takes:
            break
        days -= takes
        steps += 1
    return Moved(steps, days / slowness, "")


def most_tender(
    crop: Crop, place: int, moved: Moved, days_at_first: int = 0
) -> StageThreshold:
    """Return the most tender stage from one that was seen to where buds may be.

    Parameters
    ----------
    crop : Crop
        The crop.
    place : int
        Place of the stage that was seen.
    moved : Moved
        How many stages further buds may be.
    days_at_first : int
        How long they are known to have been at the first. [d]

    Returns
    -------
    StageThreshold
        The latest of the most tender: kill shares still rise where warnings do not.
    """
    rows = crop.stages[place : place + 1 + moved.steps]
    on_the_way = []
    for number, row in enumerate(rows):
        is_passed = number < len(rows) - 1
        days = days_at_first if number == 0 else moved.days_left
        is_aged = row.aged_c is not None and (is_passed or days >= row.aged_days)
        on_the_way.append(_aged(row) if is_aged else row)
    return max(reversed(on_the_way), key=lambda row: row.alarm_c)


@cache
def _aged(row: StageThreshold) -> StageThreshold:
    """Return a row as it is after its days: kept, since rows are told by identity."""
    return replace(row, damage_begins_c=row.aged_c, aged_c=None, aged_days=0)
