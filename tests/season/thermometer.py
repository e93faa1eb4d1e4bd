"""The site's own thermometer, and what goes wrong with it."""

from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path

import numpy as np

from frostalert.model.reading import Sensor, SensorKind
from tests.season.weather import ZONE, Season

POST = Sensor(name="Post", kind=SensorKind.REFERENCE)
READINGS = "readings.csv"
SPOILT = 0.15
"""Share of nights on which something is wrong with it."""
_KEPT_H, _NOISE_C, _WARMER_C, _COLDER_C = 20, 0.2, 4.0, 9.0
_HOURS = (19, 21, 3, 4, 5, 6, 7)
"""Local hours at which it is read: the evening's fall and the night's end."""


class Spoilt(StrEnum):
    """What is wrong with a night's readings."""

    SILENT = "silent"
    STUCK = "stuck"
    SHELTERED = "too warm all night"
    WILD = "one reading far too cold"


def spoilt(season: Season, index: int) -> Spoilt | None:
    """Return what is wrong with the readings of a night."""
    random = np.random.default_rng([season.seed, 6, max(0, index)])
    if random.random() >= SPOILT:
        return None
    return list(Spoilt)[random.integers(len(Spoilt))]


def reading_c(season: Season, moment_utc: datetime) -> float | None:
    """Return what it shows at an hour of a night. [degC] None while silent."""
    local = moment_utc.astimezone(ZONE)
    index = ((local - timedelta(hours=12)).date() - season.first).days
    noise = np.random.default_rng([season.seed, 7, int(moment_utc.timestamp())])
    air_c = season.air_c(moment_utc) + float(noise.normal(0.0, _NOISE_C))
    match spoilt(season, index):
        case Spoilt.SILENT:
            return None
        case Spoilt.STUCK:
            return season.air_c(season.high_at(index) + timedelta(hours=4))
        case Spoilt.SHELTERED:
            return air_c + _WARMER_C
        case Spoilt.WILD if local.hour == 3:
            return air_c - _COLDER_C
        case _:
            return air_c


def write_readings(season: Season, folder: Path, now_utc: datetime) -> None:
    """Write the file as the logger has it: the last night's readings."""
    local = now_utc.astimezone(ZONE)
    if local.hour not in _HOURS or local.minute:
        return
    hour = now_utc.replace(minute=0, second=0, microsecond=0)
    lines = ["time,sensor,value"]
    for back in range(_KEPT_H, -1, -1):
        moment = hour - timedelta(hours=back)
        at = moment.astimezone(ZONE)
        is_past_first = (at - timedelta(hours=12)).date() >= season.first
        if at.hour not in _HOURS or not is_past_first:
            continue
        shown = reading_c(season, moment)
        if shown is not None:
            lines.append(f"{moment.isoformat()},{POST.name},{shown:.2f}")
    (folder / READINGS).write_text("\n".join(lines) + "\n", encoding="utf-8")
