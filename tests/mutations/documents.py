"""Documents to be spoiled: recorded ones of a folder, or small ones of our own."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from frostalert.errors import ForecastFormatError
from frostalert.forecast.file_source import load_run
from frostalert.forecast.met_norway import parse_timeseries
from frostalert.forecast.nws import parse_grid
from frostalert.forecast.open_meteo import parse_forecast
from frostalert.model.forecast import ForecastRun
from tests.adapters.test_point_sources import met, open_meteo, step
from tests.mutations.shapes import Document, instant_of
from tests.support.configs import config_text
from tests.support.grids import FIRST, frosty_hours, grid_document, layer

_NIGHTS = timedelta(hours=72)
_SITE_BELOW_CELL_M = 40.0
_EQUIPMENT = """
[[equipment]]
name = "Lane line"
method = "micro-sprinklers"
area = "3000 ft2"
flow = "14 gpm"
set_up = "40 min"

[supplies]
hands = 2
water = "12000 gal"
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Original:
    """A document that is read without complaint, cut to three nights.

    Attributes
    ----------
    body : str
        Its text.
    config : str
        The configuration of a site in its cell.
    now : datetime
        The moment that it is judged at.
    """

    name: str
    body: str
    config: str
    now: datetime


def recorded(folder: Path) -> Iterator[Original]:
    """Give the forecasts among the files of a folder and those below it."""
    for path in sorted(folder.rglob("*.json")):
        try:
            run = load_run(path, datetime(2026, 1, 1, tzinfo=UTC))
        except ForecastFormatError:
            continue
        document = json.loads(path.read_text(encoding="utf-8"))
        yield from _at_two_moments(path.stem, document, run)


def ours() -> Iterator[Original]:
    """Give small documents of our own making, one a service."""
    air = [value for value in frosty_hours() if value is not None]
    humidity = [74.0] * len(air)
    grid = grid_document(
        minimum_c=-5.0, relativeHumidity=layer("wmoUnit:percent", list(humidity))
    )
    world = open_meteo(temperature_2m=air, relative_humidity_2m=[80] * len(air))
    steps = [step(n, value, ahead_h=6) for n, value in enumerate(air[:48])]
    steps += [step(n, air[n], ahead_h=6) for n in range(48, len(air), 6)]
    point = json.loads(met(steps, air_temperature="celsius", wind_speed="m/s"))
    for name, document, parse in (
        ("grid", grid, parse_grid),
        ("world", world, parse_forecast),
        ("point", point, parse_timeseries),
    ):
        now = FIRST + timedelta(hours=10)
        yield original(name, document, parse(json.dumps(document), now), now)


def _at_two_moments(
    name: str, document: Document, run: ForecastRun
) -> Iterator[Original]:
    """Give a document as it is judged before a night and within one."""
    first = run.hours.first_utc
    if run.hours.count < _NIGHTS / timedelta(hours=1):
        return
    made = first if run.updated_utc == run.fetched_utc else max(first, run.updated_utc)
    for hours in (4, 13):
        now = made + timedelta(hours=hours)
        yield original(f"{name}+{hours}h", document, run, now)


def original(
    name: str, document: Document, run: ForecastRun, now: datetime
) -> Original:
    """Return a document that is judged at a moment, in a cell of its own."""
    body = json.dumps(_cut(document, now + _NIGHTS))
    return Original(name=name, body=body, config=_config(run, now), now=now)


def _cut(document: Document, end: datetime) -> Document:
    """Return a document without what lies after a moment."""
    if "hourly" in document:
        times = document["hourly"]["time"]
        count = sum(instant_of(value) < end for value in times)
        hourly = {name: values[:count] for name, values in document["hourly"].items()}
        return {**document, "hourly": hourly}
    properties = document["properties"]
    if "timeseries" in properties:
        steps = [s for s in properties["timeseries"] if instant_of(s["time"]) < end]
        return {**document, "properties": {**properties, "timeseries": steps}}
    layers = {name: _cut_layer(layer, end) for name, layer in properties.items()}
    return {**document, "properties": layers}


def _cut_layer(layer: Any, end: datetime) -> Any:
    """Return a layer of a grid without what begins after a moment."""
    if not isinstance(layer, dict) or not isinstance(layer.get("values"), list):
        return layer
    values = [e for e in layer["values"] if instant_of(e["validTime"]) < end]
    return {**layer, "values": values}


def _config(run: ForecastRun, now: datetime) -> str:
    """The configuration of a site that lies a little lower than its cell."""
    latitude, longitude = run.latitude or 0.0, run.longitude or 0.0
    elevation_m = (run.elevation_m or 0.0) - _SITE_BELOW_CELL_M
    zone = f"Etc/GMT{round(-longitude / 15):+d}"
    return (
        config_text(more=_EQUIPMENT)
        .replace("46.2205", f"{latitude:.4f}")
        .replace("-119.2412", f"{longitude:.4f}")
        .replace('"410 ft"', f'"{elevation_m:.0f} m"')
        .replace("America/Los_Angeles", zone)
        .replace("2026-04-10", f"{now:%Y-%m-%d}")
    )
