"""Take readings in: check each, keep all, say which are not believed or doubtful."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from frostalert.errors import QuantityError, UsageError
from frostalert.model.reading import Reading
from frostalert.model.site import Farm
from frostalert.physics.units import parse_quantity
from frostalert.ports import ReadingBook
from frostalert.risk.reading_checks import (
    beside_expected_c,
    is_doubtful,
    reading_problem,
)

_BEFORE = timedelta(hours=12)


def parse_reading(sensor: str, value: str, at_utc: datetime) -> Reading:
    """Return what a person read, its unit given.

    Raises
    ------
    UsageError
        If it is not a temperature with its unit.
    """
    try:
        return Reading(
            sensor=sensor,
            at_utc=at_utc,
            air_c=round(parse_quantity(value, "temperature"), 3),
        )
    except QuantityError as error:
        raise UsageError(str(error)) from error


def doubted_c(reading: Reading, book: ReadingBook) -> float | None:
    """Return how far a reading is from what is expected, if that is too far. [degC]"""
    difference = beside_expected_c(reading, book.expected_air())
    return difference if is_doubtful(difference) else None


def take_in(
    readings: Sequence[Reading], farm: Farm, book: ReadingBook, now_utc: datetime
) -> list[Reading]:
    """Check and keep readings; return those that are new."""
    known = {sensor.name for sensor in farm.sensors}
    if not readings:
        return []
    oldest = min(item.at_utc for item in readings)
    kept = list(book.readings_since(oldest - _BEFORE))
    there = {(item.sensor, item.at_utc) for item in kept}
    new: list[Reading] = []
    for item in sorted(readings, key=lambda item: item.at_utc):
        if (item.sensor, item.at_utc) in there:
            continue
        problem = "there is no sensor of that name"
        if item.sensor in known:
            earlier = [other for other in kept if other.sensor == item.sensor]
            problem = reading_problem(item, earlier, now_utc) or ""
        checked = replace(item, problem=problem or None)
        new.append(checked)
        kept.append(checked)
        there.add((item.sensor, item.at_utc))
    book.add_readings(new)
    return new
