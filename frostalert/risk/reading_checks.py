"""Which readings are believed, and which must be read again.

A person who writes one down waits for this: it goes by plain numbers.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta

from frostalert.model.forecast import CLOCK_SLACK, HOUR
from frostalert.model.reading import ExpectedAir, Reading

LOWEST_C, HIGHEST_C = -38.0, 60.0
"""Beyond these nothing is believed; -40 is what a failed sensor often gives. [degC]
Common practice, no source."""
MOST_JUMP_C_PER_H = 12.0
"""Change from one reading to the next that no air makes. [degC/h] Common practice, no
source."""
_LEAST_JUMP_C = 4.0
_FLAT_READINGS, _FLAT_FOR = 12, timedelta(hours=6)
_FLAT_AT_LEAST = timedelta(hours=3)
MOST_LONE_COLDER_C = 8.0
"""Most that one reading alone may lower the coming hours: beyond, a second one must
bear it out. [degC] Common practice, no source."""
DOUBTED_WARMER_C = 3.0
"""How much warmer than expected a reading is asked back: a lost minus is the commonest
slip. [degC] Common practice, no source."""


def reading_problem(
    reading: Reading, earlier: Sequence[Reading], now_utc: datetime
) -> str | None:
    """Return why a reading is not believed.

    References
    ----------
    .. [1] Range, step and persistence tests as for weather stations: WMO-No. 8, vol. V,
       ch. 1 (kinds of test; limits are common practice, no source).
    """
    if not LOWEST_C <= reading.air_c <= HIGHEST_C:
        return "air is never as cold or as warm as that"
    if reading.at_utc > now_utc + CLOCK_SLACK:
        return "its time lies in the future: is the clock right?"
    before = [item for item in earlier if item.at_utc < reading.at_utc]
    recent = [item for item in before if reading.at_utc - item.at_utc <= _FLAT_FOR]
    believed = [item for item in recent if item.problem is None]
    is_jump = bool(believed) and not _follows(believed[-1], reading)
    # Two in a row that agree are right, and what came before them was wrong.
    if is_jump and not (
        recent[-1] is not believed[-1] and _follows(recent[-1], reading)
    ):
        return "it jumped further than air does: read it again"
    is_long = recent and reading.at_utc - recent[0].at_utc >= _FLAT_AT_LEAST
    is_flat = all(item.air_c == reading.air_c for item in recent)
    if is_long and is_flat and len(recent) >= _FLAT_READINGS:
        return "it has not moved for hours: is it stuck?"
    return None


def _follows(earlier: Reading, later: Reading) -> bool:
    """Return whether air can have gone from one reading to the next."""
    hours = (later.at_utc - earlier.at_utc) / HOUR
    most = max(_LEAST_JUMP_C, MOST_JUMP_C_PER_H * hours)
    return abs(later.air_c - earlier.air_c) <= most


def beside_expected_c(
    reading: Reading, expected: Sequence[ExpectedAir]
) -> float | None:
    """Return how far a reading lies from what is expected there and then. [degC]

    None where nothing is expected: beyond the hours, in a gap, under water or a cover.
    """
    for item in expected:
        if item.sensor == reading.sensor:
            place = (reading.at_utc - item.first_utc) / HOUR
            should = _between(item.air_c, place)
            return None if should is None else reading.air_c - should
    return None


def _between(air_c: Sequence[float | None], place: float) -> float | None:
    """Return the air between two hours, or none beyond the ends or in a gap. [degC]"""
    if not 0.0 <= place <= len(air_c) - 1:
        return None
    hour = int(place)
    share, before = place - hour, air_c[hour]
    if before is None or not share:
        return before
    after = air_c[hour + 1]
    return None if after is None else before + share * (after - before)


def is_doubtful(difference_c: float | None) -> bool:
    """Return whether a reading that far from what is expected must be read again."""
    return difference_c is not None and not (
        -MOST_LONE_COLDER_C <= difference_c <= DOUBTED_WARMER_C
    )
