"""The measured columns taken apart: plain numbers, one record a block and night."""

from functools import lru_cache
from typing import Any, NamedTuple

from frostalert.model.forecast import BoolArray, FloatArray
from frostalert.risk.columns import BudColumns, Columns


class BudNumbers(NamedTuple):
    """One item's bud, as `BudColumns`, None where there is none."""

    low_c: float | None
    low_h: float | None
    first_h: float | None
    last_h: float | None
    over_h: float | None
    hours_alarm: float | None
    hours_t10: float | None
    hours_t90: float | None


class Numbers(NamedTuple):
    """One item's numbers, as `Columns`, None where there is none."""

    dry: BudNumbers
    wet: BudNumbers
    site_low_c: float | None
    dewpoint_at_low_c: float | None
    wet_bulb_low_c: float | None
    wet_bulb_low_h: float | None
    thaw_h: float | None
    wet_probability: float | None
    is_wet: bool
    sigma_c: float | None
    probability: float | None
    probability_below_t10: float | None
    kill_dry_pct: float | None
    kill_wet_pct: float | None
    expected_kill_pct: float | None
    left_before_pct: float | None
    crop_loss_pct: float | None
    start_air_c: float | None
    water_start_h: float | None


# Columns that were kept need not be taken apart twice.
@lru_cache(maxsize=4)
def split_columns(columns: Columns) -> tuple[Numbers, ...]:
    """Return the columns item by item, NaN as None.

    Parameters
    ----------
    columns : Columns
        The numbers of all items.

    Returns
    -------
    tuple of Numbers
        One an item.

    References
    ----------
    .. [1] Our own arrangement: plain numbers are read many times faster one by one.
    """
    lists = [_plain(getattr(columns, name)) for name in Numbers._fields]
    return tuple(Numbers._make(row) for row in zip(*lists, strict=True))


def _plain(column: FloatArray | BoolArray | BudColumns) -> list[Any]:
    """Return a column as plain values, NaN as None."""
    if isinstance(column, BudColumns):
        lists = [_plain(getattr(column, name)) for name in BudNumbers._fields]
        return [BudNumbers._make(row) for row in zip(*lists, strict=True)]
    # Only NaN differs from itself.
    return [None if value != value else value for value in column.tolist()]  # noqa: PLR0124
