"""A crop's table for a cultivar that is hardier or more tender than it says."""

from dataclasses import replace
from functools import cache

from frostalert.model.crop import COLDEST_C, WARMEST_C, Crop, StageThreshold


# Kept, since rows are told by identity and looked up often.
@cache
def of_cultivar(crop: Crop, offset_delta_c: float) -> Crop:
    """Return a crop with its kill temperatures moved.

    Parameters
    ----------
    crop : Crop
        The crop.
    offset_delta_c : float
        What to add; negative is hardier. [degC] Nowhere hardier where cultivars are
        published to be alike.

    Returns
    -------
    Crop
        The same stages by the same names.

    References
    ----------
    .. [1] Penn State Extension, Orchard Frost: Critical Temperatures for Various
       Fruits: Golden Delicious and Winesap apple about 1 degF hardier than the table,
       Rome Beauty 2 degF, except after petal fall.
    """
    if not offset_delta_c:
        return crop
    return replace(
        crop,
        stages=tuple(_moved(row, offset_delta_c) for row in crop.stages),
        dormant=None if crop.dormant is None else _moved(crop.dormant, offset_delta_c),
        notes=(
            *crop.notes,
            f"Moved by {offset_delta_c:+.1f} degC for the cultivar, as configured.",
        ),
    )


def _moved(row: StageThreshold, offset_delta_c: float) -> StageThreshold:
    """Return a row with all its temperatures moved."""
    if row.is_alike and offset_delta_c < 0.0:
        return row
    return replace(
        row,
        t10_c=_plus(row.t10_c, offset_delta_c),
        t90_c=_plus(row.t90_c, offset_delta_c),
        damage_begins_c=_plus(row.damage_begins_c, offset_delta_c),
        warning_c=_plus(row.warning_c, offset_delta_c),
        aged_c=_plus(row.aged_c, offset_delta_c),
        source=f"{row.source}; moved for the cultivar",
    )


def _plus(value_c: float | None, offset_delta_c: float) -> float | None:
    """Return a temperature with the offset added, kept within what a row may say."""
    if value_c is None:
        return None
    return min(max(value_c + offset_delta_c, COLDEST_C), WARMEST_C)
