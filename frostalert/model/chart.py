"""What a picture of one night shows, as numbers and words."""

from dataclasses import dataclass
from datetime import date, datetime

from frostalert.model.forecast import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A temperature that a block is compared with. [degC]"""

    name: str
    value_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A start: what must run by when; without a name where there is no plan."""

    name: str
    run_by_utc: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """One night of the block most at risk, and of no other.

    Attributes
    ----------
    first_utc : datetime
        The first hour.
    air_c, dewpoint_c, wet_bulb_c : ndarray
        Among the plants, hour by hour. [degC] NaN where unknown.
    sigma_c : float
        Standard error of the low. [degC]
    line : Line or None
        Its alarm temperature, by crop and stage.
    starts : tuple of Mark
        What the plan starts in it, the earliest first.
    stop_utc : datetime or None
        Before which its water must not stop.
    """

    night: date
    block: str
    first_utc: datetime
    air_c: FloatArray
    dewpoint_c: FloatArray
    wet_bulb_c: FloatArray
    sigma_c: float
    line: Line | None
    sunset_utc: datetime | None
    sunrise_utc: datetime | None
    starts: tuple[Mark, ...]
    stop_utc: datetime | None
    is_fahrenheit: bool
    time_zone: str
