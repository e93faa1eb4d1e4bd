"""Judge all blocks' nights at once: what decides, how likely harm is, and the tier."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from frostalert.model.block_columns import as_moments, deciding_bud, value_at
from frostalert.model.block_values import BlockNightColumns, BudColumns, TimeArray
from frostalert.model.forecast import FloatArray
from frostalert.model.site import Block
from frostalert.risk.adverse import MemberStarts, adverse_starts
from frostalert.risk.hands import (
    Hands,
    Odds,
    Wait,
    by_thermometers,
    hands_for,
    stakes_of,
    start_reading_c,
)
from frostalert.risk.items import Items, Places
from frostalert.risk.known_night import KnownNight
from frostalert.risk.measure import Limits, NightContext, limits_of
from frostalert.risk.starts import Starts
from frostalert.risk.tiers import (
    NO_GAP,
    RANKS,
    TIERS,
    Risks,
    Signs,
    Tiers,
    tiers_of,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What was measured and judged of items. Shape (items,) each.

    Attributes
    ----------
    nights, blocks : ndarray of int
        The place of each item's night and of its block.
    columns : BlockNightColumns
        What was measured.
    adverse : MemberStarts
        What the source that turns cold first says.
    risks : Risks
        What the tiers are told by.
    site_low_c : ndarray
        The lowest air that is told of each. [degC] NaN for none.
    """

    nights: Places
    blocks: Places
    columns: BlockNightColumns
    adverse: MemberStarts
    risks: Risks
    tiers: Tiers
    site_low_c: FloatArray

    def adverse_utc(self, item: int) -> datetime | None:
        """Return the most adverse source's start, if it is before the block's own."""
        moment: datetime | None = value_at(self.adverse.running_by_utc, item)
        return moment

    def told_site_low_c(self, item: int) -> float | None:
        """Return the lowest air that is told of an item. [degC]"""
        low_c: float | None = value_at(self.site_low_c, item)
        return low_c


def judge(
    frames: Sequence[NightContext],
    blocks: Sequence[Block],
    items: Items,
    measured: BlockNightColumns,
    alone: tuple[Sequence[KnownNight], Starts],
) -> Judgement:
    """Return the judgement of items.

    Parameters
    ----------
    frames : sequence of NightContext
        The nights.
    blocks : sequence of Block
        The blocks.
    items : Items
        Blocks on those nights.
    measured : BlockNightColumns
        The numbers of all items.
    alone : tuple of sequence of KnownNight, and Starts
        The nights as each source alone has them, and what was measured of those.
    """
    nights, places, _ = items.places()
    first = frames[0]
    bud, limits = deciding_bud(measured), limits_of(items)
    own_by = _own_starts(measured, bud)
    adverse = adverse_starts(*alone, own_by)
    columns = _with_adverse(measured, adverse)
    running_by = adverse.running_by_utc
    running_by = np.where(np.isnat(running_by), own_by, running_by)
    hands = _hands(first, blocks, (nights, places), limits, (columns, bud))
    sunsets = as_moments(frame.night.sunset_utc for frame in frames)
    numbers = columns.dry.low_c, columns.probability, columns.sigma_c
    unknown = np.isnan(sum(numbers))
    risks = Risks(
        probability=columns.probability,
        night_probability=columns.night_probability,
        hands=hands,
        low_utc=bud.low_utc,
        running_by_utc=running_by,
        over_utc=bud.over_utc,
        sunset_utc=sunsets[nights],
        is_judged=~unknown,
    )
    signs = _signs(frames, nights, limits.alarm_c)
    tiers = tiers_of(risks, signs, first.now_utc, first.rules)
    return Judgement(
        nights=nights,
        blocks=places,
        columns=columns,
        adverse=adverse,
        risks=risks,
        tiers=tiers,
        site_low_c=_told_lows(frames, nights, columns.site_low_c, risks, tiers),
    )


def _own_starts(columns: BlockNightColumns, bud: BudColumns) -> TimeArray:
    """Return when protection must be running by what was measured alone.

    Water goes on before harm can begin; what warms runs when it begins.
    """
    running_by = columns.water_start_utc
    for later in (bud.first_below_utc, bud.night_low_utc):
        running_by = np.where(np.isnat(running_by), later, running_by)
    return running_by


def _with_adverse(
    columns: BlockNightColumns, adverse: MemberStarts
) -> BlockNightColumns:
    """Return the columns with the reading that is reached first.

    None is told where no water is planned.
    """
    if not adverse.sources:
        return columns
    other_c = np.where(np.isnan(columns.start_air_c), np.nan, adverse.start_air_c)
    return replace(columns, start_air_c=np.fmax(columns.start_air_c, other_c))


def _hands(
    first: NightContext,
    blocks: Sequence[Block],
    places: tuple[Places, Places],
    limits: Limits,
    measured: tuple[BlockNightColumns, BudColumns],
) -> Hands:
    """Return whether hands are called for each item."""
    (nights, of_block), (columns, bud) = places, measured
    odds = Odds(
        night_probability=columns.night_probability,
        night_low_c=bud.night_low_c,
        low_sigma_c=columns.low_sigma_c,
        t10_c=limits.t10_c,
        t90_c=limits.t90_c,
        left_before_pct=columns.left_before_pct,
        needed_pct=limits.needed_pct,
        expected_kill_pct=columns.expected_kill_pct,
        crop_loss_pct=columns.crop_loss_pct,
    )
    hands = hands_for(odds, stakes_of(blocks, first.rules).take(of_block))
    if not first.thermometers:
        return hands
    # A lapsed one says so of the first night; the others have time.
    reading_c = start_reading_c(
        limits.alarm_c, bud.low_c, columns.site_low_c, columns.start_air_c
    )
    waits = [
        Wait(item, first.thermometers[blocks[place].name], float(reading_c[item]))
        for item, place in enumerate(of_block[nights == 0].tolist())
        if blocks[place].name in first.thermometers
    ]
    by_utc = first.now_utc + first.rules.set_up + first.rules.notice
    return by_thermometers(hands, waits, by_utc)


def _signs(
    frames: Sequence[NightContext], nights: Places, alarm_c: FloatArray
) -> Signs:
    """Return what speaks of items whose hours are no risk, or not known."""
    gaps = [
        NO_GAP if frame.coverage.gap is None else TIERS.index(frame.coverage.gap)
        for frame in frames
    ]
    frost = [frame.is_frost_forecast for frame in frames]
    return Signs(
        gap=np.array(gaps, dtype=np.int8)[nights],
        says_frost=np.array(frost, dtype=np.bool_)[nights],
        minimum_c=_lows(frames)[nights],
        alarm_c=alarm_c,
    )


def _lows(frames: Sequence[NightContext]) -> FloatArray:
    """Return the low of each night after what the site has taught. [degC]"""
    lows = [frame.night.low_c for frame in frames]
    return np.array([np.nan if low is None else low for low in lows], dtype=np.float64)


def _told_lows(
    frames: Sequence[NightContext],
    nights: Places,
    site_low_c: FloatArray,
    risks: Risks,
    tiers: Tiers,
) -> FloatArray:
    """Return the lowest air that is told of each item. [degC]

    By the source's minimum alone the air is told, though no hour shows it.
    """
    has_air = [f.coverage.has_air and not f.coverage.is_too_old for f in frames]
    is_told = tiers.has_verdict | (
        risks.is_judged & np.array(has_air, dtype=np.bool_)[nights]
    )
    by_minimum = np.where(RANKS[tiers.codes] > 0, _lows(frames)[nights], np.nan)
    return np.where(is_told, site_low_c, by_minimum)
