"""The night's low: the hours of a forecast brought into line with its night minimum.

Hourly grids smooth the trough away. On 45 of 105 recorded nights of the US National
Weather Service the separate night minimum was colder than every hour, by up to 4 degF,
and never warmer; so the lower of the two counts and the hours around it are bent.
"""

from dataclasses import dataclass

import numpy as np

from frostalert.errors import PhysicsDomainError
from frostalert.model.assessment import LowFrom
from frostalert.model.forecast import FloatArray


@dataclass(frozen=True, slots=True)
class BentNight:
    """Hours of one night after the night minimum was taken into account.

    Attributes
    ----------
    air_c, dewpoint_c : ndarray
        Shape (hours,). [degC]
    low_c : float
        The source's low. [degC]
    low_from : LowFrom
        Which of its values that was.
    """

    air_c: FloatArray
    dewpoint_c: FloatArray
    low_c: float
    low_from: LowFrom


def bend_to_minimum(
    air_c: FloatArray,
    dewpoint_c: FloatArray,
    minimum_c: float | None,
    *,
    within: slice,
    is_windy: bool,
    open_ends: tuple[bool, bool] = (False, False),
) -> BentNight:
    """Lower a night's hours so that their trough meets the source's night minimum.

    On a calm night the trough deepens and the evening stays: each side of the trough
    is stretched downwards between its own maximum and the minimum. On a windy night
    the air is mixed and every hour is as much too warm, so all are lowered alike.

    Parameters
    ----------
    air_c, dewpoint_c : ndarray of float
        Hours of one night. [degC] Shape (hours,); NaN is kept.
    minimum_c : float or None
        The source's night minimum. [degC] None if it gives none.
    within : slice
        The hours that the minimum speaks of.
    is_windy : bool
        Whether the night is windy.
    open_ends : tuple of bool
        Whether the night's hours before the first, and after the last, are unknown.

    Returns
    -------
    BentNight
        With dew points lowered to the air where the air falls below them.

    Raises
    ------
    PhysicsDomainError
        If no hour has an air temperature.

    Notes
    -----
    With d = hourly low - minimum, T' = T - d (M - T) / (M - low), M the maximum of the
    side. Hours that are already colder than the trough are not bent further than d.

    References
    ----------
    .. [1] Derivation; the counts of recorded nights are given in the module.

    Examples
    --------
    >>> hours = np.array([10.0, 4.0, 0.0, 4.0, 10.0])
    >>> bent = bend_to_minimum(
    ...     hours, hours - 3, -1.0, within=slice(0, 5), is_windy=False
    ... )
    >>> bent.air_c.tolist(), bent.low_from.value
    ([10.0, 3.4, -1.0, 3.4, 10.0], 'night minimum')
    """
    if not np.any(np.isfinite(air_c)):
        message = "a night without any air temperature has no low"
        raise PhysicsDomainError(message)
    hourly_low_c = _lowest(air_c)
    if minimum_c is None:
        return BentNight(air_c, dewpoint_c, hourly_low_c, LowFrom.HOURS)
    from_minimum = minimum_c < hourly_low_c
    source = LowFrom.NIGHT_MINIMUM if from_minimum else LowFrom.HOURS
    if not np.any(np.isfinite(air_c[within])):
        # No hour of its own period is known: it counts, and there is nothing to bend.
        return BentNight(air_c, dewpoint_c, min(hourly_low_c, minimum_c), source)
    trough_c = _lowest(air_c[within])
    deficit_c = trough_c - minimum_c
    if deficit_c <= 0.0:
        return BentNight(air_c, dewpoint_c, hourly_low_c, LowFrom.HOURS)
    trough = within.indices(air_c.size)[0] + _index_of_lowest(air_c[within])
    if not _is_surrounded(air_c, trough, open_ends):
        # At the edge of what is known the trough may lie beyond: its shape is not.
        return BentNight(air_c, dewpoint_c, min(hourly_low_c, minimum_c), source)
    bent = air_c - deficit_c * _share(air_c, trough, is_windy=is_windy)
    dew = np.where(np.isfinite(bent), np.minimum(dewpoint_c, bent), dewpoint_c)
    return BentNight(bent, dew, min(hourly_low_c, minimum_c), source)


def _is_surrounded(air_c: FloatArray, place: int, open_ends: tuple[bool, bool]) -> bool:
    """Return whether what lies on both sides of a place is known."""
    before = not open_ends[0] if place == 0 else np.isfinite(air_c[place - 1])
    is_last = place == air_c.size - 1
    after = not open_ends[1] if is_last else np.isfinite(air_c[place + 1])
    return bool(before and after)


def _share(air_c: FloatArray, trough: int, *, is_windy: bool) -> FloatArray:
    """Return the share of the deficit that each hour takes, 0 to 1."""
    share = np.ones_like(air_c)
    if is_windy:
        return share
    for side in (slice(0, trough + 1), slice(trough, None)):
        highest_c = -_lowest(-air_c[side])
        span_c = highest_c - air_c[trough]
        if span_c > 0.0:
            share[side] = np.clip((highest_c - air_c[side]) / span_c, 0.0, 1.0)
    return share


def _lowest(values: FloatArray) -> float:
    """Return the lowest known value."""
    return float(np.min(values[np.isfinite(values)]))


def _index_of_lowest(values: FloatArray) -> int:
    """Return where the lowest known value stands."""
    return int(np.argmin(np.where(np.isfinite(values), values, np.inf)))
