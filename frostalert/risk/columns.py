"""All numbers of all blocks on all nights, side by side."""

from dataclasses import dataclass

from frostalert.model.forecast import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class BudColumns:
    """Lows of dry or of wet buds, one value an item; NaN where there is none.

    Attributes
    ----------
    low_c : ndarray
        Coldest mean over the exposure time. [degC]
    low_h, first_h, last_h, over_h : ndarray
        Hours on the grid: of the low, first and last at or below the alarm
        temperature, and the end of the cold. [h]
    hours_alarm, hours_t10, hours_t90 : ndarray
        Time at or below those temperatures. [h]
    """

    low_c: FloatArray
    low_h: FloatArray
    first_h: FloatArray
    last_h: FloatArray
    over_h: FloatArray
    hours_alarm: FloatArray
    hours_t10: FloatArray
    hours_t90: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """All numbers of all items, one value an item; NaN where there is none.

    They equal themselves alone: what was worked out of them is kept by that.

    Attributes
    ----------
    site_low_c, dewpoint_at_low_c, wet_bulb_low_c : ndarray
        Lows among the plants. [degC]
    wet_bulb_low_h, thaw_h : ndarray
        Hour of the lowest wet bulb, and of its last rise above 0 degC. [h]
    wet_probability : ndarray
        Chance that buds are wet when the air is coldest, 0 to 1.
    is_wet : ndarray of bool
        Whether the wet bud decides.
    sigma_c : ndarray
        Error of the deciding low. [degC]
    probability, probability_below_t10 : ndarray
        Chance that it reaches the alarm temperature, and T10, 0 to 1.
    kill_dry_pct, kill_wet_pct, expected_kill_pct : ndarray
        Share killed at the dry and the wet low, and its mean over the error. [%]
    left_before_pct : ndarray
        Share of the season's buds left before the night. [%]
    crop_loss_pct : ndarray
        Mean share of a full crop lost. [%]
    start_air_c : ndarray
        Air temperature at which water must start. [degC]
    water_start_h : ndarray
        Hour after sunset at which the wet bulb falls to the start of watering, where
        water is expected to be put on. [h]
    """

    dry: BudColumns
    wet: BudColumns
    site_low_c: FloatArray
    dewpoint_at_low_c: FloatArray
    wet_bulb_low_c: FloatArray
    wet_bulb_low_h: FloatArray
    thaw_h: FloatArray
    wet_probability: FloatArray
    is_wet: BoolArray
    sigma_c: FloatArray
    probability: FloatArray
    probability_below_t10: FloatArray
    kill_dry_pct: FloatArray
    kill_wet_pct: FloatArray
    expected_kill_pct: FloatArray
    left_before_pct: FloatArray
    crop_loss_pct: FloatArray
    start_air_c: FloatArray
    water_start_h: FloatArray
