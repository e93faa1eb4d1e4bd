"""A local server that plays archives: previous runs, reanalysis, stations' minimums."""

import json
import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any
from urllib.parse import parse_qs, urlsplit

from tests.support.servers import HttpServer, Reply, Seen, http_server

HOUR = timedelta(hours=1)
Column = list[float | None]
UNITS = {
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "relative_humidity_2m": "%",
    "wind_speed_10m": "m/s",
    "wind_direction_10m": "°",
    "cloud_cover": "%",
    "precipitation": "mm",
}


@dataclass
class Station:
    """A station with its daily minimums, by the dates that it gives them. [degC]"""

    identifier: str
    name: str
    latitude: float
    longitude: float
    elevation_m: float
    minimums_c: dict[date, float]
    flags: dict[date, str] = field(default_factory=dict)
    answers_as: str | None = None

    def rows(self, first: date, last: date) -> list[dict[str, str]]:
        return [
            {
                "STATION": self.answers_as or self.identifier,
                "NAME": self.name,
                "LATITUDE": f"{self.latitude}",
                "LONGITUDE": f"{self.longitude}",
                "ELEVATION": f"{self.elevation_m}",
                "DATE": day.isoformat(),
                "TMIN": f"{low:8.1f}",
                "TMIN_ATTRIBUTES": f",{self.flags.get(day, '')},W",
            }
            for day, low in sorted(self.minimums_c.items())
            if first <= day <= last
        ]


@dataclass
class Played:
    """What the archives hold.

    `leads` are hours from `first` on by lead (0: as it was forecast last) and variable;
    what lies outside is null, as the service has it. `replies` are given first, once
    each, to requests whose address holds their key.
    """

    first: datetime
    leads: Mapping[int, Mapping[str, Column]]
    latitude: float = 46.2205
    longitude: float = -119.2412
    elevation_m: float = 125.0
    stations: list[Station] = field(default_factory=list)
    reanalysis: Column | None = None
    replies: list[tuple[str, Reply]] = field(default_factory=list)

    def answer(self, seen: Seen) -> Reply:
        for place, (part, reply) in enumerate(self.replies):
            if part in seen.path:
                del self.replies[place]
                return reply
        parts = urlsplit(seen.path)
        query = {name: values[0] for name, values in parse_qs(parts.query).items()}
        if parts.path == "/v1/forecast":
            return self._hours(query)
        if parts.path == "/v1/archive":
            return self._hours(query, reanalysis=True)
        if parts.path == "/access/services/search/v1/data":
            return Reply(body=json.dumps(self._near(query)))
        if parts.path == "/access/services/data/v1":
            return self._days(query)
        return Reply(status=404)

    def _hours(self, query: dict[str, str], *, reanalysis: bool = False) -> Reply:
        if "start_date" not in query:
            return Reply(400, '{"error": true, "reason": "no archive is asked for"}')
        start, end = (
            datetime.combine(
                date.fromisoformat(query[name]), datetime.min.time(), tzinfo=UTC
            )
            for name in ("start_date", "end_date")
        )
        count = (end - start) // HOUR + 24
        hourly: dict[str, Any] = {
            "time": [int((start + n * HOUR).timestamp()) for n in range(count)]
        }
        units = {"time": "unixtime"}
        for name in query["hourly"].split(","):
            plain, _, lead = name.partition("_previous_day")
            if plain not in UNITS:
                reason = f"Cannot initialize {name} from invalid String value"
                return Reply(400, json.dumps({"error": True, "reason": reason}))
            known = self.leads.get(int(lead or 0), {}).get(plain, [])
            if reanalysis:
                known = self.reanalysis or []
            offset = (start - self.first) // HOUR
            hourly[name] = [
                known[offset + n] if 0 <= offset + n < len(known) else None
                for n in range(count)
            ]
            units[name] = UNITS[plain]
        return Reply(
            body=json.dumps(
                {
                    "latitude": self.latitude,
                    "longitude": self.longitude,
                    "utc_offset_seconds": 0,
                    "elevation": self.elevation_m,
                    "hourly_units": units,
                    "hourly": hourly,
                }
            )
        )

    def _near(self, query: dict[str, str]) -> dict[str, Any]:
        north, west, south, east = map(float, query["bbox"].split(","))
        return {
            "count": len(self.stations),
            "results": [
                {
                    "name": item.name,
                    "location": {
                        "type": "Point",
                        "coordinates": [item.longitude, item.latitude],
                    },
                    "stations": [{"id": item.identifier, "name": item.name}],
                }
                for item in self.stations
                if south <= item.latitude <= north and west <= item.longitude <= east
            ],
        }

    def _days(self, query: dict[str, str]) -> Reply:
        first, last = (
            date.fromisoformat(query[name]) for name in ("startDate", "endDate")
        )
        for item in self.stations:
            if item.identifier == query["stations"]:
                return Reply(body=json.dumps(item.rows(first, last)))
        return Reply(body="[]")


@contextmanager
def archive_server(played: Played) -> Iterator[HttpServer]:
    with http_server(played.answer) as server:
        yield server


def past_section(url: str, more: str = "") -> str:
    """The [past] table that asks one server for everything."""
    return (
        f'\n[past]\nprevious_runs_url = "{url}"\nreanalysis_url = "{url}"\n'
        f'stations_url = "{url}"\n{more}\n'
    )


def clear_nights(
    lows_c: Mapping[date, float], first: datetime, hours: int, *, dawn_utc_h: int = 13
) -> Column:
    """Hours whose coldest of each night is a given low, at a given hour UTC.

    Between two dawns the air rises to 12 degC above the mean of their lows.
    """
    found: Column = []
    for n in range(hours):
        moment = first + n * HOUR
        day = (moment - timedelta(hours=dawn_utc_h)).date()
        share = ((moment.hour - dawn_utc_h) % 24) / 24.0
        # A dawn ends the night of the evening before.
        before = lows_c.get(day - timedelta(days=1), 5.0)
        after = lows_c.get(day, 5.0)
        rise = 12.0 * math.sin(math.pi * share)
        found.append(round(before + (after - before) * share + rise, 2))
    return found


def weather_of(
    air: Column, *, wind_mps: float = 1.0, cloud_pct: float = 5.0
) -> dict[str, Column]:
    """A dry, still sky over some hours of air."""
    dew: Column = [None if value is None else round(value - 6.0, 2) for value in air]
    return {
        "temperature_2m": air,
        "dew_point_2m": dew,
        "relative_humidity_2m": [None] * len(air),
        "wind_speed_10m": [wind_mps + 0.1 * (n % 3) for n in range(len(air))],
        "wind_direction_10m": [300.0] * len(air),
        "cloud_cover": [cloud_pct] * len(air),
        "precipitation": [0.0] * len(air),
    }
