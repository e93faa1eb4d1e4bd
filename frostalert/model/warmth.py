"""The warmth of days, and when stages were seen: what moves buds, and how far."""

from bisect import bisect_right
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class DayAir:
    """One local day's coldest and warmest air. [degC]

    `is_measured` tells whether a thermometer of the site read it, or a forecast had it.
    """

    day: date
    low_c: float
    high_c: float
    is_measured: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """A stage that somebody saw in a block."""

    block: str
    crop: str
    stage: str
    seen: date


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneLook:
    """A sighting that somebody sent by phone, for which the file was not written.

    Attributes
    ----------
    sighting : Sighting
        What was seen.
    person : str
        Who sent it.
    file_stage, file_seen : str, date
        What the file said of the block then.
    """

    sighting: Sighting
    person: str
    file_stage: str
    file_seen: date


@dataclass(frozen=True, slots=True, kw_only=True)
class StageWarmth:
    """The warmth since a block was last looked at, and what its next stages took.

    Attributes
    ----------
    days : tuple of date
        Days since then, in order, forecast ones included.
    sums_cd : tuple of float
        Warmth to the end of each, without days of which nothing is known. [degC d]
    needs_cd : tuple of float
        Warmth from the stage seen to each of the following ones. [degC d]
    is_own : bool
        Whether the needs come from this site's own past years.
    is_whole : bool
        Whether every day since then is known.
    warm_days : tuple of date
        Days since then that reached the warm day's high, in order.
    """

    days: tuple[date, ...]
    sums_cd: tuple[float, ...]
    needs_cd: tuple[float, ...]
    is_own: bool
    is_whole: bool
    warm_days: tuple[date, ...] = ()

    def sum_on(self, night: date) -> float:
        """Warmth to the evening of a night. [degC d]"""
        place = bisect_right(self.days, night)
        return self.sums_cd[place - 1] if place else 0.0

    def steps_on(self, night: date) -> int:
        """How many stages further the buds may be by then."""
        return bisect_right(self.needs_cd, self.sum_on(night))

    def warm_until(self, night: date) -> int:
        """How many warm days there are to the evening of a night."""
        return bisect_right(self.warm_days, night)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spring:
    """When a crop may wake this year, by the weather that is known.

    Attributes
    ----------
    counts_from : date
        Midwinter: 1 January, 1 July in the south.
    wakes : date
        Day from which no block of it counts as dormant unless somebody looked.
    first_on : date or None
        Day on which the table's first stage may be reached. None if not yet.
    published_on : date or None
        Day on which the stage with the published degree-days may be reached.
    since_first : StageWarmth or None
        Warmth since the first stage.
    """

    counts_from: date
    wakes: date
    first_on: date | None
    published_on: date | None
    since_first: StageWarmth | None
