"""Quantities as people write them: a number with its unit, and nothing else.

The only user of pint. A point on a temperature scale and a difference between two
points are different kinds: 2 degF is -16.7 degC as a point and 1.1 degC as a
difference, and confusing them has cost crops.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from frostalert.errors import QuantityError

_NUMBER_AND_UNIT = re.compile(
    r"^\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*([^\d\s].*?)?\s*$",
)
_COMMA = re.compile(r"^,(\d+)")
_THOUSANDS = 3


@dataclass(frozen=True, slots=True)
class _Kind:
    """What a kind of quantity may be written in, and what it becomes."""

    title: str
    target: str
    # Spelling in the file -> name for pint.
    spellings: dict[str, str]
    examples: tuple[str, ...]


_DEGREES = {
    "degF": "degF",
    "°F": "degF",
    "F": "degF",
    "degC": "degC",
    "°C": "degC",
    "C": "degC",
}

_KINDS = {
    "temperature": _Kind("temperature", "degC", _DEGREES, ("{n} degF", "{n} degC")),
    "temperature_difference": _Kind(
        "difference of temperatures",
        "delta_degC",
        {spelling: f"delta_{name}" for spelling, name in _DEGREES.items()}
        | {"K": "kelvin"},
        ("{n} degF", "{n} degC"),
    ),
    "length": _Kind(
        "length",
        "m",
        {"m": "m", "cm": "cm", "mm": "mm", "ft": "foot", "in": "inch"},
        ("{n} ft", "{n} m"),
    ),
    "area": _Kind(
        "area",
        "m**2",
        {
            "m2": "m**2",
            "m²": "m**2",
            "ha": "hectare",
            "acre": "acre",
            "acres": "acre",
            "ft2": "foot**2",
            "sq ft": "foot**2",
        },
        ("{n} acre", "{n} m2"),
    ),
    "volume": _Kind(
        "volume",
        "liter",
        {"L": "liter", "l": "liter", "gal": "gallon", "m3": "m**3", "m³": "m**3"},
        ("{n} gal", "{n} L"),
    ),
    "flow": _Kind(
        "flow",
        "liter/hour",
        {
            "gpm": "gallon/minute",
            "gal/min": "gallon/minute",
            "gal/h": "gallon/hour",
            "gph": "gallon/hour",
            "L/min": "liter/minute",
            "L/h": "liter/hour",
            "m3/h": "m**3/hour",
        },
        ("{n} gpm", "{n} L/min"),
    ),
    "mass": _Kind("mass", "kg", {"kg": "kg", "lb": "pound"}, ("{n} lb", "{n} kg")),
    "mass flow": _Kind(
        "mass an hour",
        "kg/hour",
        {"kg/h": "kg/hour", "lb/h": "pound/hour"},
        ("{n} lb/h", "{n} kg/h"),
    ),
    "areal mass": _Kind(
        "weight of cloth",
        "g/m**2",
        {"g/m2": "g/m**2", "g/m²": "g/m**2", "oz/yd2": "ounce/yard**2"},
        ("{n} oz/yd2", "{n} g/m2"),
    ),
    "power": _Kind(
        "power",
        "W",
        {"W": "W", "kW": "kW", "BTU/h": "Btu/hour"},
        ("{n} W", "{n} BTU/h"),
    ),
    "duration": _Kind(
        "duration",
        "s",
        {
            "s": "s",
            "min": "minute",
            "h": "hour",
            "hour": "hour",
            "hours": "hour",
            "day": "day",
            "days": "day",
        },
        ("{n} min", "{n} h"),
    ),
}

_GALLON_L = 3.785411784
_OUNCE_G = 28.349523125
_BTU_J = 1055.056
_FOOT_M = 0.3048
_YARD_M = 3.0 * _FOOT_M
_SURVEY_FOOT_M = 1200.0 / 3937.0
_FACTORS: Mapping[str, float] = {
    "degF": 1.0 / 1.8,
    "degC": 1.0,
    "delta_degF": 1.0 / 1.8,
    "delta_degC": 1.0,
    "m": 1.0,
    "cm": 0.01,
    "mm": 0.001,
    "foot": _FOOT_M,
    "inch": _FOOT_M / 12.0,
    "m**2": 1.0,
    "hectare": 1e4,
    "acre": 43560.0 * _SURVEY_FOOT_M**2,
    "foot**2": _FOOT_M**2,
    "liter": 1.0,
    "gallon": _GALLON_L,
    "m**3": 1000.0,
    "gallon/minute": 60.0 * _GALLON_L,
    "gallon/hour": _GALLON_L,
    "liter/minute": 60.0,
    "liter/hour": 1.0,
    "m**3/hour": 1000.0,
    "g/m**2": 1.0,
    "ounce/yard**2": _OUNCE_G / _YARD_M**2,
    "W": 1.0,
    "kW": 1000.0,
    "Btu/hour": _BTU_J / 3600.0,
    "s": 1.0,
    "minute": 60.0,
    "hour": 3600.0,
    "day": 86400.0,
}
"""What the usual units are in their kind's target, by pint's names for them: a command
that reads a file written in these need not wait for pint, which takes longer than all
else that it does. pint converts every other one, and a test holds these to it."""
_ZERO_POINTS: Mapping[str, float] = {"degF": 32.0}
"""Where a scale has the target's zero."""


def parse_quantity(text: object, kind: str) -> float:
    """Read a quantity written with its unit.

    Parameters
    ----------
    text : object
        What stands in the file, as a rule a string such as "-2 degF".
    kind : str
        One of "temperature", "temperature_difference", "length", "area", "volume",
        "flow", "mass", "mass flow", "areal mass", "power", "duration".

    Returns
    -------
    float
        The value in the unit used inside: degC (a difference in degC for the second
        kind), m, m2, L, L/h, kg, kg/h, g/m2, W or s.

    Raises
    ------
    QuantityError
        If there is no number, no unit, or a unit of another kind; the message says
        what to write instead.

    Examples
    --------
    >>> round(parse_quantity("27 degF", "temperature"), 2)
    -2.78
    >>> round(parse_quantity("-2 degF", "temperature_difference"), 2)
    -1.11
    >>> parse_quantity("-2", "temperature_difference")
    Traceback (most recent call last):
    ...
    frostalert.errors.QuantityError: "-2" has no unit; write "-2 degF" or "-2 degC"
    """
    if isinstance(text, bool):
        message = f'"{text}" is not a {_KINDS[kind].title}'
        raise QuantityError(message)
    return _parse(str(text), kind)


@lru_cache(maxsize=1024)
def _parse(text: str, kind: str) -> float:
    """Return the value of a text; crop tables name the same ones again and again."""
    known = _KINDS[kind]
    # A minus from a phone or a word processor is a minus.
    match = _NUMBER_AND_UNIT.match(text.replace("\u2212", "-").replace("\u2013", "-"))
    if match is None:
        examples = _examples(known, "3")
        message = f'"{text}" is not a {known.title}; write for instance {examples}'
        raise QuantityError(message)
    number, unit = match.groups()
    if unit is not None and (found := _COMMA.match(unit)):
        raise QuantityError(_comma_problem(text, found[1]))
    if unit is None:
        message = f'"{text}" has no unit; write {_examples(known, number)}'
        raise QuantityError(message)
    if unit not in known.spellings:
        units = ", ".join(known.spellings)
        # With another unit it is another number: none is offered.
        message = f'"{unit}" is not a unit of {known.title}; known are {units}'
        raise QuantityError(message)
    return _converted(float(number), known.spellings[unit], known.target)


def _converted(number: float, unit: str, target: str) -> float:
    """Return a number of a unit, by pint's name for it, in a kind's target."""
    factor = _FACTORS.get(unit)
    if factor is not None:
        return (number - _ZERO_POINTS.get(unit, 0.0)) * factor
    return converted_by_pint(number, unit, target)


def converted_by_pint(number: float, unit: str, target: str) -> float:
    """Return a number of one unit in another, both by pint's names."""
    return float(_registry().Quantity(number, unit).to(target).magnitude)


def _comma_problem(text: str, after: str) -> str:
    """Return what to write in place of a comma, which some read as a point."""
    plain, point = text.replace(",", ""), text.replace(",", ".")
    if len(after) == _THOUSANDS:
        return f'"{text}" has a comma; write "{plain}" if it stands for thousands'
    return f'"{text}" has a comma; write it with a point: "{point}"'


def _examples(known: _Kind, number: str) -> str:
    """Return what could be written instead."""
    return " or ".join(f'"{text.format(n=number)}"' for text in known.examples)


def _registry() -> Any:
    """Return pint's registry: MetPy's own where that is loaded, since each takes long.

    pint is imported when the first rare unit is read: half of the start-up time of the
    commands that do without.
    """
    import pint  # noqa: PLC0415

    return pint.get_application_registry()  # type: ignore[no-untyped-call]
