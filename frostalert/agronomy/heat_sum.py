"""Degree-days, and what a stage takes of them: own past years first, a rule second."""

import math
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from frostalert.model.warmth import Sighting

BASE_C = 5.0
"""Temperature above which buds are counted to develop. [degC] Apple bud break, Nova
Scotia tree fruit, 2022 (41 F); for other crops common practice, no source."""
STAGE_CD = 40.0
"""Warmth that one stage takes where the site's own past does not tell. [degC d] From
memory, normals of McIntosh apple at Geneva NY: 28 to 50 a stage above 6 degC."""
OWN_SHARE = 0.8
"""Share of what past years took that counts: stages are seen late, never early. [1]
Common practice, no source."""
_SEASON = timedelta(days=150)
_SURE_STEPS = 2


def degree_days_cd(low_c: float, high_c: float, base_c: float = BASE_C) -> float:
    """Return a day's degree-days by a sine between its low and its high.

    Parameters
    ----------
    low_c, high_c : float
        Coldest and warmest air of the day. [degC]
    base_c : float
        Temperature above which warmth counts. [degC]

    Returns
    -------
    float
        Mean excess over the base. [degC d]

    References
    ----------
    .. [1] Baskerville and Emin, "Rapid estimation of heat accumulation from maximum and
       minimum temperatures," Ecology 50(3), 1969, 514-517.

    Examples
    --------
    >>> degree_days_cd(7.0, 15.0), degree_days_cd(-3.0, 4.0)
    (6.0, 0.0)
    """
    low_c, high_c = min(low_c, high_c), max(low_c, high_c)
    if high_c <= base_c:
        return 0.0
    mean, half = (low_c + high_c) / 2.0, (high_c - low_c) / 2.0
    if low_c >= base_c:
        return mean - base_c
    # The base lies between low and high; rounding must not put it beyond.
    angle = math.asin(max(-1.0, min((base_c - mean) / half, 1.0)))
    above = (mean - base_c) * (math.pi / 2.0 - angle) + half * math.cos(angle)
    return above / math.pi


def stage_needs_cd(
    stages: Sequence[str],
    stage: str,
    crop: str,
    sightings: Sequence[Sighting],
    sums_cd: Mapping[date, float],
    *,
    before: date,
) -> tuple[tuple[float, ...], bool]:
    """Return what the stages after one take of warmth.

    Parameters
    ----------
    stages : sequence of str
        The crop's stages in order.
    stage : str
        The one that was seen; one that is not in the table counts as before the first.
    crop : str
        The crop, whose other blocks count as well.
    sightings : sequence of Sighting
        What was seen in all years.
    sums_cd : mapping of date to float
        Running sum of warmth by day. [degC d]
    before : date
        Sightings from half a season before this day on are this year's.

    Returns
    -------
    tuple of (tuple of float, bool)
        Warmth from the stage to each following one [degC d], and whether the next two
        are the site's own past; the least of all years counts, and less of it.

    References
    ----------
    .. [1] Stage models err by several days: Zavalloni et al. 2006, abstract (-4 to
       +1 days for tart cherry).
    """
    index = stages.index(stage) if stage in stages else -1
    years = _by_year(crop, sightings, before)
    needs: list[float] = []
    seen: list[bool] = []
    for step in range(index + 1, len(stages)):
        taken = {
            own: any(item.stage == stages[step] for item in year)
            for year in years
            if (own := _taken(year, stages, max(index, 0), step, sums_cd)) is not None
        }
        last = needs[-1] if needs else 0.0
        need = max(last, OWN_SHARE * min(taken)) if taken else last + STAGE_CD
        seen.append(any(taken.values()))
        # A stage that was skipped in the notes came before the next one that was seen:
        # its own need is not known and must not be taken for larger.
        needs.append(need if seen[-1] else min(need, last + STAGE_CD))
    return tuple(needs), bool(seen) and all(seen[:_SURE_STEPS])


def _by_year(
    crop: str, sightings: Sequence[Sighting], before: date
) -> list[list[Sighting]]:
    """Return earlier years' sightings, block by block."""
    found: dict[tuple[str, int], list[Sighting]] = {}
    for item in sightings:
        if item.crop == crop and item.seen < before - _SEASON:
            found.setdefault((item.block, item.seen.year), []).append(item)
    return [sorted(items, key=lambda item: item.seen) for items in found.values()]


def _taken(
    year: list[Sighting],
    stages: Sequence[str],
    start: int,
    end: int,
    sums_cd: Mapping[date, float],
) -> float | None:
    """Return the warmth of one year between two stages. [degC d]"""
    placed = [(stages.index(i.stage), i.seen) for i in year if i.stage in stages]
    begun = next((day for place, day in placed if place >= start), None)
    reached = next((day for place, day in placed if place >= end), None)
    if begun is None or reached is None or reached <= begun:
        return None
    if begun not in sums_cd or reached not in sums_cd:
        return None
    return sums_cd[reached] - sums_cd[begun]
