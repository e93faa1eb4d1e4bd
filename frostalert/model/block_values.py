"""The numbers of a block's night: columns while they are measured, values after that.

One record for both, so that a number has one name and one home: as columns each field
holds an array with one value an item (NaN, or NaT, where there is none); as values it
holds what one block has on one night (None where there is none).
"""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime
from functools import cache
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
_BUDS = ("dry", "wet")
"""The columns that are records of columns."""
BudLow = BudNight[float, float | None, datetime, datetime | None]
MeasuredNight = BlockNightValues[
    BudLow | None, float, float | None, datetime | None, bool
]


def as_moment(moment_utc: datetime | None) -> np.datetime64:
    """Return a moment as columns hold it, NaT for none."""
    if moment_utc is None:
        return np.datetime64("NaT", "us")
    return np.datetime64(moment_utc.astimezone(UTC).replace(tzinfo=None), "us")


def as_moments(moments_utc: Iterable[datetime | None]) -> TimeArray:
    """Return moments as a column."""
    return np.array([as_moment(moment) for moment in moments_utc], "datetime64[us]")


def deciding_bud(columns: BlockNightColumns) -> BudColumns:
    """Return the bud that decides in each item."""
    return BudNight(
        **{
            name: np.where(
                columns.is_wet, getattr(columns.wet, name), getattr(columns.dry, name)
            )
            for name in _names(BudNight)
        }
    )


def part_of(columns: BlockNightColumns, part: slice) -> BlockNightColumns:
    """Return some of the items."""
    buds = {name: part_of_buds(getattr(columns, name), part) for name in _BUDS}
    return replace(_cut(columns, BlockNightValues, part, but=_BUDS), **buds)


def part_of_buds(columns: BudColumns, part: slice) -> BudColumns:
    """Return the buds of some of the items."""
    cut: BudColumns = _cut(columns, BudNight, part)
    return cut


def _cut(record: Any, kind: type, part: slice, but: tuple[str, ...] = ()) -> Any:
    """Return a record with some of the items of its columns."""
    return replace(
        record,
        **{
            name: getattr(record, name)[part]
            for name in _names(kind)
            if name not in but
        },
    )


def rows_of(columns: BlockNightColumns) -> list[dict[str, Any]]:
    """Return the columns item by item, as the fields of a `MeasuredNight`.

    Plain values are read many times faster one by one than arrays are.
    """
    names = _names(BlockNightValues)
    lists = [_plain(getattr(columns, name)) for name in names]
    return [dict(zip(names, row, strict=True)) for row in zip(*lists, strict=True)]


def _plain(column: Any) -> list[Any]:
    """Return a column as plain values, what is missing as None."""
    return _buds(column) if isinstance(column, BudNight) else plain_values(column)


def plain_values(column: "NDArray[Any]") -> list[Any]:
    """Return an array as plain values, what is missing as None."""
    if column.dtype.kind == "M":
        return [
            None if value is None else value.replace(tzinfo=UTC)
            for value in column.tolist()
        ]
    # Only NaN differs from itself.
    return [None if value != value else value for value in column.tolist()]  # noqa: PLR0124


def value_at(column: NDArray[Any], item: int) -> Any:
    """Return one item's value of a column as a plain one, None where it is missing."""
    return plain_values(column[item : item + 1])[0]


def _buds(columns: BudColumns) -> list[BudLow | None]:
    """Return buds one by one; None for one that has no low."""
    names = _names(BudNight)
    lists = [_plain(getattr(columns, name)) for name in names]
    return [
        None if row[0] is None else BudNight(**dict(zip(names, row, strict=True)))
        for row in zip(*lists, strict=True)
    ]


@cache
def _names(kind: type) -> tuple[str, ...]:
    """Return the names of a record's fields."""
    return tuple(field.name for field in fields(kind))
