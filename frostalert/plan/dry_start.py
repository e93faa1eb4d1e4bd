"""When dry buds may be wetted, and when water starts where humidity is not known.

Unknown air is not mild: it counts as the driest that a published table knows.
"""

from datetime import datetime

import numpy as np

from frostalert.model.forecast import FloatArray
from frostalert.physics.bud import ORGAN_SIZE_M, dry_deficit_c, wet_bud_c
from frostalert.physics.humidity import ice_bulb_c, wet_bulb_c
from frostalert.plan.block_case import BlockAtRisk

HELD_ABOVE_ALARM_C = 0.5
"""How far above the alarm temperature water must hold a bud. [degC] Common practice,
no source."""
DRIEST_DEWPOINT_C, DRIEST_START_C = -8.3, 4.4
"""The driest row of a table to start water by: its dew point, and its air. [degC]
Ontario Ministry of Agriculture (Fisher and Shortt), Irrigation for Frost Protection of
Strawberries, rev. 2022."""


def latest_dry_start(case: BlockAtRisk) -> datetime | None:
    """Return the last hour at which dry buds may be wetted; None for any."""
    limit_c = case.threshold.alarm_c + HELD_ABOVE_ALARM_C
    below = np.flatnonzero(_wetted_c(case) < limit_c)
    return case.hours.moment(int(below[0])) if below.size else None


def driest_start(case: BlockAtRisk) -> tuple[datetime, float]:
    """Return when water runs where humidity is not known, and at which reading.

    Returns
    -------
    (datetime, float)
        The hour, never after that of the harm, and the air. [degC]
    """
    cold = np.flatnonzero(case.hours.air_c <= DRIEST_START_C)
    if not cold.size:
        return case.start_utc, DRIEST_START_C
    return min(case.start_utc, case.hours.moment(int(cold[0]))), DRIEST_START_C


def no_warmer_wet_bulb_c(case: BlockAtRisk) -> FloatArray:
    """Return the wet bulb; where humidity is missing, that of the driest air. [degC]"""
    known_c = case.hours.wet_bulb_c
    if not np.isnan(known_c).any():
        return known_c
    return np.where(np.isnan(known_c), _bulbs_c(case)[0], known_c)


def _wetted_c(case: BlockAtRisk) -> FloatArray:
    """Return the temperature of wetted buds; unknown air counts as dry. [degC]"""
    hours = case.hours
    if not np.isnan(hours.wet_c).any():
        return hours.wet_c
    deficit_c = dry_deficit_c(
        hours.air_c,
        _driest_dewpoint_c(case),
        hours.wind_2m_mps,
        hours.sky,
        ORGAN_SIZE_M[case.organ],
    )
    return np.where(
        np.isnan(hours.wet_c), wet_bud_c(*_bulbs_c(case), deficit_c), hours.wet_c
    )


def _bulbs_c(case: BlockAtRisk) -> tuple[FloatArray, FloatArray]:
    """Return the wet bulb and the ice bulb in the driest air. [degC]"""
    air_c, dew_c = case.hours.air_c, _driest_dewpoint_c(case)
    return (
        wet_bulb_c(air_c, dew_c, case.pressure_hpa),
        ice_bulb_c(air_c, dew_c, case.pressure_hpa),
    )


def _driest_dewpoint_c(case: BlockAtRisk) -> FloatArray:
    """Return the dew point of the driest air, never above the air itself. [degC]"""
    return np.minimum(case.hours.air_c, DRIEST_DEWPOINT_C)
