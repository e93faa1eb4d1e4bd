"""One run of one public forecast, in our own names and units, missing as NaN."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, TypeVar

# Commands that look at no forecast must not wait for it.
if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
else:
    FloatArray = BoolArray = Any
HOUR = timedelta(hours=1)
CLOCK_SLACK = timedelta(minutes=10)
"""By how much the clocks of machines may differ. Common practice, no source."""


_Record = TypeVar("_Record")


def sealed(record: _Record) -> _Record:
    """Return a record whose own arrays nobody may change: it is kept for later."""
    known: Any = record
    # Not `fields`, which makes a tuple each time.
    for name in known.__dataclass_fields__:
        seal = getattr(getattr(record, name), "setflags", None)
        if seal is not None:
            seal(write=False)
    return record


def _unknown(count: int) -> FloatArray:
    """Return so many hours of which a value is not known."""
    import numpy as np  # noqa: PLC0415 - as above

    return np.full(count, np.nan)


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """A value that holds for a whole period: a minimum, or an amount that fell."""

    start_utc: datetime
    end_utc: datetime
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Hourly values on one grid, the first at `first_utc`; shape (hours,), NaN missing.

    Attributes
    ----------
    air_c, dewpoint_c : ndarray
        Air temperature and dew point at 2 m. [degC]
    wind_mps : ndarray
        Wind at 10 m. [m/s]
    wind_from_deg : ndarray
        Where it comes from, clockwise from north. [deg] All NaN where unknown.
    spread_c : ndarray
        The source's own standard error of the air temperature. [degC] All NaN where it
        gives none.
    aloft_delta_c : ndarray
        Air some 80 m up less air at 2 m: an inversion is positive. [degC] All NaN where
        unknown.
    cloud_pct : ndarray
        Total cloud. [%]
    shutting_cloud_pct : ndarray
        Cloud that shuts the sky: low and middle cloud, or all that is opaque. [%] All
        NaN where unknown.
    precipitation_probability_pct : ndarray
        Chance that some falls in the hour. [%]
    is_frost, is_wet_weather : ndarray of bool
        Whether the source's own weather text speaks of frost, or of rain or snow.
    """

    first_utc: datetime
    air_c: FloatArray
    dewpoint_c: FloatArray
    wind_mps: FloatArray
    cloud_pct: FloatArray
    shutting_cloud_pct: FloatArray
    precipitation_probability_pct: FloatArray
    is_frost: BoolArray
    is_wet_weather: BoolArray
    wind_from_deg: FloatArray = field(default_factory=lambda: _unknown(0))
    spread_c: FloatArray = field(default_factory=lambda: _unknown(0))
    aloft_delta_c: FloatArray = field(default_factory=lambda: _unknown(0))

    def __post_init__(self) -> None:
        """Refuse arrays of different lengths and a first hour without a zone."""
        for name in ("wind_from_deg", "spread_c", "aloft_delta_c"):
            if not getattr(self, name).size:
                object.__setattr__(self, name, _unknown(self.air_c.size))
        lengths = {
            array.shape
            for array in (
                self.air_c,
                self.dewpoint_c,
                self.wind_mps,
                self.wind_from_deg,
                self.spread_c,
                self.aloft_delta_c,
                self.cloud_pct,
                self.shutting_cloud_pct,
                self.precipitation_probability_pct,
                self.is_frost,
                self.is_wet_weather,
            )
        }
        if len(lengths) != 1 or self.first_utc.tzinfo is None:
            message = "hourly arrays must share one length and a first hour in UTC"
            raise ValueError(message)

    @property
    def count(self) -> int:
        """Number of hours."""
        return int(self.air_c.size)

    @property
    def end_utc(self) -> datetime:
        """End of the last hour."""
        return self.first_utc + self.count * HOUR


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ForecastRun:
    """One issue of a forecast for one grid cell.

    A run equals itself alone: what was worked out of it is kept by that.

    Attributes
    ----------
    source, source_title : str
        Name in the configuration, and the name to show and to credit.
    place : str
        The source's own name of the cell.
    updated_utc : datetime
        When the forecast itself says it was made.
    fetched_utc : datetime
        When we got it.
    elevation_m : float or None
        Mean height of the cell. [m]
    latitude, longitude : float or None
        A point inside the cell. [deg]
    hides_calm : bool
        Whether its wind never shows a calm, so that light wind counts as calm: a grid's
        is the mean of a cell. False for hours that were measured at one place alone.
    gives_minimums : bool
        Whether the source gives a minimum of its own for every night, so that one that
        is missing was lost.
    night_minimums : tuple of Period
        The source's own night minimums. [degC]
    precipitation_mm : tuple of Period
        Amounts, each for its whole period. [mm]
    notes : tuple of str
        What was left out or mended while reading, in words.
    doubts : tuple of str
        Those of the notes that speak against it.
    """

    source: str
    source_title: str
    place: str
    updated_utc: datetime
    fetched_utc: datetime
    elevation_m: float | None
    latitude: float | None
    longitude: float | None
    hours: Hours
    night_minimums: tuple[Period, ...]
    precipitation_mm: tuple[Period, ...]
    notes: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    hides_calm: bool = True
    gives_minimums: bool = False
