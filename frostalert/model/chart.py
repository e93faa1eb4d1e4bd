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
class Chart:
    """One night of the block most at risk.

    Attributes
    ----------
    first_utc : datetime
        The first hour.
    air_c, dewpoint_c, wet_bulb_c : ndarray
        Among the plants, hour by hour. [degC] NaN where unknown.
    sigma_c : float
        Standard error of the low. [degC]
    lines : tuple of Line
        Alarm temperatures of the blocks at risk, by crop and stage.
    start_utc, stop_utc : datetime or None
        When protection must run, and before which water must not stop.
    """

    night: date
    block: str
    first_utc: datetime
    air_c: FloatArray
    dewpoint_c: FloatArray
    wet_bulb_c: FloatArray
    sigma_c: float
    lines: tuple[Line, ...]
    sunset_utc: datetime | None
    sunrise_utc: datetime | None
    start_utc: datetime | None
    stop_utc: datetime | None
    is_fahrenheit: bool
    time_zone: str
