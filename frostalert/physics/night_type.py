"""What kind of freeze a night brings, since that decides what can work against it."""

from frostalert.model.assessment import NightKind, NightSigns
from frostalert.physics.sky import WIND_2M_PER_10M

_CALM_WEIGHT = 0.6
_WINDY_WEIGHT = 0.25
WET_CHANCE = 0.5
"""Chance of rain or snow before the low from which an evening counts as wet. [0..1]
Common practice, no source."""
_CLEARS = 0.25
"""How far the sky must be open before the low for a wet evening to clear. [0..1] Common
practice, no source."""
_COLD_DAY_C = 5.0
MOST_INVERSION_WIND_2M_MPS = 2.5
"""Wind at 2 m above which an inversion is unlikely. [m/s] FAO, Frost Protection, vol.
1, p. 160."""


def night_kind(signs: NightSigns) -> tuple[NightKind, str]:
    """Return the kind of freeze and the reason in words.

    Parameters
    ----------
    signs : NightSigns
        Wind, sky, rain and day maximum of the night.

    Returns
    -------
    tuple of NightKind and str
        The kind, and what it rests on.

    References
    ----------
    .. [1] Snyder and de Melo-Abreu, Frost Protection, vol. 1, FAO, 2005, pp. 2, 160:
       radiation frost under a clear sky, after a day above freezing, in wind that
       leaves an inversion; advection in wind, often below 0 degC by day too. The other
       limits are common practice, no source.

    Examples
    --------
    >>> signs = NightSigns(calm=1.0, open_sky=0.9, wind_mps=1.5, has_sky=True,
    ...                    evening_wet_chance=0.0, evening_high_c=14.0)
    >>> night_kind(signs)[0].value
    'radiation frost'
    """
    wind = "no wind in the forecast, calm assumed"
    if signs.wind_mps is not None:
        wind = f"wind about {signs.wind_mps:.0f} m/s at 10 m"
    sky = "no cloud in the forecast, clear sky assumed"
    if signs.has_sky:
        sky = f"sky {100 * signs.open_sky:.0f} % open"
    is_windy = (signs.wind_mps or 0.0) * WIND_2M_PER_10M > MOST_INVERSION_WIND_2M_MPS
    has_cold_day = signs.evening_high_c < 0.0
    if signs.evening_wet_chance >= WET_CHANCE:
        chance = f"{100 * signs.evening_wet_chance:.0f} % chance of rain or snow before"
        sky = f"{chance} the low, {sky}"
        if signs.open_sky >= _CLEARS:
            return NightKind.WET_THEN_CLEARING, f"{sky}, {wind}"
    if signs.calm <= _WINDY_WEIGHT or (is_windy and has_cold_day):
        day = f"afternoon high {signs.evening_high_c:.0f} degC"
        cold = "a cold day" if signs.evening_high_c < _COLD_DAY_C else "a mild day"
        return NightKind.ADVECTION, f"{wind} keeps the air mixed, after {cold} ({day})"
    is_still = signs.calm >= _CALM_WEIGHT and not is_windy
    if is_still and signs.open_sky >= _CALM_WEIGHT and not has_cold_day:
        return NightKind.RADIATION, f"{sky}, {wind}"
    if has_cold_day:
        return NightKind.MIXED, f"{sky}, {wind}, after a day that never thawed"
    return NightKind.MIXED, f"{sky}, {wind}: neither clear and calm nor well mixed"
