"""Forecast grid documents of our own making, in the form that the service documents."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

FIRST = datetime(2026, 4, 12, 12, tzinfo=UTC)


def interval(start: datetime, hours: int) -> str:
    return f"{start:%Y-%m-%dT%H:%M:%S}+00:00/PT{hours}H"


def layer(
    unit: str | None, values: list[Any], first: datetime = FIRST
) -> dict[str, Any]:
    """One value an hour; None makes a gap."""
    entries = [
        {"validTime": interval(first + timedelta(hours=n), 1), "value": value}
        for n, value in enumerate(values)
        if value is not None
    ]
    return {"values": entries} if unit is None else {"uom": unit, "values": entries}


def frosty_hours(
    low_c: float = -3.0, high_c: float = 12.0, hours: int = 72
) -> list[float | None]:
    """A day's course with its low at 13 UTC (6 in the morning, Pacific daylight)."""
    hour = (FIRST.hour + np.arange(hours)) % 24
    phase = np.cos((hour - 13) / 24.0 * 2.0 * np.pi)
    middle, half = (high_c + low_c) / 2.0, (high_c - low_c) / 2.0
    return [round(float(v), 2) for v in middle - half * phase]


def _minimums(
    first: datetime, air: list[float | None], minimum_c: float | None
) -> list[dict[str, Any]]:
    """The nights' minimums, each for 14 hours, if all of those are known."""
    found = []
    for day in range(len(air) // 24 + 1):
        start = first.replace(hour=3) + timedelta(days=day + 1)
        place = (start - first) // timedelta(hours=1)
        hours = air[place : place + 15]
        known = [value for value in hours if value is not None]
        value = minimum_c
        if minimum_c is None and len(known) == 15:
            value = min(known)
        if value is not None and (minimum_c is None or day < 2):
            found.append({"validTime": interval(start, 14), "value": value})
    return found


def grid_document(
    *,
    air_c: list[float | None] | None = None,
    dewpoint_c: list[float | None] | None = None,
    minimum_c: float | None = None,
    wind_kmh: float = 3.7,
    cloud_pct: float = 5.0,
    updated: datetime | None = None,
    first: datetime = FIRST,
    latitude: float = 46.2205,
    longitude: float = -119.2412,
    **changes: Any,
) -> dict[str, Any]:
    """A grid answer; `changes` replace or add properties.

    As the service does, it gives each night a minimum: by default the coldest of the
    night's hours, which changes nothing.
    """
    air = frosty_hours() if air_c is None else air_c
    dew = [None if v is None else v - 4.0 for v in air]
    minimums = _minimums(first, air, minimum_c)
    ring = [
        [longitude - 0.01, latitude - 0.01],
        [longitude + 0.01, latitude - 0.01],
        [longitude + 0.01, latitude + 0.01],
        [longitude - 0.01, latitude + 0.01],
        [longitude - 0.01, latitude - 0.01],
    ]
    count = len(air)
    properties = {
        "gridId": "TST",
        "gridX": 1,
        "gridY": 2,
        "updateTime": (updated or first + timedelta(hours=6)).isoformat(),
        "validTimes": f"{first:%Y-%m-%dT%H:%M:%S}+00:00/PT{count}H",
        "elevation": {"unitCode": "wmoUnit:m", "value": 125.0},
        "temperature": layer("wmoUnit:degC", list(air), first),
        "dewpoint": layer(
            "wmoUnit:degC", dew if dewpoint_c is None else list(dewpoint_c), first
        ),
        "minTemperature": {"uom": "wmoUnit:degC", "values": minimums}
        if minimums
        else {"values": []},
        "windSpeed": layer("wmoUnit:km_h-1", [wind_kmh] * count, first),
        "skyCover": layer("wmoUnit:percent", [cloud_pct] * count, first),
        "weather": {"values": []},
        "pressure": {"values": []},
    }
    properties.update(changes)
    return {
        "type": "Feature",
        "geometry": {"type": "Polygon", "coordinates": [ring]},
        "properties": properties,
    }


def grid_text(**changes: Any) -> str:
    return json.dumps(grid_document(**changes))
