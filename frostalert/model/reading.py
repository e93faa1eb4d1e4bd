"""Thermometers outside, and what they read."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

TAKEN_BACK = "taken back"
"""The problem of a reading whose sender said that it is wrong."""


class SensorKind(StrEnum):
    """What a thermometer stands for."""

    REFERENCE = "reference"
    SHELTERED = "sheltered"
    EXPOSED = "exposed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """A thermometer.

    Attributes
    ----------
    kind : SensorKind
        The site's own reference, the sheltered air of a block, or an exposed one that
        cools as a bud does.
    block : str or None
        Where it hangs; None for the reference.
    is_treated : bool
        Whether it hangs where water, heat or a cover changes what it reads.
    equipment : str or None
        What it then hangs beside or under, so that its gain is measured.
    """

    name: str
    kind: SensorKind
    block: str | None = None
    is_treated: bool = False
    equipment: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading.

    Attributes
    ----------
    air_c : float
        What was read. [degC]
    problem : str or None
        Why it is not believed.
    """

    sensor: str
    at_utc: datetime
    air_c: float
    problem: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedAir:
    """What a thermometer should read by the forecast.

    Attributes
    ----------
    first_utc : datetime
        The first hour.
    air_c : tuple of float or None
        Hour by hour; None in a gap. [degC]
    """

    sensor: str
    first_utc: datetime
    air_c: tuple[float | None, ...]
