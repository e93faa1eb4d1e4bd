"""The columns of blocks' nights: how they are made, cut and read as plain values.

Apart from the records, which commands that judge no night load without numpy.
"""

from collections.abc import Iterable
from dataclasses import fields, replace
from datetime import UTC, datetime
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frostalert.model.block_values import (
    BlockNightColumns,
    BlockNightValues,
    BudColumns,
    BudLow,
    BudNight,
    TimeArray,
)

_BUDS = ("dry", "wet")
"""The columns that are records of columns."""


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


def plain_values(column: NDArray[Any]) -> list[Any]:
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
