"""Past springs as plain values, for JSON."""

from frostalert.model.past import (
    PastNight,
    PastSprings,
    SettingResult,
    SpringSpan,
    Tally,
)
from frostalert.past.answer import tally


def past_document(answer: PastSprings) -> dict[str, object]:
    """Return the answer as plain values; every null has its reason in "why"."""
    truth = answer.truth
    return {
        "what_came": {
            "kind": truth.kind.value,
            "name": truth.name,
            "nights": len(truth.lows_c),
            "distance_km": _rounded(truth.distance_km),
            "above_site_m": _rounded(truth.above_m),
            "left_out": truth.left_out,
            "notes": list(truth.notes),
            "why": _why(
                distance_km=(truth.distance_km, "not a station, or its place unknown"),
                above_site_m=(truth.above_m, "not a station, or its height unknown"),
            ),
        },
        "sources": list(answer.sources),
        "sources_without_archive": list(answer.without_archive),
        "years_with_stages_seen": list(answer.stage_years),
        "pairs_learned": answer.pairs,
        "is_source_asked": answer.is_source_asked,
        "springs": [_spring(answer, span) for span in answer.present.springs],
        "settings": [_setting(item) for item in answer.settings],
    }


def all_nights(setting: SettingResult) -> tuple[PastNight, ...]:
    """Return the nights of all springs of a setting."""
    return tuple(night for nights in setting.springs.values() for night in nights)


def _spring(answer: PastSprings, span: SpringSpan) -> dict[str, object]:
    """Return one spring."""
    nights = answer.present.springs[span]
    return {
        "first": span.first.isoformat(),
        "last": span.last.isoformat(),
        **_counts(tally(nights)),
        "losses_if_nothing_done": [
            {
                "block": cost.block,
                "crop_lost_pct": _rounded(cost.lost_pct),
                "value": _rounded(cost.value),
                "why": _why(
                    crop_lost_pct=(cost.lost_pct, "no kill curve is published"),
                    value=(cost.value, "no crop_value, or no kill curve"),
                ),
            }
            for cost in answer.costs.get(span, ())
        ],
        "nights": [_night(night) for night in nights],
    }


def _night(night: PastNight) -> dict[str, object]:
    """Return one night."""
    return {
        "night": night.night.isoformat(),
        "forecast_low_c": _rounded(night.source_c),
        "site_low_c": _rounded(night.low_c),
        "came_c": _rounded(night.came_c),
        "chance_of_harm": round(night.chance, 3),
        "ready": night.is_ready,
        "called": night.is_called,
        "harmful": night.is_harmful,
        "needed_hands": night.is_worth_hands,
        "why": _why(
            forecast_low_c=(night.source_c, "the archive lacks hours of it"),
            site_low_c=(night.low_c, "the archive lacks hours of it"),
            came_c=(night.came_c, "nothing was measured"),
        ),
    }


def _setting(setting: SettingResult) -> dict[str, object]:
    """Return one setting."""
    return {
        "name": setting.name.value,
        "keys": setting.keys,
        "why_not": setting.why_not,
        **_counts(tally(all_nights(setting))),
    }


def _counts(counts: Tally) -> dict[str, object]:
    """Return how calls and cold went together."""
    return {
        "nights_known": counts.nights,
        "nights_harmful": counts.harmful,
        "nights_needing_hands": counts.worth_hands,
        "ready": counts.ready,
        "ready_needed": counts.ready_needed,
        "ready_missed": counts.ready_missed,
        "called": counts.called,
        "called_needed": counts.called_needed,
        "called_missed": counts.called_missed,
    }


def _why(**fields: tuple[float | None, str]) -> dict[str, str]:
    """Return the reasons of what is not there."""
    return {name: why for name, (value, why) in fields.items() if value is None}


def _rounded(value: float | None) -> float | None:
    """Return a number as exact as it can be known."""
    return None if value is None else round(value, 2)
