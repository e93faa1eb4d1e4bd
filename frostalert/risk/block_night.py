"""Judge one block's night: what decides, how likely harm is, and the tier."""

from dataclasses import replace
from functools import cache
from typing import Any

from frostalert.model.assessment import BlockNight, StageInForce, Tier
from frostalert.model.crop import StageThreshold
from frostalert.model.site import Block
from frostalert.risk.adverse import MemberStart
from frostalert.risk.hands import Hands, hands_for
from frostalert.risk.measure import SURELY_DRY, SURELY_WET, BlockNightKey, NightContext
from frostalert.risk.tiers import Risk, block_tier

FROST_TENDER_C = -3.0
"""Blocks that are hurt above this take the source's own word "frost" as a sign, though
its air stays warmer. [degC] Common practice, no source."""


def judge_item(
    frame: NightContext,
    item: BlockNightKey,
    values: dict[str, Any],
    adverse: MemberStart | None = None,
) -> BlockNight:
    """Return a block's night with its tier and the reason."""
    if None in (values["dry"], values["probability"], values["sigma_c"]):
        return unjudged_block(frame, item.block, item.stage)
    values["is_wet"] = values["is_wet"] and values["wet"] is not None
    measured = BlockNight(
        **values,
        block=item.block.name,
        crop=item.block.crop.name,
        stage=item.stage,
        tier=Tier.NONE,
        reason="",
        air_low_c=frame.night.source_low_c,
        air_low_from=frame.night.low_from,
        why_deciding="",
    )
    measured = _with_adverse_start(measured, adverse)
    thermometer = frame.thermometers.get(item.block.name)
    hands = hands_for(measured, item.block, frame.rules, thermometer, frame.now_utc)
    risk = _risk(frame, measured, hands)
    tier, reason = block_tier(risk, frame.now_utc, frame.rules)
    if not tier.rank:
        tier, reason = _by_signs(frame, item.threshold, risk, reason)
        if frame.coverage.gap is not None:
            return _without_verdict(frame, measured, tier, reason)
    elif frame.coverage.reason:
        reason = f"{reason}; {frame.coverage.reason}"
    return replace(
        measured,
        tier=tier,
        reason=reason,
        calls_hands=hands.are_called,
        hands_reason=hands.reason,
        why_deciding=_why_deciding(measured),
        why=_why(item.threshold, measured),
    )


def _with_adverse_start(
    measured: BlockNight, adverse: MemberStart | None
) -> BlockNight:
    """Return a block's night with the start of the source that turns cold first."""
    own = measured.running_by_utc
    if adverse is None or own is None or adverse.running_by_utc >= own:
        return measured
    return replace(
        measured,
        adverse_start_utc=adverse.running_by_utc,
        adverse_source=adverse.source,
        start_air_c=_earlier_reading(measured.start_air_c, adverse.start_air_c),
    )


def _earlier_reading(own_c: float | None, adverse_c: float | None) -> float | None:
    """Return the reading that is reached first; None where no water is planned."""
    if own_c is None or adverse_c is None:
        return own_c
    return max(own_c, adverse_c)


def _without_verdict(
    frame: NightContext, measured: BlockNight, tier: Tier, reason: str
) -> BlockNight:
    """Return a block whose night cannot be judged: the known hours' low is not its low.

    Where humidity alone is missing the air is told; a chance of harm is not.
    """
    has_air = frame.coverage.has_air and not frame.coverage.is_too_old
    low_c = told_low_c(frame)
    return BlockNight(
        block=measured.block,
        crop=measured.crop,
        stage=measured.stage,
        tier=tier,
        reason=reason,
        air_low_c=low_c,
        air_low_from=None if low_c is None else measured.air_low_from,
        why_deciding=reason,
        # By the source's minimum alone the air is told, though no hour shows it.
        site_low_c=measured.site_low_c
        if has_air
        else (frame.night.low_c if tier.rank else None),
        past_low_c=measured.past_low_c,
        past_low_utc=measured.past_low_utc,
        left_before_pct=measured.left_before_pct,
    )


def told_low_c(frame: NightContext) -> float | None:
    """Return the source's low of a night that cannot be judged. [degC]"""
    coverage = frame.coverage
    has_low = coverage.has_air or frame.night.minimum_c is not None
    return frame.night.source_low_c if has_low and not coverage.is_too_old else None


def _risk(frame: NightContext, measured: BlockNight, hands: Hands) -> Risk:
    """Return what a measured night's tier is told by."""
    bud, running_by = measured.bud, measured.running_by_utc
    assert bud is not None  # noqa: S101 - it was measured
    assert running_by is not None  # noqa: S101
    assert measured.probability is not None  # noqa: S101
    assert measured.night_probability is not None  # noqa: S101
    return Risk(
        probability=measured.probability,
        night_probability=measured.night_probability,
        hands=hands,
        low_utc=bud.low_utc,
        running_by_utc=running_by,
        danger_end_utc=bud.over_utc,
        sunset_utc=frame.night.sunset_utc,
    )


def _why(threshold: StageThreshold, measured: BlockNight) -> dict[str, str]:
    """Return the reason for every value that is missing."""
    bud = measured.bud
    return why_missing(
        threshold,
        has_humidity=measured.wet is not None,
        has_dewpoint=measured.dewpoint_at_low_c is not None
        and measured.wet_probability is not None,
        stays_above=bud is None or bud.first_below_utc is None,
    )


def unjudged_block(
    frame: NightContext, block: Block, stage: StageInForce
) -> BlockNight:
    """Return a block that is not watched, or on a night without a known hour."""
    if stage.threshold is None:
        tier, reason = Tier.NONE, stage.reason
    else:
        tier = frame.coverage.gap or Tier.CANNOT_JUDGE
        reason = frame.coverage.reason or "no hour of it is known"
        by_minimum = _minimum_at_risk(frame, stage.threshold)
        if by_minimum:
            tier, reason = Tier.OUTLOOK, by_minimum
    low_c = told_low_c(frame)
    return BlockNight(
        block=block.name,
        crop=block.crop.name,
        stage=stage,
        tier=tier,
        reason=reason,
        air_low_c=low_c,
        air_low_from=None if low_c is None else frame.night.low_from,
        why_deciding=reason,
        site_low_c=frame.night.low_c if tier.rank else None,
    )


def _why_deciding(measured: BlockNight) -> str:
    """Return why the dry or the wet bud decides."""
    chance = measured.wet_probability
    if chance is None or measured.wet is None:
        return "humidity is missing, so only dry buds are judged"
    share = f"buds are wet with a chance of {100 * chance:.0f} %"
    if SURELY_DRY <= chance <= SURELY_WET:
        return f"{share}, so the colder decides"
    return share


def _by_signs(
    frame: NightContext, threshold: StageThreshold, risk: Risk, reason: str
) -> tuple[Tier, str]:
    """Return the tier of a block whose known hours are no risk, by other signs."""
    coverage = frame.coverage
    if frame.now_utc < risk.danger_end_utc:
        if frame.is_frost_forecast and threshold.alarm_c >= FROST_TENDER_C:
            return (
                Tier.OUTLOOK,
                f"the forecast's own weather text says frost; {reason}",
            )
        by_minimum = _minimum_at_risk(frame, threshold)
        if by_minimum:
            return Tier.OUTLOOK, by_minimum
    if coverage.gap is not None:
        return coverage.gap, coverage.reason
    return Tier.NONE, reason


def _minimum_at_risk(frame: NightContext, threshold: StageThreshold) -> str:
    """Return why the source's own low alone puts a night at risk; empty if not.

    It speaks where hours are missing: a low at or below the alarm temperature counts
    even if no hour shows it.
    """
    low_c = frame.night.low_c
    if frame.coverage.gap is None or low_c is None or low_c > threshold.alarm_c:
        return ""
    return (
        "the forecast's own low of the night reaches the alarm temperature; "
        + frame.coverage.reason
    )


_WHY_MISSING_ANYWHERE = {
    "start_air_c": "no water is planned for this block, or humidity is missing",
    "water_start_utc": "no water is expected to be put on",
    **dict.fromkeys(
        ("past_low_c", "past_low_time_utc"),
        "the night has not begun to cool, or no hour gone by is known",
    ),
    **dict.fromkeys(
        ("adverse_start_utc", "adverse_source"),
        "no other source has harm begin earlier",
    ),
}


@cache
def why_missing(
    threshold: StageThreshold,
    *,
    has_humidity: bool,
    has_dewpoint: bool,
    stays_above: bool,
) -> dict[str, str]:
    """Return the reason for every value that is missing."""
    why: dict[str, str] = {}
    no_curve = "no published kill curve: ranked, not estimated"
    if threshold.t10_c is None:
        single = "only the temperature at which damage begins is published"
        why |= dict.fromkeys(
            ("t10_c", "probability_below_t10", "hours_below_t10"), single
        )
    if threshold.t90_c is None:
        why |= dict.fromkeys(("t90_c", "hours_below_t90"), no_curve)
    if not threshold.has_curve:
        why |= dict.fromkeys(
            ("kill_dry_pct", "kill_wet_pct", "expected_kill_pct"), no_curve
        )
    if threshold.damage_begins_c is None:
        why["damage_begins_c"] = "the table gives 10 % and 90 % kill instead"
    why |= _WHY_MISSING_ANYWHERE
    why["crop_loss_pct"] = (
        why.get("kill_dry_pct")
        or "no published share of blossoms that a full crop of it needs"
    )
    if stays_above:
        why["first_below_utc"] = "the expected low stays above the alarm temperature"
    if not has_humidity:
        missing = "the forecast lacks humidity"
        why |= {"kill_wet_pct": why.get("kill_wet_pct", missing)}
        why |= dict.fromkeys(("wet_bulb_low_c", "wet_bud_low_c"), missing)
    if not has_dewpoint:
        why |= dict.fromkeys(
            ("dewpoint_at_low_c", "wet_bulb_at_low_c", "wet_probability"),
            "the forecast lacks humidity at the hour of the low",
        )
    return why
