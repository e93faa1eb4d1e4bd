"""Put the blocks of each night together: the site's tier and its hours."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from frostalert.model.assessment import NightAssessment, StageInForce, Tier
from frostalert.model.block_columns import as_moments, plain_values
from frostalert.model.block_values import TimeArray
from frostalert.model.forecast import FloatArray
from frostalert.model.percent import percent_of
from frostalert.model.site import Block
from frostalert.model.when_read import WhenRead
from frostalert.risk.block_night import NightBlocks, told_low_c
from frostalert.risk.items import Places
from frostalert.risk.judge import Judgement
from frostalert.risk.measure import NightContext
from frostalert.risk.tiers import RANKS, TIERS, Codes
from frostalert.risk.timing import acts_at_utc, send_by_utc

_NONE = TIERS.index(Tier.NONE)
_NAT = np.datetime64("NaT", "us")
NOTHING_WATCHED = "every block is dormant or harvested: nothing is watched"


def night_records(
    frames: Sequence[NightContext],
    blocks: Sequence[Block],
    stages: Sequence[Sequence[StageInForce]],
    judged: Judgement,
) -> tuple[NightAssessment, ...]:
    """Return the site's nights, with what was judged of their blocks."""
    table = _table(judged, (len(frames), len(blocks)))
    hours = _hours(frames, table)
    found = []
    for place, frame in enumerate(frames):
        own = NightBlocks(frame, blocks, stages[place], table.items[place], judged)
        of_night = {name: column[place] for name, column in hours.items()}
        found.append(_record(own, table, place, of_night))
    return tuple(found)


def _record(
    own: NightBlocks, table: "_Table", place: int, hours: dict[str, datetime | None]
) -> NightAssessment:
    """Return one night."""
    frame, night = own.frame, own.frame.night
    tier, reason = _site_tier(own, table.codes[place], table.probability[place])
    return NightAssessment(
        night=night.window.night,
        start_utc=night.window.start_utc,
        end_utc=night.window.end_utc,
        sunset_utc=night.sunset_utc,
        sunrise_utc=night.sunrise_utc,
        tier=tier,
        reason=reason,
        kind=night.kind,
        kind_reason=night.kind_reason,
        signs=night.signs,
        is_frost_forecast=frame.is_frost_forecast,
        **hours,
        lacks_past_hours=frame.coverage.lacks_past_hours,
        missing=frame.coverage.reason,
        blocks=WhenRead(len(own.blocks), own.records),
        low_c=night.source_low_c if tier.rank else told_low_c(frame),
        past_low_c=night.past_low_c,
        site_low=frame.site_low,
    )


@dataclass(frozen=True, slots=True)
class _Table:
    """What the site's nights are told by; every array has the shape (nights, blocks).

    Attributes
    ----------
    items : ndarray of int
        The place of each block's item; -1 where it is not watched.
    codes : ndarray of int
        Its tier, as a place among `TIERS`.
    probability : ndarray
        Its chance of harm; NaN where it has no verdict. [0..1]
    running_by_utc, over_utc : ndarray
        When protection must be running, and when the cold is over.
    wet_bulb_low_c, site_low_c : ndarray
        Lowest wet bulb and lowest air. [degC]
    wet_bulb_rise_utc, air_rise_utc : ndarray
        When each rises above freezing for good.
    """

    items: Places
    codes: Codes
    probability: FloatArray
    running_by_utc: TimeArray
    over_utc: TimeArray
    wet_bulb_low_c: FloatArray
    site_low_c: FloatArray
    wet_bulb_rise_utc: TimeArray
    air_rise_utc: TimeArray


def _table(judged: Judgement, shape: tuple[int, int]) -> _Table:
    """Return what was judged of each block on each night."""
    place = judged.nights, judged.blocks
    risks, columns = judged.risks, judged.columns
    has_verdict = judged.tiers.has_verdict

    def laid(values: FloatArray) -> FloatArray:
        table = np.full(shape, np.nan)
        table[place] = values
        return table

    def moments(values: TimeArray) -> TimeArray:
        table = np.full(shape, _NAT)
        table[place] = np.where(has_verdict, values, _NAT)
        return table

    items = np.full(shape, -1, dtype=np.intp)
    items[place] = np.arange(judged.nights.size)
    codes = np.full(shape, _NONE, dtype=np.int8)
    codes[place] = judged.tiers.codes
    return _Table(
        items=items,
        codes=codes,
        probability=laid(np.where(has_verdict, risks.probability, np.nan)),
        running_by_utc=moments(risks.running_by_utc),
        over_utc=moments(risks.over_utc),
        wet_bulb_low_c=laid(np.where(has_verdict, columns.wet_bulb_low_c, np.nan)),
        site_low_c=laid(judged.site_low_c),
        wet_bulb_rise_utc=moments(columns.wet_bulb_above_zero_utc),
        air_rise_utc=moments(columns.air_above_zero_utc),
    )


def _hours(
    frames: Sequence[NightContext], table: _Table
) -> dict[str, list[datetime | None]]:
    """Return the hours of each night at the site, by the names of its record."""
    rules = frames[0].rules
    at_risk = RANKS[table.codes] > 0
    running_by = np.where(at_risk, table.running_by_utc, _NAT)
    # The first block at risk: what is not known is none.
    first = np.fmin.reduce(running_by, axis=1)
    sunsets = as_moments(frame.night.sunset_utc for frame in frames)
    over = np.fmax.reduce(table.over_utc, axis=1)
    columns = {
        "send_by_utc": send_by_utc(first, sunsets, rules),
        "act_at_utc": acts_at_utc(first, rules),
        "cold_over_utc": over,
        # The earliest hour at which the forecast allows water, or heat, to stop.
        "stop_not_before_utc": _thawed(*_wet_bulb(table), over),
        "heat_out_utc": _thawed(table.site_low_c, table.air_rise_utc, over),
    }
    return {name: plain_values(column) for name, column in columns.items()}


def _wet_bulb(table: _Table) -> tuple[FloatArray, TimeArray]:
    """Return the lowest wet bulb and its rise; by the air where humidity is missing.

    No wet bulb is above its air, so water stops no sooner than that.
    """
    lacks = np.isnan(table.wet_bulb_low_c)
    low_c = np.where(lacks, table.site_low_c, table.wet_bulb_low_c)
    return low_c, np.where(lacks, table.air_rise_utc, table.wet_bulb_rise_utc)


def _thawed(low_c: FloatArray, rise: TimeArray, over: TimeArray) -> TimeArray:
    """Return when the last of some lows has risen above freezing, after the cold.

    NaT where one stays below as far as is known, and where no cold is known.
    """
    stays = ((low_c <= 0.0) & np.isnat(rise)).any(axis=1)
    known = np.where(np.isnan(low_c), _NAT, rise)
    latest = np.fmax(over, np.fmax.reduce(known, axis=1))
    return np.where(stays | np.isnat(over), _NAT, latest)


def _site_tier(
    own: NightBlocks, codes: Codes, probability: FloatArray
) -> tuple[Tier, str]:
    """Return the highest tier of the blocks and its reason."""
    ranks = RANKS[codes]
    if ranks.any():
        return _at_risk(own, codes, ranks, np.fmax(probability, 0.0))
    missing = own.frame.coverage.reason
    for beside in (Tier.CANNOT_JUDGE, Tier.NOT_COVERED_YET):
        found = np.flatnonzero(codes == TIERS.index(beside))
        if found.size:
            first = int(found[0])
            reason = own.reason(first)
            if reason != missing:
                reason = f"{own.blocks[first].name}: {reason}"
            return beside, reason
    gap = own.frame.coverage.gap
    if gap is not None and not all(stage.is_muted for stage in own.stages):
        return gap, missing
    if np.isnan(probability).all():
        return Tier.NONE, NOTHING_WATCHED
    highest = int(np.nanargmax(probability))
    name = own.blocks[highest].name
    return Tier.NONE, f"{name}, the nearest to harm: {own.reason(highest)}"


def _at_risk(
    own: NightBlocks, codes: Codes, ranks: np.ndarray, probability: FloatArray
) -> tuple[Tier, str]:
    """Return the highest tier, and the block that is worst off beside the first.

    The block that is worst off is the same in every message; another may be first.
    """
    first = int(np.where(ranks == ranks.max(), probability, -1.0).argmax())
    worst = int(np.where(ranks > 0, probability, -1.0).argmax())
    names = [own.blocks[place].name for place in (first, worst)]
    reason = f"{names[0]}: {own.reason(first)}"
    if worst != first:
        odds = f"{percent_of(probability[worst])} chance of harm"
        reason = f"{names[1]}: {odds}. See to this first: {reason}"
    return TIERS[codes[first]], reason
