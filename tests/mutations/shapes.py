"""Where the values, times and units of a forecast document stand, whoever made it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from frostalert.forecast import met_norway, nws, open_meteo

Document = dict[str, Any]
AIR = ("temperature", "temperature_2m", "air_temperature")
MINIMUM = ("minTemperature", "air_temperature_min")
DEWPOINT = ("dewpoint", "dew_point_2m", "dew_point_temperature")
TEMPERATURES = (*AIR, *MINIMUM, *DEWPOINT, "maxTemperature", "temperature_80m")


@dataclass(frozen=True, slots=True)
class Slot:
    """One place of a document: what stands there can be read, changed and taken out."""

    holder: Any
    key: Any

    @property
    def value(self) -> Any:
        """What stands there."""
        return self.holder[self.key]

    def put(self, value: Any) -> None:
        """Let something else stand there."""
        self.holder[self.key] = value

    def drop(self) -> None:
        """Take it out."""
        del self.holder[self.key]


@dataclass(frozen=True, slots=True)
class Shape:
    """One document, laid open.

    Attributes
    ----------
    values : dict of str to list of Slot
        The values of each quantity that the program reads, in the document's order.
    columns : dict of str to Slot
        All values of a quantity at once, where they stand in one place.
    times : list of Slot
        Times and intervals of what is said.
    units : dict of str to Slot
        The unit of each quantity.
    made, height : Slot or None
        When it was made, and the height of its cell.
    place : list of Slot
        Where its cell lies.
    """

    service: str
    values: dict[str, list[Slot]]
    columns: dict[str, Slot]
    times: list[Slot]
    units: dict[str, Slot]
    made: Slot | None
    height: Slot
    place: list[Slot]


def shape_of(document: Document) -> Shape:
    """Lay a document open; it is one that is read without complaint."""
    if "hourly" in document:
        return _open_meteo(document)
    if "timeseries" in document["properties"]:
        return _met_norway(document)
    return _nws(document)


def _nws(document: Document) -> Shape:
    """A grid: layers of entries, each with its interval."""
    properties = document["properties"]
    layers = {
        name: properties[name]
        for name in (*nws.LAYER_RULES, "weather")
        if isinstance(properties.get(name), dict) and properties[name].get("values")
    }
    return Shape(
        service=nws.SOURCE,
        values={
            name: [Slot(entry, "value") for entry in layer["values"]]
            for name, layer in layers.items()
            if name != "weather"
        },
        columns={name: Slot(properties, name) for name in layers},
        times=[
            Slot(entry, "validTime")
            for layer in layers.values()
            for entry in layer["values"]
        ],
        units={
            name: Slot(layer, "uom") for name, layer in layers.items() if "uom" in layer
        },
        made=Slot(properties, "updateTime"),
        height=Slot(properties["elevation"], "value"),
        place=[
            Slot(point, axis)
            for point in document["geometry"]["coordinates"][0]
            for axis in range(2)
        ],
    )


def _open_meteo(document: Document) -> Shape:
    """Lists beside a list of times."""
    hourly, units = document["hourly"], document["hourly_units"]
    names = [name for name in open_meteo.VARIABLE_MAP if name in hourly]
    return Shape(
        service=open_meteo.SOURCE,
        values={
            name: [Slot(hourly[name], place) for place in range(len(hourly[name]))]
            for name in names
        },
        columns={name: Slot(hourly, name) for name in names},
        times=[Slot(hourly["time"], place) for place in range(len(hourly["time"]))],
        units={name: Slot(units, name) for name in names if name in units},
        made=None,
        height=Slot(document, "elevation"),
        place=[Slot(document, "latitude"), Slot(document, "longitude")],
    )


def _met_norway(document: Document) -> Shape:
    """Steps, each with all that is said of its time."""
    properties = document["properties"]
    steps = properties["timeseries"]
    values: dict[str, list[Slot]] = {}
    for step in steps:
        for details in _details(step["data"]):
            for name in details:
                if name in met_norway.VARIABLE_MAP or name in MINIMUM:
                    values.setdefault(name, []).append(Slot(details, name))
    units = properties["meta"].get("units", {})
    return Shape(
        service=met_norway.SOURCE,
        values=values,
        columns={},
        times=[Slot(step, "time") for step in steps],
        units={name: Slot(units, name) for name in values if name in units},
        made=Slot(properties["meta"], "updated_at"),
        height=Slot(document["geometry"]["coordinates"], 2),
        place=[Slot(document["geometry"]["coordinates"], axis) for axis in range(2)],
    )


def _details(data: Document) -> Iterator[dict[str, Any]]:
    """Give what is said of the moment, and of the six hours that follow."""
    yield data["instant"]["details"]
    ahead = data.get("next_6_hours", {})
    if isinstance(ahead.get("details"), dict):
        yield ahead["details"]


def moved(value: Any, by: timedelta) -> Any:
    """Return a time or an interval of a document moved elsewhere, in its own form."""
    if isinstance(value, int):
        return value + int(by.total_seconds())
    start, slash, length = str(value).partition("/")
    moment = datetime.fromisoformat(start) + by
    text = moment.isoformat(timespec="minutes" if len(start) == 16 else "seconds")
    if start.endswith("Z"):
        text = text.removesuffix("+00:00") + "Z"
    return text + slash + length


def instant_of(value: Any) -> datetime:
    """Return the moment that a time or an interval of a document begins at."""
    if isinstance(value, int):
        return datetime.fromtimestamp(value, UTC)
    moment = datetime.fromisoformat(str(value).partition("/")[0])
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
