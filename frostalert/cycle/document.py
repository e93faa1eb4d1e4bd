"""An assessment as a JSON document: grows only by adding, never holds NaN.

Every null has its reason under the same name in the sibling `why`.
"""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from frostalert.model.assessment import Assessment, BlockNight, NightAssessment
from frostalert.model.site import Farm

FORMAT = 1


def assessment_document(
    assessment: Assessment,
    farm: Farm,
    notes: list[str],
    meant: Sequence[date] = (),
) -> dict[str, Any]:
    """Return an assessment as plain values ready for JSON."""
    facts = assessment.forecast
    why = {} if facts else {"source": assessment.problem or "no forecast"}
    return {
        "format": FORMAT,
        "site": farm.site.name,
        "issued_utc": _moment(assessment.issued_utc),
        "source": None
        if facts is None
        else {
            "name": facts.source,
            "title": facts.source_title,
            "place": facts.place,
            "updated_utc": _moment(facts.updated_utc),
            "fetched_utc": _moment(facts.fetched_utc),
            "age": facts.age_word,
            "notes": list(facts.notes),
        },
        "tonight": [
            night.isoformat() for night in meant or (assessment.nights[0].night,)
        ],
        "nights": [_night(night) for night in assessment.nights],
        "notes": notes,
        "why": why,
    }


def _night(night: NightAssessment) -> dict[str, Any]:
    """Return one night."""
    low = night.site_low
    values = {
        "night": night.night.isoformat(),
        "tier": night.tier.value,
        "reason": night.reason,
        "kind": night.kind.value if night.kind else None,
        "kind_reason": night.kind_reason,
        "is_frost_forecast": night.is_frost_forecast,
        "low_c": _round(night.low_c),
        "past_low_c": _round(night.past_low_c),
        "other_lows": [
            {
                "source": other.source,
                "low_c": _round(other.low_c),
                "corrected_low_c": _round(other.corrected_c),
            }
            for other in night.other_lows
        ],
        "pooled_low_c": _round(low.low_c if low else None),
        "pooled_sigma_c": _round(low.sigma_c if low else None),
        "source_spread_c": _round(low.spread_c if low else None),
        "sunset_utc": _moment(night.sunset_utc),
        "sunrise_utc": _moment(night.sunrise_utc),
        "send_by_utc": _moment(night.send_by_utc),
        "act_at_utc": _moment(night.act_at_utc),
        "stop_not_before_utc": _moment(night.stop_not_before_utc),
        "blocks": [_block(block) for block in night.blocks],
    }
    reasons = {
        "kind": "no hour of the night is known",
        "low_c": night.missing or "no hour of the night is known",
        "pooled_low_c": night.missing or "no hour of the night is known",
        "pooled_sigma_c": "there is no forecast",
        "source_spread_c": "there is no forecast",
        "past_low_c": "the night has not begun to cool, or no hour gone by is known",
        "sunset_utc": "the sun does not set within this night",
        "sunrise_utc": "the sun does not rise within this night",
        "send_by_utc": "no block is at risk",
        "act_at_utc": "no block is at risk",
        "stop_not_before_utc": "no wet bulb above 0 degC is forecast after the low",
    }
    return {**values, "why": _why(values, reasons, night.reason)}


def _block(block: BlockNight) -> dict[str, Any]:
    """Return one block's night."""
    threshold = block.stage.threshold
    bud = block.bud
    values = {
        "block": block.block,
        "crop": block.crop,
        "stage": block.stage.stage,
        "is_stage_assumed": block.stage.is_assumed,
        "stage_reason": block.stage.reason,
        "tier": block.tier.value,
        "reason": block.reason,
        "air_low_c": _round(block.air_low_c),
        "air_low_from": block.air_low_from.value if block.air_low_from else None,
        "site_low_c": _round(block.site_low_c),
        "dewpoint_at_low_c": _round(block.dewpoint_at_low_c),
        "wet_bulb_at_low_c": _round(block.wet_bulb_at_low_c),
        "wet_bulb_low_c": _round(block.wet_bulb_low_c),
        "past_low_c": _round(block.past_low_c),
        "past_low_time_utc": _moment(block.past_low_utc),
        "dry_bud_low_c": _round(block.dry.low_c if block.dry else None),
        "wet_bud_low_c": _round(block.wet.low_c if block.wet else None),
        "low_time_utc": _moment(bud.low_utc if bud else None),
        "t10_c": _round(threshold.t10_c if threshold else None),
        "t90_c": _round(threshold.t90_c if threshold else None),
        "damage_begins_c": _round(threshold.damage_begins_c if threshold else None),
        "alarm_c": _round(threshold.alarm_c if threshold else None),
        "first_below_utc": _moment(bud.first_below_utc if bud else None),
        "hours_below_alarm": _round(bud.hours_below if bud else None),
        "hours_below_t10": _round(bud.hours_below_t10 if bud else None),
        "hours_below_t90": _round(bud.hours_below_t90 if bud else None),
        "deciding_bud": block.deciding,
        "deciding_reason": block.why_deciding,
        "wet_probability": _round(block.wet_probability),
        "kill_dry_pct": _round(block.kill_dry_pct, 1),
        "kill_wet_pct": _round(block.kill_wet_pct, 1),
        "expected_kill_pct": _round(block.expected_kill_pct, 1),
        "left_before_pct": _round(block.left_before_pct, 1),
        "crop_loss_pct": _round(block.crop_loss_pct, 1),
        "start_air_c": _round(block.start_air_c),
        "water_start_utc": _moment(block.water_start_utc),
        "adverse_start_utc": _moment(block.adverse_start_utc),
        "adverse_source": block.adverse_source or None,
        "probability_at_risk": _round(block.probability, 4),
        "probability_below_t10": _round(block.probability_below_t10, 4),
        "low_sigma_c": _round(block.low_sigma_c if bud else None),
        "sigma_c": _round(block.sigma_c if bud else None),
    }
    return {**values, "why": _why(values, block.why, block.reason)}


def _why(
    values: dict[str, Any], reasons: dict[str, str], otherwise: str
) -> dict[str, str]:
    """Return the reason for every value that is null, and for no other."""
    return {
        name: reasons.get(name, otherwise)
        for name, value in values.items()
        if value is None
    }


def _round(value: float | None, places: int = 2) -> float | None:
    """Return a number short enough to read."""
    return None if value is None else round(value, places)


def _moment(moment: datetime | None) -> str | None:
    """Return a moment in UTC to the second."""
    if moment is None:
        return None
    return moment.replace(microsecond=0).isoformat().replace("+00:00", "Z")
