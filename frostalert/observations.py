"""Readings in, from a file that thermometers write."""

import csv
import io
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

from frostalert.model.reading import Reading
from frostalert.physics.units import parse_quantity

_MOST_BYTES = 20_000_000
_RESTED_S = 60.0
_COLUMNS = ("time", "sensor", "value")


def parse_rows(text: str, unit: str) -> tuple[list[Reading], list[str]]:
    """Return the readings of a CSV text, and what could not be read of it.

    Parameters
    ----------
    text : str
        With the columns time, sensor and value in any order, named in the first line.
    unit : str
        Unit of the values.

    Returns
    -------
    tuple
        Readings in the order of the file, and problems with their lines.
    """
    rows = csv.DictReader(io.StringIO(text), quoting=csv.QUOTE_NONE)
    names = [name.strip().lower() for name in rows.fieldnames or []]
    if missing := [name for name in _COLUMNS if name not in names]:
        return [], [f"the first line must name the columns {', '.join(missing)}"]
    rows.fieldnames = names
    readings: list[Reading] = []
    problems: list[str] = []
    while True:
        try:
            readings.append(_row(next(rows), unit))
        except StopIteration:
            return readings, problems
        except (ValueError, OverflowError, AttributeError, csv.Error) as error:
            # One line that cannot be read leaves the others.
            problems.append(f"line {rows.line_num}: {error}")


def load_rows(
    path: Path, unit: str, now_utc: datetime
) -> tuple[list[Reading], list[str]]:
    """Return the readings in a file; as `parse_rows`.

    A last line without its end may be half written: it waits until the file has rested.
    """
    try:
        found = path.stat()
        if found.st_size > _MOST_BYTES:
            return [], [f"{path} is larger than 20 MB: begin a new one"]
        text = path.read_text(encoding="utf-8-sig", errors="replace")
    except OSError as error:
        return [], [f"{path} cannot be read: {error.strerror}"]
    if now_utc.timestamp() - found.st_mtime < _RESTED_S:
        text, _, _ = text.rpartition("\n")
    readings, problems = parse_rows(text + "\n", unit)
    return readings, [f"{path}, {problem}" for problem in problems[:3]]


def _row(row: dict[str, str], unit: str) -> Reading:
    """Return one line."""
    return _reading(row["time"], row["sensor"], row["value"], unit)


# The file is read every few seconds: its lines are those of before, but for a few.
@lru_cache(maxsize=1024)
def _reading(time: str, sensor: str, value: str, unit: str) -> Reading:
    """Return what a line says."""
    moment = datetime.fromisoformat(time.strip())
    if moment.tzinfo is None:
        message = f'the time "{time}" has no offset'
        raise ValueError(message)
    celsius = parse_quantity(f"{value.strip()} {unit}", "temperature")
    return Reading(
        sensor=sensor.strip(), at_utc=moment.astimezone(UTC), air_c=round(celsius, 3)
    )
