"""The numbers of a block's night: columns while they are measured, values after that.

One record for both, so that a number has one name and one home: as columns each field
holds an array with one value an item (NaN, or NaT, where there is none); as values it
holds what one block has on one night (None where there is none).
"""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from frostalert.model.forecast import BoolArray, FloatArray

# As with the kinds of arrays there.
if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    TimeArray = NDArray[np.datetime64]
else:
    TimeArray = Any
Number = TypeVar("Number")
"""What is there whenever the record is."""
Maybe = TypeVar("Maybe")
"""What may be missing."""
Moment = TypeVar("Moment")
MaybeMoment = TypeVar("MaybeMoment")
Bud = TypeVar("Bud")
Flag = TypeVar("Flag")


@dataclass(frozen=True, slots=True, kw_only=True)
class BudNight(Generic[Number, Maybe, Moment, MaybeMoment]):
    """Where the temperature of dry or of wet buds goes against what hurts them.

    Attributes
    ----------
    low_c : number
        Coldest mean over the table's exposure time, as a rule 30 minutes, of the hours
        to come. [degC]
    low_utc : moment
        Middle of that time.
    night_low_c, night_low_utc : number, moment
        The same with the hours gone by since it began to cool. [degC]
    first_below_utc, last_below_utc : moment
        First and last crossing of the alarm temperature in the night; missing if it
        stays above. The first may have gone by.
    over_utc : moment
        When the cold is over.
    hours_below : number
        Hours at or below the alarm temperature. [h]
    hours_below_t10, hours_below_t90 : number
        The same for T10 and T90, where they are published. [h]
    """

    low_c: Number
    low_utc: Moment
    night_low_c: Number
    night_low_utc: Moment
    first_below_utc: MaybeMoment
    last_below_utc: MaybeMoment
    over_utc: Moment
    hours_below: Number
    hours_below_t10: Maybe
    hours_below_t90: Maybe


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockNightValues(Generic[Bud, Number, Maybe, MaybeMoment, Flag]):
    """All that is measured of a block's night.

    Attributes
    ----------
    dry, wet : BudNight
        Buds dry and buds wet; `wet` is missing where humidity is.
    is_wet : bool
        Whether the wet bud decides.
    site_low_c : number
        The block's lowest air to come after every correction. [degC]
    dewpoint_at_low_c, wet_bulb_at_low_c : number
        At the hour of that low. [degC]
    wet_bulb_low_c : number
        The lowest to come, whatever its hour. [degC]
    past_low_c, past_low_utc : number, moment
        The block's lowest air of the hours gone by since it began to cool, and its
        hour; missing before. [degC]
    wet_bulb_above_zero_utc : moment
        When the wet bulb is forecast to rise above 0 degC for good; missing if it never
        falls below, or stays below as far as the night is known.
    air_above_zero_utc : moment
        The same for the air, which heat goes out by.
    wet_probability : number
        Chance that buds are wet when the night is coldest. [0..1]
    low_sigma_c, sigma_c : number
        Standard error of the deciding low, and that against its threshold, which is not
        exact either. [degC]
    probability : number
        Chance that the deciding low to come reaches the alarm temperature. [0..1]
    night_probability : number
        The same for the night's, hours gone by since it began to cool included: it
        holds the tier until the cold is over. [0..1]
    probability_below_t10 : number
        Chance that it reaches T10, where the crop has one. [0..1]
    expected_kill_pct, kill_dry_pct, kill_wet_pct : number
        Share of buds killed: mean over the error, and at the dry and wet lows. [%]
    left_before_pct : number
        Share of the season's buds left before this night. [%]
    crop_loss_pct : number
        Expected loss of crop from this night, by the share of blossoms that a full crop
        needs. [%] Missing where no such share, or no curve, is published.
    start_air_c : number
        Air temperature at which the wet bulb reaches the start of watering, at the dew
        point of the low. [degC] Missing where no water is planned.
    water_start_utc : moment
        When the wet bulb is forecast to fall to the start of watering, between sunset
        and the first hour of harm. Missing where no water is expected to be put on.
    """

    dry: Bud
    wet: Bud
    is_wet: Flag
    site_low_c: Maybe
    dewpoint_at_low_c: Maybe
    wet_bulb_at_low_c: Maybe
    wet_bulb_low_c: Maybe
    wet_bulb_above_zero_utc: MaybeMoment
    air_above_zero_utc: MaybeMoment
    past_low_c: Maybe
    past_low_utc: MaybeMoment
    wet_probability: Maybe
    low_sigma_c: Number
    sigma_c: Number
    probability: Maybe
    night_probability: Maybe
    probability_below_t10: Maybe
    expected_kill_pct: Maybe
    kill_dry_pct: Maybe
    kill_wet_pct: Maybe
    left_before_pct: Maybe
    crop_loss_pct: Maybe
    start_air_c: Maybe
    water_start_utc: MaybeMoment


BudColumns = BudNight[FloatArray, FloatArray, TimeArray, TimeArray]
BlockNightColumns = BlockNightValues[
    BudColumns, FloatArray, FloatArray, TimeArray, BoolArray
]
BudLow = BudNight[float, float | None, datetime, datetime | None]
MeasuredNight = BlockNightValues[
    BudLow | None, float, float | None, datetime | None, bool
]
