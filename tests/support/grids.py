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
    """A grid answer; `changes` replace or add properties."""
    air = frosty_hours() if air_c is None else air_c
    dew = [None if v is None else v - 4.0 for v in air]
    nights = [first.replace(hour=3) + timedelta(days=n + 1) for n in range(2)]
    minimums = [
        {"validTime": interval(start, 14), "value": minimum_c}
        for start in nights
        if minimum_c is not None
    ]
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
