"""When work must start if the source that turns cold first is right.

The low is judged by all sources together; the hour to start is not: whoever waits for
the mean of two hours is late for the earlier.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from frostalert.model.assessment import StageInForce
from frostalert.model.block_values import rows_of
from frostalert.model.crop import Organ
from frostalert.model.site import Farm
from frostalert.risk.block_hours import derive_block_hours
from frostalert.risk.coverage import night_coverage
from frostalert.risk.measure import BlockNightKey, NightContext, measure
from frostalert.risk.members import Member, site_lows
from frostalert.risk.uncertainty import UNUSABLE

ADVERSE_PROBABILITY = 0.2
"""Chance of harm by one source alone from which its hour to start counts. [0..1] Common
practice, no source."""

Place = tuple[date, int]
"""A night and a block's place among the blocks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberStart:
    """When one source alone would have protection running in a block.

    Attributes
    ----------
    probability : float
        Chance of harm by that source alone. [0..1]
    low_c : float
        Its bud low. [degC]
    start_air_c : float or None
        What the thermometer reads at the start of water, by its dew point. [degC]
    """

    source: str
    running_by_utc: datetime
    probability: float
    low_c: float
    start_air_c: float | None


def adverse_starts(
    members: Sequence[Member],
    farm: Farm,
    stages: dict[date, list[StageInForce]],
    organs: tuple[Organ, ...],
    now_utc: datetime,
) -> dict[Place, MemberStart]:
    """Return the most adverse source's start for each block and night.

    Of those by which alone harm is likely enough the earliest; else the coldest one's.
    None where one source stands alone: its own hours are the only ones.
    """
    if len(members) < 2:  # noqa: PLR2004 - one alone has no other beside it
        return {}
    found: dict[Place, list[MemberStart]] = {}
    for member in members:
        for place, start in _starts_by(member, farm, stages, organs, now_utc).items():
            found.setdefault(place, []).append(start)
    return {place: _most_adverse(starts) for place, starts in found.items()}


def _most_adverse(starts: Sequence[MemberStart]) -> MemberStart:
    """Return the start that counts."""
    likely = [item for item in starts if item.probability >= ADVERSE_PROBABILITY]
    if likely:
        return min(likely, key=lambda item: item.running_by_utc)
    return min(starts, key=lambda item: item.low_c)


def _starts_by(
    member: Member,
    farm: Farm,
    stages: dict[date, list[StageInForce]],
    organs: tuple[Organ, ...],
    now_utc: datetime,
) -> dict[Place, MemberStart]:
    """Return every start by one source alone, where it knows the night."""
    shared = member.shared
    is_too_old = now_utc - shared.run.updated_utc > UNUSABLE
    hours = derive_block_hours(shared, farm.site, farm.blocks, organs)
    frames = [
        NightContext(
            shared=shared,
            night=night,
            coverage=night_coverage(shared, night, now_utc, is_too_old=is_too_old),
            now_utc=now_utc,
            rules=farm.rules,
            is_frost_forecast=False,
            site_low=low,
        )
        for night, low in zip(shared.nights, site_lows(member, (), farm), strict=True)
    ]
    items = [
        BlockNightKey(place, index, block, stage, stage.threshold)
        for place, night in enumerate(shared.nights)
        for index, (block, stage) in enumerate(
            zip(farm.blocks, stages.get(night.window.night, ()), strict=False)
        )
        if stage.threshold is not None
    ]
    if not items:
        return {}
    rows = rows_of(measure(frames, hours, items))
    starts = {}
    for item, values in zip(items, rows, strict=True):
        start = _start(shared.run.source_title, values)
        if start is not None:
            starts[shared.nights[item.night].window.night, item.index] = start
    return starts


def _start(source: str, values: dict[str, Any]) -> MemberStart | None:
    """Return one block's start; None where the source lacks its hours."""
    is_wet = values["is_wet"] and values["wet"] is not None
    bud = values["wet"] if is_wet else values["dry"]
    if bud is None or values["probability"] is None:
        return None
    return MemberStart(
        source=source,
        running_by_utc=values["water_start_utc"]
        or bud.first_below_utc
        or bud.night_low_utc,
        probability=values["probability"],
        low_c=bud.low_c,
        start_air_c=values["start_air_c"],
    )
