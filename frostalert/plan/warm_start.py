"""When what warms must run: ahead of harm, and by which reading people tell it."""

import math
from datetime import datetime

import numpy as np

from frostalert.model.forecast import HOUR
from frostalert.model.method import Method
from frostalert.physics.start_reading import LIT_ABOVE_ALARM_C
from frostalert.plan.block_case import BlockAtRisk


def running_by(case: BlockAtRisk, method: Method) -> tuple[datetime, float]:
    """Return when a method must run by the forecast, and at which air among the buds.

    Nothing that warms brings back a bud that has frozen: it runs before the bud is at
    the alarm temperature, and as long before as its row says. The reading is for a
    night that turns out colder than the forecast.

    Parameters
    ----------
    case : BlockAtRisk
        The block's night.
    method : Method
        What warms; nothing that is laid before dark.

    Returns
    -------
    (datetime, float)
        The hour, and the air. [degC]
    """
    lit_c = case.threshold.alarm_c + LIT_ABOVE_ALARM_C
    reading_c = lit_c + _air_above_c(case, lit_c)
    moment = min(case.start_utc, _harm_utc(case) - method.ahead)
    lit_utc = _falls_to_utc(case, lit_c)
    if lit_utc is not None:
        moment = min(moment, lit_utc)
    if not method.ahead:
        return moment, reading_c
    return moment, max(reading_c, _air_at_c(case, moment))


def _harm_utc(case: BlockAtRisk) -> datetime:
    """Return when harm can begin; the hour to protect may be that of water instead."""
    if case.record.water_start_utc is None:
        return case.start_utc
    return case.record.danger_start_utc or case.start_utc


def _falls_to_utc(case: BlockAtRisk, limit_c: float) -> datetime | None:
    """Return when dry buds first fall to a limit; None if they stay above it."""
    dry_c = case.hours.dry_c
    cold = np.flatnonzero(dry_c <= limit_c)
    if not cold.size:
        return None
    place = int(cold[0])
    moment = case.hours.moment(place)
    before_c = float(dry_c[place - 1]) if place else math.nan
    if before_c > limit_c:
        fall_c = before_c - float(dry_c[place])
        moment -= (limit_c - float(dry_c[place])) / fall_c * HOUR
    return moment


def _air_above_c(case: BlockAtRisk, limit_c: float) -> float:
    """Return how much warmer air is than dry buds as they fall to a limit. [degC]

    Where they stay above it, at their coldest.
    """
    hours = case.hours
    cold = np.flatnonzero(hours.dry_c <= limit_c)
    place = int(cold[0]) if cold.size else int(np.nanargmin(hours.dry_c))
    return float(hours.air_c[place] - hours.dry_c[place])


def _air_at_c(case: BlockAtRisk, moment: datetime) -> float:
    """Return the forecast air among the buds at a moment, between its hours. [degC]"""
    known = np.flatnonzero(np.isfinite(case.hours.air_c))
    at_h = (moment - case.hours.first_utc) / HOUR
    return float(np.interp(at_h, known, case.hours.air_c[known]))
