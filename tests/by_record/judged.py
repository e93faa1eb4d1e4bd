"""The rules of judgement one record at a time, as they would be worked out by hand.

The program judges all blocks' nights at once, by column. Here each is judged by a
record of plain values: slow, and easy to check.
"""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from frostalert.agronomy.kill import (
    ERROR_NODES,
    ERROR_WEIGHTS,
    crop_loss_pct,
    kill_pct,
)
from frostalert.model.assessment import BlockNight, StageInForce, Tier
from frostalert.model.crop import StageThreshold
from frostalert.model.percent import percent_of
from frostalert.model.site import AlarmAt, Block, Rules, StartBy
from frostalert.risk.block_night import told_low_c, why_missing
from frostalert.risk.measure import NightContext
from frostalert.risk.thermometer_start import ThermometerStart

Said = tuple[bool, str, bool]
"""Whether hands are called, why, and whether their hour has come whatever the time."""


def block_night(
    frame: NightContext,
    block: Block,
    stage: StageInForce,
    values: dict[str, Any],
    adverse: dict[str, Any],
) -> BlockNight:
    """Return a watched block's night."""
    if None in (values["dry"], values["probability"]):
        return unjudged(frame, block, stage)
    assert stage.threshold is not None
    record = BlockNight(
        **(values | _earlier(values, adverse)),
        block=block.name,
        crop=block.crop.name,
        stage=stage,
        tier=Tier.NONE,
        reason="",
        air_low_c=frame.night.source_low_c,
        air_low_from=frame.night.low_from,
        why_deciding="",
    )
    called, why_called, is_due = _hands(frame, record, block)
    tier, reason = _tier(frame, record, (called, why_called, is_due))
    if not tier.rank:
        tier, reason = _by_signs(frame, record, reason)
        if frame.coverage.gap is not None:
            return _without_verdict(frame, record, tier, reason)
    elif frame.coverage.reason:
        least = "" if reason.startswith("over") else "at least "
        reason = f"{least}{reason}; {frame.coverage.reason}"
    return replace(
        record,
        tier=tier,
        reason=reason,
        calls_hands=called,
        hands_reason=why_called,
        why_deciding=_why_deciding(record),
        why=_why(stage.threshold, record),
    )


def _earlier(values: dict[str, Any], adverse: dict[str, Any]) -> dict[str, Any]:
    """Return what the source that turns cold first changes."""
    own_c, other_c = values["start_air_c"], adverse.get("start_air_c")
    if not adverse or own_c is None or other_c is None:
        return adverse | {"start_air_c": own_c}
    return adverse | {"start_air_c": max(own_c, other_c)}


def _hands(frame: NightContext, record: BlockNight, block: Block) -> Said:
    """Return whether the night is worth a night's work."""
    lost = _crop_loss_chance(record, block)
    chance = record.night_probability if lost is None else lost
    assert chance is not None
    what = "reaching the alarm temperature"
    if lost is not None:
        what = "losing over 5 % of the crop"
    told = f"{percent_of(chance)} chance of {what}"
    if chance >= 0.6:
        return True, told, False
    thermometer = frame.thermometers.get(block.name)
    if thermometer is not None:
        near = _nears(frame, record, thermometer)
        name = thermometer.sensor
        if near is None:
            told += f"; its thermometer does not count: {thermometer.lapsed}"
        elif near:
            return True, f"{told}; {name} nears the reading to start at", True
        else:
            why = f"{name} is not near the reading to start at yet"
            return False, f"{told}; {why}", False
    return _by_stake(record, block, frame.rules, chance, told)


def _by_stake(
    record: BlockNight, block: Block, rules: Rules, chance: float, told: str
) -> Said:
    """Return whether what is at stake is worth it."""
    if chance < 0.1:
        return False, f"{told}, too little to call hands", False
    loss = record.crop_loss_pct
    if loss is None:
        loss = record.expected_kill_pct
    if block.crop_value is not None and loss is not None and block.night_costs:
        cost = min(cost for _, cost in block.night_costs)
        if block.crop_value * loss / 100.0 > cost:
            return True, f"{told}; more is at stake than a night costs", False
        return False, f"{told}; a night's work costs more than it saves", False
    least = rules.start_probability
    if block.start_by is StartBy.THERMOMETER:
        least = max(least, 0.3)
    if chance >= least:
        return True, told, False
    return False, f"{told}, not yet enough to call hands", False


def _nears(
    frame: NightContext, record: BlockNight, thermometer: ThermometerStart
) -> bool | None:
    """Return whether a thermometer nears the start reading; None if it cannot say."""
    by_utc = frame.now_utc + frame.rules.set_up + frame.rules.notice
    ahead_c = thermometer.air_at_c(by_utc)
    threshold, bud = record.stage.threshold, record.bud
    if thermometer.lapsed or ahead_c is None or record.site_low_c is None:
        return None
    assert threshold is not None
    assert bud is not None
    reading_c = threshold.alarm_c + 1.0 + max(0.0, record.site_low_c - bud.low_c)
    if record.start_air_c is not None:
        reading_c = max(reading_c, record.start_air_c)
    return ahead_c <= reading_c


def _crop_loss_chance(record: BlockNight, block: Block) -> float | None:
    """Return the chance that more of the crop is lost than the block bears."""
    names, threshold, bud = block.crop.stage_names, record.stage.threshold, record.bud
    if block.alarm_at is not AlarmAt.CROP_LOSS or block.crop.needed_pct is None:
        return None
    if block.stage not in names or "full bloom" not in names:
        return None
    if names.index(block.stage) < names.index("full bloom"):
        return None
    if threshold is None or threshold.t10_c is None or threshold.t90_c is None:
        return None
    assert bud is not None
    assert record.left_before_pct is not None
    lows_c = bud.night_low_c + float(np.hypot(record.low_sigma_c, 1.5)) * ERROR_NODES
    kill = kill_pct(lows_c, threshold.t10_c, threshold.t90_c)
    lost = crop_loss_pct(kill, record.left_before_pct, block.crop.needed_pct)
    return float((lost > 5.0) @ ERROR_WEIGHTS)


def _tier(frame: NightContext, record: BlockNight, said: Said) -> tuple[Tier, str]:
    """Return the tier by the night's own hours, and the reason."""
    (called, why_called, is_due), rules, now = said, frame.rules, frame.now_utc
    bud, running_by = record.bud, record.running_by_utc
    risk, of_night = record.probability, record.night_probability
    assert bud is not None
    assert running_by is not None
    assert risk is not None
    assert of_night is not None
    chance = f"{percent_of(risk)} chance"
    if now >= bud.over_utc:
        return Tier.NONE, "the cold hours of this night are over"
    is_near = bud.low_utc - now <= timedelta(days=3)
    limit = rules.near_probability if is_near else rules.far_probability
    if of_night < limit and not called:
        return Tier.NONE, f"{chance} of reaching the alarm temperature, under the limit"
    if risk < limit <= of_night:
        chance = f"{chance} in the hours to come; the cold of this night is not over"
    if is_due:
        return Tier.ACT, why_called
    if now >= running_by - rules.set_up:
        at_hand = f"{chance}, and the cold is at hand"
        return (Tier.ACT, at_hand) if called else (Tier.PREPARE, why_called)
    if now >= send_by(running_by, frame.night.sunset_utc, rules):
        return Tier.PREPARE, f"{chance}, and it is time to get ready"
    return Tier.OUTLOOK, f"{chance} of reaching the alarm temperature"


def send_by(running_by: datetime, sunset: datetime | None, rules: Rules) -> datetime:
    """Return when preparation must be called for."""
    ready_by = running_by - rules.set_up
    if sunset is not None:
        ready_by = min(ready_by, sunset)
    return ready_by - rules.preparation - rules.notice


def _by_signs(frame: NightContext, record: BlockNight, reason: str) -> tuple[Tier, str]:
    """Return the tier of a night whose known hours are no risk."""
    threshold, bud = record.stage.threshold, record.bud
    assert threshold is not None
    assert bud is not None
    if frame.now_utc < bud.over_utc:
        if frame.is_frost_forecast and threshold.alarm_c >= -3.0:
            words = "the forecast's own weather text says frost"
            return Tier.OUTLOOK, f"{words}; {reason}"
        if by_minimum := _by_minimum(frame, threshold):
            return Tier.OUTLOOK, by_minimum
    if frame.coverage.gap is not None:
        return frame.coverage.gap, frame.coverage.reason
    return Tier.NONE, reason


def _by_minimum(frame: NightContext, threshold: StageThreshold) -> str:
    """Return why the source's own low puts a night at risk; empty if not."""
    low_c = frame.night.low_c
    if frame.coverage.gap is None or low_c is None or low_c > threshold.alarm_c:
        return ""
    low = "the forecast's own low of the night reaches the alarm temperature"
    return f"{low}; {frame.coverage.reason}"


def _without_verdict(
    frame: NightContext, record: BlockNight, tier: Tier, reason: str
) -> BlockNight:
    """Return a night that cannot be judged."""
    low_c = told_low_c(frame)
    has_air = frame.coverage.has_air and not frame.coverage.is_too_old
    by_minimum = frame.night.low_c if tier.rank else None
    return BlockNight(
        block=record.block,
        crop=record.crop,
        stage=record.stage,
        tier=tier,
        reason=reason,
        air_low_c=low_c,
        air_low_from=None if low_c is None else record.air_low_from,
        why_deciding=reason,
        site_low_c=record.site_low_c if has_air else by_minimum,
        past_low_c=record.past_low_c,
        past_low_utc=record.past_low_utc,
        left_before_pct=record.left_before_pct,
    )


def unjudged(frame: NightContext, block: Block, stage: StageInForce) -> BlockNight:
    """Return a block that is not watched, or on a night without a known hour."""
    tier, reason = Tier.NONE, stage.reason
    if stage.threshold is not None:
        tier = frame.coverage.gap or Tier.CANNOT_JUDGE
        reason = frame.coverage.reason or "no hour of it is known"
        if by_minimum := _by_minimum(frame, stage.threshold):
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


def _why_deciding(record: BlockNight) -> str:
    """Return why the dry or the wet bud decides."""
    chance = record.wet_probability
    if chance is None or record.wet is None:
        return "humidity is missing, so only dry buds are judged"
    share = f"{100 * chance:.0f} % chance that buds are wet"
    return f"{share}, so the colder decides" if 0.2 <= chance <= 0.8 else share


def _why(threshold: StageThreshold, record: BlockNight) -> dict[str, str]:
    """Return the reason for every value that is missing."""
    assert record.bud is not None
    return why_missing(
        threshold,
        has_humidity=record.wet is not None,
        has_dewpoint=None not in (record.dewpoint_at_low_c, record.wet_probability),
        stays_above=record.bud.first_below_utc is None,
    )
