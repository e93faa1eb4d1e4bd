"""Judge one block's night: what decides, how likely harm is, and the tier."""

from datetime import datetime, timedelta
from functools import cache

from frostalert.model.assessment import BlockNight, Exposure, StageInForce, Tier
from frostalert.model.crop import StageThreshold
from frostalert.model.site import Block
from frostalert.risk.measure import SURELY_DRY, SURELY_WET, Item, NightFrame
from frostalert.risk.numbers import BudNumbers, Numbers
from frostalert.risk.tiers import Risk, block_tier

FROST_TENDER_C = -3.0
"""Blocks that are hurt above this take the source's own word "frost" as a sign, though
its air stays warmer. [degC] Common practice, no source."""


def judge_item(frame: NightFrame, item: Item, numbers: Numbers) -> BlockNight:
    """Return a block's night with its tier and the reason.

    Parameters
    ----------
    frame : NightFrame
        The night.
    item : Item
        The block, its stage and what it is compared with.
    numbers : Numbers
        Its numbers.

    Returns
    -------
    BlockNight
        Every missing value has its reason in `why`.

    References
    ----------
    .. [1] See `agronomy.kill` and `risk.tiers`.
    """
    first_utc = frame.shared.run.hours.first_utc
    dry, wet = _exposure(numbers.dry, first_utc), _exposure(numbers.wet, first_utc)
    if dry is None or numbers.probability is None or numbers.sigma_c is None:
        return unjudged_block(frame, item.block, item.stage)
    is_wet = numbers.is_wet and wet is not None
    bud, hours = (wet or dry, numbers.wet) if is_wet else (dry, numbers.dry)
    danger_start = bud.first_below_utc or bud.low_utc
    over = _moment(hours.over_h, first_utc) or bud.low_utc
    water = _water_start(frame, _moment(numbers.water_start_h, first_utc), danger_start)
    tier, reason = _with_gaps(
        frame,
        item.threshold,
        Risk(
            probability=numbers.probability,
            margin_c=bud.low_c - item.threshold.alarm_c,
            low_utc=bud.low_utc,
            running_by_utc=water or danger_start,
            danger_end_utc=over,
            sunset_utc=frame.night.sunset_utc,
        ),
    )
    return BlockNight(
        block=item.block.name,
        crop=item.block.crop.name,
        stage=item.stage,
        tier=tier,
        reason=reason,
        air_low_c=frame.night.source_low_c,
        air_low_from=frame.night.low_from,
        why_deciding=_why_deciding(item.block, numbers),
        site_low_c=numbers.site_low_c,
        dewpoint_at_low_c=numbers.dewpoint_at_low_c,
        wet_bulb_low_c=numbers.wet_bulb_low_c,
        wet_bulb_above_zero_utc=_moment(numbers.thaw_h, first_utc),
        dry=dry,
        wet=wet,
        hours_below_t10=hours.hours_t10,
        hours_below_t90=hours.hours_t90,
        wet_probability=numbers.wet_probability,
        deciding="wet" if is_wet else "dry",
        sigma_c=numbers.sigma_c,
        probability=numbers.probability,
        probability_below_t10=numbers.probability_below_t10,
        expected_kill_pct=numbers.expected_kill_pct,
        kill_dry_pct=numbers.kill_dry_pct,
        kill_wet_pct=numbers.kill_wet_pct,
        left_before_pct=numbers.left_before_pct,
        crop_loss_pct=numbers.crop_loss_pct,
        start_air_c=numbers.start_air_c,
        danger_start_utc=danger_start,
        danger_end_utc=over,
        water_start_utc=water,
        why=_why(item.threshold, bud, wet, numbers),
    )


def _water_start(
    frame: NightFrame, falls_utc: datetime | None, danger_start_utc: datetime
) -> datetime | None:
    """Return when water must run: after sunset, and before harm can begin."""
    if falls_utc is None:
        return None
    sunset = frame.night.sunset_utc
    after = falls_utc if sunset is None else max(falls_utc, sunset)
    return min(after, danger_start_utc)


def _why(
    threshold: StageThreshold, bud: Exposure, wet: Exposure | None, numbers: Numbers
) -> dict[str, str]:
    """Return the reason for every value that is missing."""
    return why_missing(
        threshold,
        has_humidity=wet is not None,
        has_dewpoint=numbers.dewpoint_at_low_c is not None,
        stays_above=bud.first_below_utc is None,
    )


def unjudged_block(frame: NightFrame, block: Block, stage: StageInForce) -> BlockNight:
    """Return a block without a threshold, or on a night without a known hour.

    Parameters
    ----------
    frame : NightFrame
        The night.
    block : Block
        The block.
    stage : StageInForce
        Its stage on that night.

    Returns
    -------
    BlockNight
        Without numbers; all of them miss for the one reason.

    References
    ----------
    .. [1] Our own rule: silence never means safe.
    """
    if stage.is_muted:
        tier, reason = Tier.NONE, stage.reason
    elif stage.threshold is None:
        is_soon = frame.coverage.gap is not Tier.NOT_COVERED_YET
        tier = Tier.CANNOT_JUDGE if is_soon else Tier.NOT_COVERED_YET
        reason = stage.reason
    else:
        tier = frame.coverage.gap or Tier.CANNOT_JUDGE
        reason = frame.coverage.reason or "no hour of it is known"
        by_minimum = _minimum_at_risk(frame, stage.threshold)
        if by_minimum:
            tier, reason = Tier.OUTLOOK, by_minimum
    return BlockNight(
        block=block.name,
        crop=block.crop.name,
        stage=stage,
        tier=tier,
        reason=reason,
        air_low_c=frame.night.source_low_c,
        air_low_from=frame.night.low_from,
        why_deciding=reason,
    )


def _why_deciding(block: Block, numbers: Numbers) -> str:
    """Return why the dry or the wet bud decides."""
    chance = numbers.wet_probability
    if chance is None or numbers.wet.low_c is None:
        return "humidity is missing, so only dry buds are judged"
    share = f"buds are wet with a chance of {100 * chance:.0f} %"
    if SURELY_DRY <= chance <= SURELY_WET:
        return f"{share}, so the colder decides"
    if numbers.is_wet and chance < SURELY_DRY and block.plans_water:
        return "water is planned here, and wetted buds get colder"
    return share


def _exposure(bud: BudNumbers, first_utc: datetime) -> Exposure | None:
    """Return one bud's exposure, if it has one."""
    if bud.low_c is None or bud.low_h is None or bud.hours_alarm is None:
        return None
    return Exposure(
        low_c=bud.low_c,
        low_utc=first_utc + timedelta(hours=bud.low_h),
        first_below_utc=_moment(bud.first_h, first_utc),
        last_below_utc=_moment(bud.last_h, first_utc),
        hours_below=bud.hours_alarm,
    )


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
    by_minimum = _minimum_at_risk(frame, threshold)
    if by_minimum and frame.now_utc < risk.danger_end_utc:
        return Tier.OUTLOOK, by_minimum
    if coverage.gap is not None:
        return coverage.gap, coverage.reason
    return tier, reason


def _minimum_at_risk(frame: NightFrame, threshold: StageThreshold) -> str:
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
    why["start_air_c"] = "no water is planned for this block, or humidity is missing"
    why["water_start_utc"] = "no water is expected to be put on"
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
            ("dewpoint_at_low_c", "wet_probability"),
            "the forecast lacks humidity at the hour of the low",
        )
    return why


def _moment(hour: float | None, first_utc: datetime) -> datetime | None:
    """Return a moment by its hour on the grid, or None for none."""
    return None if hour is None else first_utc + timedelta(hours=hour)
