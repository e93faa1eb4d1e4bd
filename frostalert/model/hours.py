"""Hours as they are judged: what a site's blocks share, and each block's own."""

from dataclasses import dataclass
from datetime import date, datetime

from frostalert.model.assessment import LowFrom, NightKind, NightSigns
from frostalert.model.forecast import FloatArray, ForecastRun


@dataclass(frozen=True, slots=True)
class NightWindow:
    """From local noon to the next local noon."""

    night: date
    start_utc: datetime
    end_utc: datetime


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SiteNight:
    """What all blocks share about one night; as with its hours, it equals itself alone.

    Attributes
    ----------
    hours : slice
        The night's hours on the grid, the closing noon included.
    own_hours : slice
        The same without the closing noon, which is the next night's.
    coming : slice
        The hours to come, the running one and the closing noon included.
    judged : slice
        The hours that the night is judged by: those to come, and those gone by since it
        began to cool, for the harm that was done then is not undone.
    source_low_c : float or None
        The low of the hours to come as the source has it, before any correction of
        ours; None without a single hour and without a minimum of its own. [degC]
    low_from : LowFrom or None
        Which of the source's values that was.
    minimum_c : float or None
        The source's own minimum for hours to come; None where it gives none. [degC]
    past_low_c : float or None
        The source's low of the hours gone by since it began to cool. [degC]
    low_c : float or None
        The low to come after what this site has taught and read. [degC]
    """

    window: NightWindow
    sunset_utc: datetime | None
    sunrise_utc: datetime | None
    hours: slice
    own_hours: slice
    coming: slice
    judged: slice
    source_low_c: float | None
    low_from: LowFrom | None
    minimum_c: float | None
    past_low_c: float | None
    low_c: float | None
    kind: NightKind | None
    kind_reason: str
    signs: NightSigns | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SiteHours:
    """Hourly values that all blocks share, every correction of the site counted in.

    They equal themselves alone: what was worked out of them is kept by that.

    Attributes
    ----------
    run : ForecastRun
        The forecast as it came; no correction changes it.
    air_c, dewpoint_c : ndarray
        The site's air and dew point. [degC] Shape (hours,).
    bud_wind_mps : ndarray
        Wind at 2 m that carries heat to buds. [m/s]
    dark : ndarray
        How far each hour counts as night, 0 to 1.
    sky : ndarray
        How far the sky is open, by night only, 0 to 1.
    weight : ndarray
        Clear-and-calm weight, by night only, 0 to 1.
    wet_weather : ndarray
        Chance of rain or snow in each hour, 0 to 1.
    pressure_hpa : float
        Pressure at the site. [hPa]
    """

    run: ForecastRun
    air_c: FloatArray
    dewpoint_c: FloatArray
    bud_wind_mps: FloatArray
    dark: FloatArray
    sky: FloatArray
    weight: FloatArray
    wet_weather: FloatArray
    pressure_hpa: float
    nights: tuple[SiteNight, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockHours:
    """Hourly values of each block; every array has the shape (blocks, hours).

    They equal themselves alone: what was worked out of them is kept by that.

    Attributes
    ----------
    air_c, dewpoint_c, wet_bulb_c : ndarray
        Among the plants. [degC]
    ice_bulb_c : ndarray
        Over ice, where there can be any. [degC]
    deficit_c : ndarray
        How far dry tissue is below the air before dew forms. [degC]
    dry_c, wet_c : ndarray
        Buds dry and buds wet. [degC]
    wet_probability : ndarray
        Chance that buds are wet, from rain, snow or dew, 0 to 1.
    """

    air_c: FloatArray
    dewpoint_c: FloatArray
    wet_bulb_c: FloatArray
    ice_bulb_c: FloatArray
    deficit_c: FloatArray
    dry_c: FloatArray
    wet_c: FloatArray
    wet_probability: FloatArray
