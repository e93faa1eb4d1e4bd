"""What a method gains here, by a thermometer beside it and one in the open air."""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np

from frostalert.model.learned import GainNight
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Farm

COLD_C = 3.0
"""Open air above which nothing is protected, so that nothing is measured. [degC] Common
practice, no source."""
ENOUGH_NIGHTS = 3
"""Nights from which a measured gain is used. [1] Common practice, no source."""
_TOGETHER = timedelta(minutes=15)
_LEAST_PAIRS = 6


def night_gains(
    farm: Farm,
    readings: Sequence[Reading],
    night: date,
    start_utc: datetime,
    end_utc: datetime,
    *,
    in_use: frozenset[tuple[str, str]],
) -> list[GainNight]:
    """Return what each equipment gained in one night.

    References
    ----------
    .. [1] Common practice, no source: some degrees close to a small fire.
    """
    found = []
    for sensor in farm.sensors:
        if (sensor.equipment, sensor.block) not in in_use or not sensor.equipment:
            continue
        beside = _open_air(farm, sensor)
        if beside is None:
            continue
        deltas = _deltas(
            _of(readings, sensor.name, start_utc, end_utc),
            _of(readings, beside.name, start_utc, end_utc),
        )
        if len(deltas) >= _LEAST_PAIRS:
            found.append(
                GainNight(
                    equipment=sensor.equipment,
                    night=night,
                    delta_c=float(np.median(deltas)),
                )
            )
    return found


def with_measured_gains(farm: Farm, nights: Sequence[GainNight]) -> Farm:
    """Return the holding with the gains that were measured here."""
    equipment = []
    for item in farm.equipment:
        own = [n.delta_c for n in nights if n.equipment == item.name]
        is_told = item.gain_delta_c is not None and item.is_measured
        if len(own) < ENOUGH_NIGHTS or is_told:
            equipment.append(item)
            continue
        gain = max(0.0, float(np.quantile(own, 0.25)))
        equipment.append(
            replace(item, gain_delta_c=gain, is_measured=True, gain_nights=len(own))
        )
    return replace(farm, equipment=tuple(equipment))


def _open_air(farm: Farm, sensor: Sensor) -> Sensor | None:
    """Return the untreated sensor of the same block: other places differ anyway."""
    usable = [
        item
        for item in farm.sensors
        if not item.is_treated and item.kind is not SensorKind.EXPOSED
    ]
    near = [item for item in usable if item.block == sensor.block]
    return next(iter(near), None)


def _of(
    readings: Sequence[Reading], name: str, start: datetime, end: datetime
) -> list[Reading]:
    """Return one sensor's believed readings of the night, in order."""
    own = [
        item
        for item in readings
        if item.sensor == name and item.problem is None and start <= item.at_utc <= end
    ]
    return sorted(own, key=lambda item: item.at_utc)


def _deltas(treated: list[Reading], beside: list[Reading]) -> list[float]:
    """Return the differences of readings that belong together, in the cold. [degC]"""
    times = [item.at_utc for item in beside]
    deltas = []
    for item in treated:
        place = bisect_left(times, item.at_utc)
        near = min(
            beside[max(0, place - 1) : place + 1],
            key=lambda other: abs(other.at_utc - item.at_utc),
            default=None,
        )
        if near is None or abs(near.at_utc - item.at_utc) > _TOGETHER:
            continue
        if near.air_c <= COLD_C:
            deltas.append(item.air_c - near.air_c)
    return deltas
