"""Judge one block's night: what decides, how likely harm is, and the tier."""

from dataclasses import dataclass, replace

from frostalert.agronomy.kill import expected_kill_pct, kill_pct, reach_probability
from frostalert.decision.measure import BudLow, Measured, NightFrame
from frostalert.decision.tiers import Risk, block_tier
from frostalert.decision.uncertainty import low_sigma_c
from frostalert.model.assessment import BlockNight, StageInForce, Tier
from frostalert.model.crop import StageThreshold
from frostalert.model.site import Block

SURELY_DRY, SURELY_WET = 0.2, 0.8
"""Between these chances of wet buds the colder of dry and wet decides. Common
practice, no source."""
FROST_TENDER_C = -3.0
"""Blocks that are hurt above this take the source's own word "frost" as a sign, though
its air stays warmer. [degC] Common practice, no source."""


@dataclass(frozen=True, slots=True)
class _Deciding:
    """Which bud decides, dry or wet, and why."""

    name: str
    low: BudLow
    why: str


def judge_block(
    frame: NightFrame, block: Block, stage: StageInForce, measured: Measured | None
) -> BlockNight:
    """Return a block's night with its tier and the reason.

    Parameters
    ----------
    frame : NightFrame
        The night.
    block : Block
        The block.
    stage : StageInForce
        Its stage on that night.
    measured : Measured or None
        Its numbers; None without a threshold or without a known hour.

    Returns
    -------
    BlockNight
        Every missing value has its reason in `why`.

    References
    ----------
    .. [1] See `agronomy.kill` and `decision.tiers`.
    """
    if measured is None or stage.threshold is None:
        return _unjudged(frame, block, stage)
    return _judged(frame, block, stage, stage.threshold, measured)


def _judged(
    frame: NightFrame,
    block: Block,
    stage: StageInForce,
    threshold: StageThreshold,
    measured: Measured,
) -> BlockNight:
    """Return a block that has numbers and a threshold."""
    deciding = _decide(block, measured)
    low = deciding.low.exposure
    sigma = low_sigma_c(low.low_utc - frame.shared.run.updated_utc, frame.rules)
    probability = float(reach_probability(low.low_c, sigma, threshold.alarm_c))
    danger_start = low.first_below_utc or low.low_utc
    risk = Risk(
        probability=probability,
        margin_c=low.low_c - threshold.alarm_c,
        low_utc=low.low_utc,
        danger_start_utc=danger_start,
        danger_end_utc=deciding.low.over_utc,
        sunset_utc=frame.night.sunset_utc,
    )
    tier, reason = _with_gaps(frame, threshold, risk)
    wet = measured.wet
    return replace(
        _blank(frame, block, stage, tier, reason),
        site_low_c=measured.site_low_c,
        dewpoint_at_low_c=measured.dewpoint_at_low_c,
        wet_bulb_low_c=measured.wet_bulb_low_c,
        wet_bulb_low_utc=measured.wet_bulb_low_utc,
        wet_bulb_above_zero_utc=measured.wet_bulb_above_zero_utc,
        dry=measured.dry.exposure,
        wet=wet.exposure if wet else None,
        hours_below_t10=deciding.low.hours_below_t10,
        hours_below_t90=deciding.low.hours_below_t90,
        wet_probability=measured.wet_probability,
        deciding=deciding.name,
        why_deciding=deciding.why,
        sigma_c=sigma,
        probability=probability,
        probability_below_t10=None
        if threshold.t10_c is None
        else float(reach_probability(low.low_c, sigma, threshold.t10_c)),
        expected_kill_pct=_expected_kill(low.low_c, sigma, threshold),
        kill_dry_pct=_kill(measured.dry.exposure.low_c, threshold),
        kill_wet_pct=_kill(wet.exposure.low_c, threshold) if wet else None,
        danger_start_utc=danger_start,
        danger_end_utc=deciding.low.over_utc,
        why=_why_missing(threshold, measured, low.first_below_utc is None),
    )


def _decide(block: Block, measured: Measured) -> _Deciding:
    """Return which bud decides."""
    dry, wet, chance = measured.dry, measured.wet, measured.wet_probability
    if wet is None or chance is None:
        return _Deciding("dry", dry, "humidity is missing, so only dry buds are judged")
    wet_is_colder = wet.exposure.low_c < dry.exposure.low_c
    colder = _Deciding("wet", wet, "") if wet_is_colder else _Deciding("dry", dry, "")
    share = f"buds are wet with a chance of {100 * chance:.0f} %"
    if chance > SURELY_WET:
        return _Deciding("wet", wet, share)
    if chance >= SURELY_DRY:
        return _Deciding(colder.name, colder.low, f"{share}, so the colder decides")
    if block.plans_water and wet_is_colder:
        return _Deciding(
            "wet", wet, "water is planned here, and wetted buds get colder"
        )
    return _Deciding("dry", dry, share)


def _with_gaps(
    frame: NightFrame, threshold: StageThreshold, risk: Risk
) -> tuple[Tier, str]:
    """Return the tier, with missing hours and the source's word frost considered."""
    tier, reason = block_tier(risk, frame.now_utc, frame.rules)
    coverage = frame.coverage
    if tier.rank:
        return tier, f"{reason}; {coverage.reason}" if coverage.reason else reason
    if (
        frame.is_frost_forecast
        and threshold.alarm_c >= FROST_TENDER_C
        and frame.now_utc < risk.danger_end_utc
    ):
        return Tier.OUTLOOK, f"the forecast's own weather text says frost; {reason}"
    if coverage.gap is not None:
        return coverage.gap, coverage.reason
    return tier, reason


def _unjudged(frame: NightFrame, block: Block, stage: StageInForce) -> BlockNight:
    """Return a block without a threshold, or on a night without a known hour."""
    if stage.is_muted:
        tier, reason = Tier.NONE, stage.reason
    elif stage.threshold is None:
        is_soon = frame.coverage.gap is not Tier.NOT_COVERED_YET
        tier = Tier.CANNOT_JUDGE if is_soon else Tier.NOT_COVERED_YET
        reason = stage.reason
    else:
        tier = frame.coverage.gap or Tier.CANNOT_JUDGE
        reason = frame.coverage.reason or "no hour of it is known"
    return _blank(frame, block, stage, tier, reason)


def _blank(
    frame: NightFrame, block: Block, stage: StageInForce, tier: Tier, reason: str
) -> BlockNight:
    """Return a block's night without numbers; all of them miss for the one reason."""
    return BlockNight(
        block=block.name,
        crop=block.crop.name,
        stage=stage,
        tier=tier,
        reason=reason,
        air_low_c=frame.night.low_c,
        air_low_from=frame.night.low_from,
        why_deciding=reason,
    )


def _expected_kill(
    low_c: float, sigma_c: float, threshold: StageThreshold
) -> float | None:
    """Return the mean share killed, where there is a curve. [%]"""
    if not threshold.has_curve:
        return None
    return float(
        expected_kill_pct(low_c, sigma_c, threshold.t10_c, threshold.t90_c)  # type: ignore[arg-type]
    )


def _kill(low_c: float, threshold: StageThreshold) -> float | None:
    """Return the share killed at a low, where there is a curve. [%]"""
    if not threshold.has_curve:
        return None
    return float(kill_pct(low_c, threshold.t10_c, threshold.t90_c))  # type: ignore[arg-type]


def _why_missing(
    threshold: StageThreshold, measured: Measured, stays_above: bool
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
    if stays_above:
        why["first_below_utc"] = "the expected low stays above the alarm temperature"
    if measured.wet is None:
        missing = "the forecast lacks humidity"
        why |= {"kill_wet_pct": why.get("kill_wet_pct", missing)}
        why |= dict.fromkeys(("wet_bulb_low_c", "wet_bud_low_c"), missing)
    if measured.dewpoint_at_low_c is None:
        why |= dict.fromkeys(
            ("dewpoint_at_low_c", "wet_probability"),
            "the forecast lacks humidity at the hour of the low",
        )
    return why
