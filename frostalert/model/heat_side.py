"""Where heat goes on a night, and why there."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from frostalert.model.equipment import Compass


class HeatSide(StrEnum):
    """Why heat goes on a side."""

    MEASURED = "the air was seen to come from there on calm nights"
    UPHILL = "on a calm night air drains down from there"
    UPWIND = "the wind comes from there"
    UNKNOWN = "it is not known where the air comes from"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatPlacement:
    """Where heat goes, and when that turns."""

    side: Compass | None
    why: HeatSide
    turns_utc: datetime | None = None
    turns_to: Compass | None = None
    coldest_first: tuple[str, ...] = ()
