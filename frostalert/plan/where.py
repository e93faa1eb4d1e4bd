"""On which side heat goes: the side that the air comes from, and when that turns."""

import numpy as np

from frostalert.model.equipment import Compass, compass_of
from frostalert.model.forecast import FloatArray
from frostalert.model.heat_side import HeatPlacement, HeatSide
from frostalert.model.site import Site
from frostalert.physics.sky import HIDDEN_CALM_MPS, WIND_2M_PER_10M
from frostalert.plan.block_case import BlockAtRisk, CaseHours

_CALM_2M_MPS = WIND_2M_PER_10M * HIDDEN_CALM_MPS
_TURN_DEG = 60.0


def where_heat_goes(site: Site, cases: list[BlockAtRisk]) -> HeatPlacement:
    """Return on which side of what is to be saved heat belongs.

    References
    ----------
    .. [1] Common practice, no source.
    """
    hours = cases[0].hours
    running = hours.between(
        min(case.start_utc for case in cases), max(case.end_utc for case in cases)
    )
    places = np.flatnonzero(running)
    sides = [_side(site, hours, int(place)) for place in places]
    first, why = sides[0]
    turn = next(
        (n for n, (side, _) in enumerate(sides) if _is_turned(first, side)), None
    )
    order = sorted(cases, key=lambda case: case.bud_low_c - case.threshold.alarm_c)
    return HeatPlacement(
        side=first,
        why=why,
        turns_utc=None if turn is None else hours.moment(int(places[turn])),
        turns_to=None if turn is None else sides[turn][0],
        coldest_first=tuple(case.block.name for case in order),
    )


def _side(site: Site, hours: CaseHours, place: int) -> tuple[Compass | None, HeatSide]:
    """Return the side that the air comes from in one hour, and how that is known."""
    wind = float(hours.wind_2m_mps[place])
    if not wind > _CALM_2M_MPS:
        if site.drift_from is not None:
            return site.drift_from, HeatSide.MEASURED
        if site.uphill is not None:
            return site.uphill, HeatSide.UPHILL
    direction = _known(hours.wind_from_deg, place)
    if direction is None:
        return None, HeatSide.UNKNOWN
    return compass_of(direction), HeatSide.UPWIND


def _known(values: FloatArray, place: int) -> float | None:
    """Return a value unless it is missing."""
    value = float(values[place])
    return value if np.isfinite(value) else None


def _is_turned(first: Compass | None, later: Compass | None) -> bool:
    """Return whether heat must be moved."""
    if first is None or later is None:
        return False
    sides = list(Compass)
    step = 360.0 / len(sides)
    apart = abs(sides.index(first) - sides.index(later)) * step
    return min(apart, 360.0 - apart) > _TURN_DEG
