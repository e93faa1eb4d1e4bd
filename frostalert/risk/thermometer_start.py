"""A block whose start waits for its own thermometer, and when that is to be trusted.

The forecast's hour is the rule. On a clear calm night a thermometer in the block's
coldest place knows better, as long as it is known to be right and goes on reading: so
each condition that lapses gives the start back to the forecast. It only ever holds a
call back; nobody is told later to get ready, and a likely harm is called all the same.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

import numpy as np

from frostalert.model.assessment import NightKind
from frostalert.model.forecast import HOUR, FloatArray
from frostalert.model.hours import SiteHours, SiteNight
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Block, Farm, StartBy
from frostalert.risk.nowcast import AirAt, Nowcast, nowcast_in, sunset_air_c, value_at
from frostalert.risk.readings import shelter_c

MOST_LEAD = timedelta(hours=2)
"""Set-up and notice beyond which the forecast's hour must do. Common practice, no
source."""
SILENT = timedelta(minutes=20)
"""After so long without a reading a thermometer is silent, or after 2.5 of its
intervals. Common practice, no source."""
_INTERVALS = 2.5
_STUCK = timedelta(hours=1)
_STUCK_READINGS = 3
_WARMER_C, _COLDER_C = 1.5, 3.0
"""Most that it may be beside what is expected at sunset. [degC] Common practice, no
source."""
_SEASON = timedelta(days=300)


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermometerStart:
    """What a block's own thermometer says of its start.

    Attributes
    ----------
    sensor : str
        Its thermometer; empty without one.
    lapsed : str
        Why the forecast's hour counts instead; empty while the thermometer does.
    night : date or None
        The night that it speaks of.
    read_utc, read_c : datetime, float or None
        Its newest reading. [degC]
    curve : Nowcast or None
        How the air falls from there.
    """

    sensor: str = ""
    lapsed: str = ""
    night: date | None = None
    read_utc: datetime | None = None
    read_c: float | None = None
    curve: Nowcast | None = None

    def air_at_c(self, moment_utc: datetime) -> float | None:
        """Return what it will read at a moment to come. [degC]"""
        if self.curve is None or self.read_utc is None:
            return None
        ahead_h = max(0.0, (moment_utc - self.read_utc) / HOUR)
        ahead = np.array([min(ahead_h, self.curve.ahead_h)])
        return float(self.curve.air_after_c(ahead)[0])


def thermometer_starts(
    shared: SiteHours, farm: Farm, readings: Sequence[Reading], now_utc: datetime
) -> dict[str, ThermometerStart]:
    """Return what each block's thermometer says of its start, where it asks for that.

    Parameters
    ----------
    shared : SiteHours
        The site's hours, before any reading lowered them.
    farm : Farm
        Blocks, sensors, rules and what was checked this season.
    readings : sequence of Reading
        What was read, the oldest first.
    now_utc : datetime
        The present moment.

    Returns
    -------
    dict of str to ThermometerStart
        By name of the block.
    """
    return {
        block.name: _start_of(block, shared, farm, readings, now_utc)
        for block in farm.blocks
        if block.start_by is StartBy.THERMOMETER
    }


def _start_of(
    block: Block,
    shared: SiteHours,
    farm: Farm,
    readings: Sequence[Reading],
    now_utc: datetime,
) -> ThermometerStart:
    """Return what one block's thermometer says."""
    sensor = next((s for s in farm.sensors if _is_in(s, block)), None)
    if sensor is None:
        return ThermometerStart(lapsed="no thermometer hangs in it")
    own = [r for r in readings if r.sensor == sensor.name and r.problem is None]
    own = [r for r in own if r.at_utc <= now_utc]
    night = _night_of(shared, now_utc)
    lapsed = (
        _unprepared(farm, now_utc)
        or _not_such_a_night(night)
        or _not_heard(own, now_utc)
    )
    if lapsed or night is None:
        return ThermometerStart(sensor=sensor.name, lapsed=lapsed)
    offset = shelter_c(shared, farm, sensor)
    lapsed = _not_right(own, shared, night, offset)
    newest = own[-1]
    # The curve is that of the thermometer's own air: no offset comes into it.
    at = AirAt(at_utc=newest.at_utc, air_c=newest.air_c)
    curve = nowcast_in(shared, at, [AirAt(at_utc=r.at_utc, air_c=r.air_c) for r in own])
    if not lapsed and curve is None:
        lapsed = "the sun has not set, or the dew point is not known"
    return ThermometerStart(
        sensor=sensor.name,
        lapsed=lapsed,
        night=night.window.night,
        read_utc=newest.at_utc,
        read_c=newest.air_c,
        curve=curve,
    )


def _is_in(sensor: Sensor, block: Block) -> bool:
    """Return whether a sheltered thermometer hangs in a block's open air."""
    is_air = sensor.kind is SensorKind.SHELTERED and not sensor.is_treated
    return is_air and sensor.block == block.name


def _night_of(shared: SiteHours, now_utc: datetime) -> SiteNight | None:
    """Return the night that a moment lies in."""
    return next(
        (
            night
            for night in shared.nights
            if night.window.start_utc <= now_utc < night.window.end_utc
        ),
        None,
    )


def _unprepared(farm: Farm, now_utc: datetime) -> str:
    """Return what was not seen to before the night."""
    checked = farm.readiness.thermometers_checked
    if checked is None or now_utc.date() - checked > _SEASON:
        return "thermometers were not checked in ice water this season"
    if farm.rules.set_up + farm.rules.notice > MOST_LEAD:
        return "set-up and notice take more than 2 h"
    return ""


def _not_such_a_night(night: SiteNight | None) -> str:
    """Return why the night is none on which air falls by itself."""
    if night is None or night.kind is not NightKind.RADIATION:
        return "the night is not clear and calm"
    return ""


def _not_heard(own: Sequence[Reading], now_utc: datetime) -> str:
    """Return whether a thermometer is silent or stuck."""
    if not own:
        return "nothing was read of it"
    apart = [later.at_utc - first.at_utc for first, later in pairwise(own)]
    usual = sorted(apart)[len(apart) // 2] if apart else timedelta(0)
    if now_utc - own[-1].at_utc > max(SILENT, _INTERVALS * usual):
        return "it is silent"
    last = [r for r in own if own[-1].at_utc - r.at_utc <= _STUCK]
    spans = own[-1].at_utc - last[0].at_utc >= 0.8 * _STUCK
    if len(last) >= _STUCK_READINGS and spans and len({r.air_c for r in last}) == 1:
        return "it has not moved for an hour"
    return ""


def _not_right(
    own: Sequence[Reading], shared: SiteHours, night: SiteNight, offset: FloatArray
) -> str:
    """Return whether it read at sunset what was expected there."""
    assert night.sunset_utc is not None  # noqa: S101 - a clear night has its sunset
    read = sunset_air_c(
        [AirAt(at_utc=r.at_utc, air_c=r.air_c) for r in own], night.sunset_utc
    )
    place = (night.sunset_utc - shared.run.hours.first_utc) / HOUR
    expected = value_at(shared.air_c + offset, place)
    if read is None or expected is None:
        return "it was not read at sunset"
    if read - expected > _WARMER_C:
        return "at sunset it read warmer than the forecast allows"
    if expected - read > _COLDER_C:
        return "at sunset it read far colder than the forecast"
    return ""
