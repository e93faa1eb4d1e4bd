"""Put the blocks of one night together: the site's tier and its hours."""

from datetime import datetime

from frostalert.model.assessment import BlockNight, NightAssessment, Tier
from frostalert.model.site import Rules
from frostalert.risk.block_night import told_low_c
from frostalert.risk.measure import NightContext
from frostalert.risk.timing import act_at_utc, send_by_utc


def night_record(
    frame: NightContext, blocks: tuple[BlockNight, ...]
) -> NightAssessment:
    """Return the site's night from its blocks'."""
    tier, reason = _site_tier(frame, blocks)
    running_by = _running_by(blocks)
    cold_over = max(
        (block.danger_end_utc for block in blocks if block.danger_end_utc is not None),
        default=None,
    )
    night = frame.night
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
        send_by_utc=_send_by(running_by, night.sunset_utc, frame.rules),
        act_at_utc=None if running_by is None else act_at_utc(running_by, frame.rules),
        cold_over_utc=cold_over,
        stop_not_before_utc=_stop_not_before(blocks, cold_over),
        heat_out_utc=_heat_out(blocks, cold_over),
        lacks_past_hours=frame.coverage.lacks_past_hours,
        missing=frame.coverage.reason,
        blocks=blocks,
        low_c=night.source_low_c if tier.rank else told_low_c(frame),
        past_low_c=night.past_low_c,
        site_low=frame.site_low,
    )


def _site_tier(frame: NightContext, blocks: tuple[BlockNight, ...]) -> tuple[Tier, str]:
    """Return the highest tier of the blocks and its reason."""
    at_risk = [block for block in blocks if block.tier.rank]
    if at_risk:
        return _at_risk(at_risk)
    for beside in (Tier.CANNOT_JUDGE, Tier.NOT_COVERED_YET):
        for block in blocks:
            if block.tier is beside and block.reason == frame.coverage.reason:
                return beside, block.reason
            if block.tier is beside:
                return beside, f"{block.block}: {block.reason}"
    gap = frame.coverage.gap
    if gap is not None and not all(block.stage.is_muted for block in blocks):
        return gap, frame.coverage.reason
    judged = [block for block in blocks if block.probability is not None]
    if not judged:
        return Tier.NONE, "every block is dormant or harvested: nothing is watched"
    highest = max(judged, key=lambda block: block.probability or 0.0)
    return Tier.NONE, f"{highest.block}, the nearest to harm: {highest.reason}"


def _at_risk(blocks: list[BlockNight]) -> tuple[Tier, str]:
    """Return the highest tier, and the block that is worst off beside the first.

    The block that is worst off is the same in every message; another may be first.
    """
    first = max(blocks, key=lambda b: (b.tier.rank, b.probability or 0.0))
    worst = max(blocks, key=lambda b: b.probability or 0.0)
    reason = f"{first.block}: {first.reason}"
    if worst.block != first.block:
        odds = f"{100 * (worst.probability or 0.0):.0f} % chance of harm"
        reason = f"{worst.block}: {odds}. First to see to is {reason}"
    return first.tier, reason


def _running_by(blocks: tuple[BlockNight, ...]) -> datetime | None:
    """Return when protection must be running in the first block at risk."""
    starts = [
        block.running_by_utc
        for block in blocks
        if block.tier.rank and block.running_by_utc is not None
    ]
    return min(starts, default=None)


def _stop_not_before(
    blocks: tuple[BlockNight, ...], cold_over: datetime | None
) -> datetime | None:
    """Return the earliest hour at which the forecast allows water to stop."""
    lows = [(b.wet_bulb_low_c, b.wet_bulb_above_zero_utc) for b in blocks]
    return _thawed(lows, cold_over)


def _heat_out(
    blocks: tuple[BlockNight, ...], cold_over: datetime | None
) -> datetime | None:
    """Return the earliest hour at which the forecast allows heat to go out."""
    return _thawed([(b.site_low_c, b.air_above_zero_utc) for b in blocks], cold_over)


def _thawed(
    lows: list[tuple[float | None, datetime | None]], cold_over: datetime | None
) -> datetime | None:
    """Return when the last of some lows has risen above freezing, after the cold."""
    if cold_over is None:
        return None
    known = [(low_c, rise) for low_c, rise in lows if low_c is not None]
    if any(low_c <= 0.0 and rise is None for low_c, rise in known):
        return None
    return max([cold_over, *(rise for _, rise in known if rise is not None)])


def _send_by(
    running_by: datetime | None, sunset: datetime | None, rules: Rules
) -> datetime | None:
    """Return when preparation must be called for, if anything is at risk."""
    return None if running_by is None else send_by_utc(running_by, sunset, rules)
