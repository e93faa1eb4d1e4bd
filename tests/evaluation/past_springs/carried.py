"""The forty days of New York that come with the project."""

import csv
import gzip
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from tests.support.archives import Column, Played

DATA = Path(__file__).parents[1] / "data"
HOURS = DATA / "new_york_spring_2025.csv.gz"
LOWS = DATA / "new_york_lows_2025.csv"
FIRST, LAST = date(2025, 2, 25), date(2025, 3, 31)
"""Nights of which all leads are there."""
_NAMES = {
    "air_c": "temperature_2m",
    "dewpoint_c": "dew_point_2m",
    "wind_mps": "wind_speed_10m",
    "cloud_pct": "cloud_cover",
}
_DAY = timedelta(days=1)


def read_played() -> Played:
    """Return the hours as an archive that can be asked."""
    with gzip.open(HOURS, "rt", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    leads: dict[int, dict[str, Column]] = {}
    for name in rows[0]:
        column, _, lead = name.rpartition("_")
        if column in _NAMES:
            leads.setdefault(int(lead), {})[_NAMES[column]] = [
                float(row[name]) if row[name] else None for row in rows
            ]
    first = datetime.strptime(rows[0]["hour_utc"], "%Y-%m-%dT%H").replace(tzinfo=UTC)
    return Played(
        first=first, leads=leads, latitude=40.7103, longitude=-73.9931, elevation_m=7.0
    )


def read_lows() -> dict[date, float]:
    """Return the low of each night by its evening's date. [degC]"""
    with LOWS.open(encoding="utf-8") as file:
        return {
            date.fromisoformat(row["morning"]) - _DAY: (float(row["low_f"]) - 32.0)
            / 1.8
            for row in csv.DictReader(file)
        }
