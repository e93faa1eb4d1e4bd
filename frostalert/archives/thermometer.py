"""Old readings of a thermometer at the site, from a file of any columns."""

import csv
import io
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from frostalert.errors import UsageError
from frostalert.model.reading import SensorKind
from frostalert.model.settings import Settings
from frostalert.physics.units import parse_quantity

_MOST_BYTES = 100_000_000
_SHOWN_PROBLEMS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """How a file is laid out.

    Attributes
    ----------
    time_format : str or None
        How its times are written; None for ISO 8601.
    zone : ZoneInfo
        Of times without an offset.
    sensors : frozenset of str
        The thermometers that count; empty for all.
    """

    time: str
    value: str
    sensor: str
    unit: str
    zone: ZoneInfo
    time_format: str | None = None
    sensors: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class OldReadings:
    """What a file tells.

    Attributes
    ----------
    readings : tuple of (datetime, float)
        Moments and air. [degC]
    mornings : dict of date to float
        Lows that have a date and no hour, by the date on which they were read. [degC]
    problems : tuple of str
        Lines that could not be read.
    """

    readings: tuple[tuple[datetime, float], ...]
    mornings: dict[date, float]
    problems: tuple[str, ...] = ()


def own_file(settings: Settings) -> tuple[Path, Columns] | None:
    """Return the file with a site's own readings, and how it is laid out, if any."""
    past = settings.past
    zone = ZoneInfo(past.zone or settings.farm.site.time_zone)
    if past.csv is not None:
        sensors = frozenset() if past.sensor is None else frozenset({past.sensor})
        columns = Columns(
            time=past.time_column,
            value=past.value_column,
            sensor=past.sensor_column,
            unit=past.unit,
            zone=zone,
            time_format=past.time_format,
            sensors=sensors,
        )
        return Path(past.csv), columns
    references = frozenset(
        sensor.name
        for sensor in settings.farm.sensors
        if sensor.kind is SensorKind.REFERENCE and not sensor.is_treated
    )
    if settings.readings_csv is None or not references:
        return None
    columns = Columns(
        time="time",
        value="value",
        sensor="sensor",
        unit=settings.readings_unit,
        zone=zone,
        sensors=references,
    )
    return Path(settings.readings_csv), columns


def load_old(path: Path, columns: Columns) -> OldReadings:
    """Return what a file tells.

    Raises
    ------
    UsageError
        If it cannot be read at all, or lacks a column.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            message = f"{path} is larger than 100 MB: cut it to the springs that count"
            raise UsageError(message)
        text = path.read_text(encoding="utf-8-sig", errors="replace")
    except OSError as error:
        message = f"{path} cannot be read: {error.strerror}"
        raise UsageError(message) from error
    return parse_old(text, columns, str(path))


def parse_old(text: str, columns: Columns, name: str) -> OldReadings:
    """Return what a text tells; commas, semicolons or tabs part its columns.

    Raises
    ------
    UsageError
        If it lacks a column.
    """
    first = text.partition("\n")[0]
    mark = max(",;\t", key=first.count)
    rows = csv.DictReader(io.StringIO(text), delimiter=mark)
    names = {str(item).strip().lower(): item for item in rows.fieldnames or ()}
    wanted = [columns.time, columns.value, *([columns.sensor] * bool(columns.sensors))]
    lacking = [item for item in wanted if item.strip().lower() not in names]
    if lacking:
        message = (
            f"{name} has no column {' and no column '.join(lacking)}; it has "
            f"{', '.join(map(str, names.values())) or 'none'}. Name yours in [past]: "
            "time_column, value_column"
        )
        raise UsageError(message)
    keys = [names[item.strip().lower()] for item in wanted]
    readings: list[tuple[datetime, float]] = []
    mornings: dict[date, float] = {}
    problems: list[str] = []
    for row in rows:
        try:
            found = _row(row, keys, columns)
        except (ValueError, OverflowError, AttributeError) as error:
            problems.append(f"line {rows.line_num}: {error}")
            continue
        if isinstance(found, tuple):
            moment, air_c = found
            if isinstance(moment, datetime):
                readings.append((moment, air_c))
            else:
                mornings[moment] = min(air_c, mornings.get(moment, air_c))
    return OldReadings(
        readings=tuple(readings),
        mornings=mornings,
        problems=_shown(problems),
    )


def _row(
    row: dict[str, str], keys: list[str], columns: Columns
) -> tuple[datetime | date, float] | None:
    """Return when a line is of, and its air [degC]; None if it does not count."""
    if columns.sensors and row[keys[2]].strip() not in columns.sensors:
        return None
    value = row[keys[1]].strip()
    if not value:
        return None
    air_c = round(parse_quantity(f"{value} {columns.unit}", "temperature"), 3)
    return _moment(row[keys[0]].strip(), columns), air_c


def _moment(text: str, columns: Columns) -> datetime | date:
    """Return a line's moment, or its date where it has no hour."""
    form = columns.time_format
    if form is None:
        if len(text) == len("2025-04-12"):
            return date.fromisoformat(text)
        found = datetime.fromisoformat(text)
    else:
        found = datetime.strptime(text, form)  # noqa: DTZ007 - the zone follows
        if not any(mark in form for mark in ("%H", "%I", "%X", "%c", "%T")):
            return found.date()
    if found.tzinfo is None:
        found = found.replace(tzinfo=columns.zone)
    return found.astimezone(UTC)


def _shown(problems: list[str]) -> tuple[str, ...]:
    """Return the first problems, and how many there are more."""
    shown = problems[:_SHOWN_PROBLEMS]
    more = len(problems) - len(shown)
    return (*shown, *([f"and {more} more lines"] if more else []))
