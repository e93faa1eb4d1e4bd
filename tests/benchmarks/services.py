"""The three forecast services at one moment, as answers of a server on loopback."""

import json
import math
import time
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

from frostalert.forecast.open_meteo import VARIABLE_MAP
from tests.support.grids import grid_text
from tests.support.servers import Reply, Seen

HOURS = 7 * 24
_HOUR = timedelta(hours=1)
SOURCES = {
    "/met": "MET Norway",
    "/om": "Open-Meteo",
    "/alerts": "NWS warnings and station",
    "/stations": "NWS warnings and station",
    "/gridpoints/TST/1,2/stations": "NWS warnings and station",
    "/points": "NWS",
    "/gridpoints": "NWS",
}
"""Who is asked by an address; the longest beginning that fits counts."""


@dataclass
class Services:
    """Answers of invented weather that freezes hard every few nights."""

    now_utc: datetime
    freezes_every_days: int = 5
    grid_served_s: float | None = None
    """When the first grid was given out, by the monotonic clock. [s]"""
    requests: Counter[str] = field(default_factory=Counter)
    received_bytes: Counter[str] = field(default_factory=Counter)

    def __call__(self, seen: Seen) -> Reply:
        """Answer, and count it."""
        reply = self._answer(seen)
        fitting = [start for start in SOURCES if seen.path.startswith(start)]
        source = SOURCES[max(fitting, key=len)]
        self.requests[source] += 1
        self.received_bytes[source] += len(reply.body)
        return reply

    def _answer(self, seen: Seen) -> Reply:
        """Return the answer of the service that was asked."""
        made = self.now_utc.replace(minute=0, second=0, microsecond=0)
        every = self.freezes_every_days
        course_c = [_air_c(made + n * _HOUR, every) for n in range(HOURS)]
        if seen.path.startswith("/met"):
            headers = {
                "Expires": format_datetime(made + timedelta(minutes=31), usegmt=True),
                "Last-Modified": format_datetime(made, usegmt=True),
            }
            return Reply(body=_met_norway(made, course_c), headers=headers)
        if seen.path.startswith("/om"):
            return Reply(body=_open_meteo(made, course_c))
        if seen.path == "/gridpoints/TST/1,2":
            return self._grid(seen, made, course_c)
        return Reply(body=_places(seen.path) or _observation(self.now_utc, course_c[0]))

    def _grid(self, seen: Seen, made: datetime, course_c: list[float]) -> Reply:
        """Return the grid, unless it is known."""
        modified = format_datetime(made, usegmt=True)
        if seen.headers.get("If-Modified-Since") == modified:
            return Reply(304)
        if self.grid_served_s is None:
            self.grid_served_s = time.monotonic()
        body = grid_text(air_c=list(course_c), first=made, updated=made)
        return Reply(body=body, headers={"Last-Modified": modified})


def _places(path: str) -> str | None:
    """Return what is where, and that no warning is in force."""
    if path.startswith("/points"):
        place = "https://api.weather.gov/gridpoints/TST/1,2"
        links = {"forecastGridData": place, "observationStations": f"{place}/stations"}
        return json.dumps({"properties": links})
    if path.startswith("/alerts"):
        return json.dumps({"features": []})
    return _stations() if path.endswith("/stations") else None


def _air_c(moment: datetime, freezes_every_days: int) -> float:
    """Return the air: coldest at 13 UTC, which is 6 in the morning on the Pacific."""
    low_c = -6.0 if moment.toordinal() % freezes_every_days == 0 else 4.0
    phase = math.cos((moment.hour - 13) / 24.0 * 2.0 * math.pi)
    return round((16.0 + low_c) / 2.0 - (16.0 - low_c) / 2.0 * phase, 1)


def _open_meteo(made: datetime, course_c: list[float]) -> str:
    fixed = {
        "wind_speed_10m": 1.5,
        "cloud_cover": 40,
        "precipitation_probability": 5,
        "precipitation": 0.0,
    }
    hourly: dict[str, list[float]] = {
        "time": [int((made + n * _HOUR).timestamp()) for n in range(HOURS)],
        "temperature_2m": course_c,
        "dew_point_2m": [value - 3.0 for value in course_c],
        **{name: [value] * HOURS for name, value in fixed.items()},
    }
    units = {name: unit for name, (_, unit) in VARIABLE_MAP.items()}
    content = {
        "latitude": 46.22,
        "longitude": -119.24,
        "elevation": 125.0,
        "utc_offset_seconds": 0,
        "hourly_units": {"time": "unixtime", **units},
        "hourly": hourly,
    }
    return json.dumps(content)


def _met_norway(made: datetime, course_c: list[float]) -> str:
    steps = []
    for n, air in enumerate(course_c):
        details = {
            "air_temperature": air,
            "dew_point_temperature": air - 2.0,
            "wind_speed": 1.0,
            "cloud_area_fraction": 10.0,
        }
        data = {"instant": {"details": details}, "next_1_hours": {"details": {}}}
        steps.append({"time": f"{made + n * _HOUR:%Y-%m-%dT%H:%M:%SZ}", "data": data})
    content = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [-119.2412, 46.2205, 125]},
        "properties": {
            "meta": {"updated_at": f"{made:%Y-%m-%dT%H:%M:%SZ}", "units": {}},
            "timeseries": steps,
        },
    }
    return json.dumps(content)


def _stations() -> str:
    station = {
        "geometry": {"coordinates": [-119.2, 46.3]},
        "properties": {"stationIdentifier": "KNEA", "name": "Nea Field"},
    }
    return json.dumps({"features": [station]})


def _observation(now_utc: datetime, air_c: float) -> str:
    moment = (now_utc - timedelta(minutes=10)).astimezone(UTC)
    reading = {"unitCode": "wmoUnit:degC", "value": air_c, "qualityControl": "V"}
    entry = {"properties": {"timestamp": moment.isoformat(), "temperature": reading}}
    return json.dumps({"features": [entry]})
