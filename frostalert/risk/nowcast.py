"""How far the air falls until sunrise on a clear calm night, from what was read of it.

One way from reading to low: the coming hours, what the site teaches of it, and the
evaluation (`tests.evaluation.nowcast`) all begin a nowcast with `begin_nowcast`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from frostalert.model.assessment import NightKind
from frostalert.model.forecast import HOUR, FloatArray
from frostalert.model.hours import SiteHours, SiteNight
from frostalert.physics.cooling import (
    FITTED,
    Cooling,
    cooling_curve_c,
    root_hours,
)

GUESSED_AFTER = timedelta(hours=2)
"""How long after sunset the guess is made that the site learns by. Common practice, no
source: FAO, Frost Protection, vol. 1, ch. 5 starts its curve there (from memory)."""
_BESIDE_SUNSET = timedelta(hours=1)
"""How far from sunset readings before and after it may lie to give its air. Common
practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirAt:
    """The site's own air at a moment, by a thermometer. [degC]"""

    at_utc: datetime
    air_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastEvening:
    """What a forecast says of a clear calm night, as far as a nowcast asks for it.

    Attributes
    ----------
    sunset_air_c : float or None
        The air at sunset, for want of a thermometer. [degC]
    dewpoint_c : float or None
        The dew point at the moment of the reading: thermometers give none. [degC]
    """

    sunset_utc: datetime
    sunrise_utc: datetime
    sunset_air_c: float | None
    dewpoint_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Nowcast:
    """A cooling curve from a reading to sunrise.

    Attributes
    ----------
    air_c, depression_c, fall_c : float
        The air that was read, its distance from the dew point, and how far it fell
        since sunset. [degC]
    since_sunset_h, ahead_h : float
        From sunset to the reading, and from there to sunrise. [h]
    has_own_sunset : bool
        Whether the thermometer gave the air at sunset, not the forecast.
    """

    air_c: float
    depression_c: float
    fall_c: float
    since_sunset_h: float
    ahead_h: float
    has_own_sunset: bool

    def air_after_c(
        self, ahead_h: FloatArray, error_c: float = 0.0, cooling: Cooling = FITTED
    ) -> FloatArray:
        """Return the air some hours after the reading. [degC]

        `error_c` is what the nowcasts of this site missed from two hours after sunset
        on, less than zero where the air fell further. [degC]
        """
        steeper = cooling.per_root_hour_c + self._per_root_hour_c(error_c)
        return cooling_curve_c(
            self.air_c,
            self.air_c - self.depression_c,
            fall_c=self.fall_c,
            since_sunset_h=self.since_sunset_h,
            ahead_h=ahead_h,
            cooling=replace(cooling, per_root_hour_c=steeper),
        )

    def _per_root_hour_c(self, error_c: float) -> float:
        """Return by how much more steeply the air falls here. [degC/sqrt(h)]

        What was missed grows as the square root of the time does: of a night that is
        half over only part of it is still to come.
        """
        guessed_h = GUESSED_AFTER / HOUR
        night_h = self.since_sunset_h + self.ahead_h
        whole = root_hours(guessed_h, night_h - guessed_h)
        # Nor more than was missed for a reading from before then.
        ahead = root_hours(self.since_sunset_h, self.ahead_h)
        return -error_c / max(float(whole), float(ahead))

    def low_c(self, error_c: float = 0.0, cooling: Cooling = FITTED) -> float:
        """Return the air at sunrise. [degC] As `air_after_c`."""
        return float(self.air_after_c(np.array([self.ahead_h]), error_c, cooling)[0])


def begin_nowcast(
    now: AirAt, readings: Sequence[AirAt], evening: ForecastEvening
) -> Nowcast | None:
    """Return the cooling curve from a reading to sunrise.

    Parameters
    ----------
    now : AirAt
        The reading, after sunset and before sunrise.
    readings : sequence of AirAt
        What the same thermometer read round sunset, the oldest first. [degC]
    evening : ForecastEvening
        What the forecast says.

    Returns
    -------
    Nowcast or None
        None where the air at sunset or the dew point is known by nobody.
    """
    own = sunset_air_c(readings, evening.sunset_utc)
    at_sunset = evening.sunset_air_c if own is None else own
    if at_sunset is None or evening.dewpoint_c is None:
        return None
    return Nowcast(
        air_c=now.air_c,
        depression_c=max(0.0, now.air_c - evening.dewpoint_c),
        fall_c=max(0.0, at_sunset - now.air_c),
        since_sunset_h=(now.at_utc - evening.sunset_utc) / HOUR,
        ahead_h=(evening.sunrise_utc - now.at_utc) / HOUR,
        has_own_sunset=own is not None,
    )


def sunset_air_c(readings: Sequence[AirAt], sunset_utc: datetime) -> float | None:
    """Return a thermometer's air at sunset, from its readings just before and after.

    Parameters
    ----------
    readings : sequence of AirAt
        What it read, the oldest first. [degC]
    sunset_utc : datetime
        Sunset.

    Returns
    -------
    float or None
        Air. [degC] None without a reading within an hour on each side.
    """
    near = [i for i in readings if abs(i.at_utc - sunset_utc) <= _BESIDE_SUNSET]
    before = [item for item in near if item.at_utc <= sunset_utc]
    after = [item for item in near if item.at_utc >= sunset_utc]
    if not before or not after:
        return None
    ends = (before[-1], after[0])
    hours = [(item.at_utc - sunset_utc) / HOUR for item in ends]
    return float(np.interp(0.0, hours, [item.air_c for item in ends]))


def nowcast_in(
    shared: SiteHours, now: AirAt, readings: Sequence[AirAt]
) -> Nowcast | None:
    """Return the cooling curve from a reading, in the night that it was read in.

    Parameters
    ----------
    shared : SiteHours
        The site's hours.
    now : AirAt
        The reading.
    readings : sequence of AirAt
        What the same thermometer read round sunset, the oldest first. [degC]

    Returns
    -------
    Nowcast or None
        None by day, and on nights that are not clear and calm.
    """
    night = night_at(shared, now.at_utc)
    if night is None or night.kind is not NightKind.RADIATION:
        return None
    assert night.sunset_utc is not None  # noqa: S101 - asked for in night_at
    assert night.sunrise_utc is not None  # noqa: S101
    first = shared.run.hours.first_utc
    evening = ForecastEvening(
        sunset_utc=night.sunset_utc,
        sunrise_utc=night.sunrise_utc,
        sunset_air_c=value_at(shared.air_c, (night.sunset_utc - first) / HOUR),
        dewpoint_c=value_at(shared.dewpoint_c, (now.at_utc - first) / HOUR),
    )
    return begin_nowcast(now, readings, evening)


def night_at(shared: SiteHours, moment_utc: datetime) -> SiteNight | None:
    """Return the night that a moment after sunset lies in."""
    for night in shared.nights:
        sunset, sunrise = night.sunset_utc, night.sunrise_utc
        if sunset is not None and sunrise is not None and sunset < moment_utc < sunrise:
            return night
    return None


def value_at(values: FloatArray, place: float) -> float | None:
    """Return a value between two hours, or none beyond the ends or in a gap."""
    if not 0.0 <= place <= values.size - 1:
        return None
    value = float(np.interp(place, np.arange(values.size), values))
    return value if np.isfinite(value) else None
