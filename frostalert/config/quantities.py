"""Quantities as fields of the schema: text with a unit in the file, a number inside."""

from collections.abc import Callable
from datetime import time, timedelta
from typing import Annotated

from pydantic import BeforeValidator

from frostalert.errors import QuantityError
from frostalert.physics.units import parse_quantity

_ROUNDING = 1e-9
"""How far a limit in another unit may miss itself. [1]"""


def _quantity(
    kind: str, lowest: float, highest: float, limits: str
) -> Callable[[object], float]:
    """Return a reader for one kind of quantity within limits that can be meant."""

    def read(value: object) -> float:
        if isinstance(value, timedelta):
            return value.total_seconds()
        number = parse_quantity(value, kind)
        # "-10.8 degF" makes -6.000000000000001 degC: what we name must be taken.
        beyond = max(lowest - number, number - highest)
        if not beyond <= _ROUNDING * max(1.0, abs(number)):
            message = f'"{value}" cannot be right here; it must be {limits}'
            raise QuantityError(message)
        return number

    return read


def _duration(lowest: timedelta, highest: timedelta, limits: str) -> BeforeValidator:
    """Return a reader for a duration within limits."""
    read = _quantity(
        "duration", lowest.total_seconds(), highest.total_seconds(), limits
    )
    return BeforeValidator(lambda value: timedelta(seconds=read(value)))


def _positive(kind: str, highest: float, limits: str) -> BeforeValidator:
    """Return a reader for a quantity that is not negative."""
    return BeforeValidator(_quantity(kind, 0.0, highest, limits))


def _local_time(value: object) -> time:
    """Return a time of day; a bare number would be seconds after midnight, UTC."""
    try:
        found = time.fromisoformat(value) if isinstance(value, str) else value
    except ValueError:
        found = None
    if isinstance(found, time) and found.tzinfo is None:
        return found
    message = f'"{value}" is no local time of day; write it like 21:30:00'
    raise QuantityError(message)


LocalTime = Annotated[time, BeforeValidator(_local_time)]
Volume = Annotated[float, _positive("volume", 1e8, "a volume of water")]
Flow = Annotated[float, _positive("flow", 1e7, "a flow of water")]
Power = Annotated[float, _positive("power", 1e6, "the heat of one, up to 1000 kW")]
ClothWeight = Annotated[
    float, _positive("areal mass", 500.0, "the weight of a cover, up to 500 g/m2")
]
CrownWidth = Annotated[
    float, _positive("length", 30.0, "the width of a crown, up to 30 m (98 ft)")
]
CoverSkin = Annotated[float, _positive("area", 1000.0, "the surface of one cover")]
Gain = Annotated[
    float,
    _positive("temperature_difference", 10.0, 'a gain, from "0 degF" to "18 degF"'),
]


def _fuel(mass: str, volume: str) -> BeforeValidator:
    """Return a reader for an amount of fuel, by volume or by weight."""

    def read(value: object) -> tuple[float, str]:
        if isinstance(value, tuple):
            return value
        try:
            return parse_quantity(value, volume), "L"
        except QuantityError:
            return parse_quantity(value, mass), "kg"

    return BeforeValidator(read)


FuelAmount = Annotated[tuple[float, str], _fuel("mass", "volume")]
FuelRate = Annotated[tuple[float, str], _fuel("mass flow", "flow")]
Elevation = Annotated[
    float,
    BeforeValidator(
        _quantity("length", -450.0, 5000.0, "between -450 m and 5000 m (16400 ft)")
    ),
]
PlantHeight = Annotated[
    float,
    BeforeValidator(
        _quantity("length", 0.0, 20.0, "the height of the flowers, up to 20 m (66 ft)")
    ),
]
Area = Annotated[
    float,
    BeforeValidator(
        _quantity("area", 0.1, 5e7, "between 0.1 m2 and 5000 ha (12000 acres)")
    ),
]
ColdSpot = Annotated[
    float,
    BeforeValidator(
        _quantity(
            "temperature_difference",
            -12.0,
            8.0,
            "how much colder (minus) or warmer the block is than the site on clear "
            'calm nights, from "-21 degF" to "14 degF"',
        )
    ),
]
CultivarOffset = Annotated[
    float,
    BeforeValidator(
        _quantity(
            "temperature_difference",
            -6.0,
            4.0,
            "how much hardier (minus) or more tender the cultivar is, from "
            '"-10.8 degF" to "7.2 degF"',
        )
    ),
]
DayHigh = Annotated[
    float,
    BeforeValidator(
        _quantity("temperature", 10.0, 40.0, 'from "50 degF" to "104 degF"')
    ),
]
Step = Annotated[
    float,
    BeforeValidator(
        _quantity("temperature_difference", 0.25, 8.0, 'from "0.5 degF" to "14 degF"')
    ),
]
ErrorSize = Annotated[
    float,
    BeforeValidator(
        _quantity("temperature_difference", 0.0, 8.0, 'from "0 degF" to "14 degF"')
    ),
]
Hours = Annotated[
    timedelta,
    _duration(timedelta(0), timedelta(hours=24), 'from "0 min" to "24 h"'),
]
FetchInterval = Annotated[
    timedelta,
    _duration(timedelta(minutes=10), timedelta(hours=6), 'from "10 min" to "6 h"'),
]
