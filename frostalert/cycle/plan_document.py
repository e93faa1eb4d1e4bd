"""A plan as part of the JSON document: numbers in the units used inside."""

from dataclasses import asdict
from datetime import datetime, timedelta
from enum import Enum
from typing import Any

from frostalert.model.assessment import Assessment
from frostalert.model.plan import (
    Budget,
    GainFacts,
    Household,
    Option,
    Plan,
    TankShare,
    Task,
    WaterFacts,
)

_NO_PLAN = "no block is at risk on any night that the forecast reaches"


def with_plan(
    document: dict[str, Any], plan: Plan | None, assessment: Assessment
) -> dict[str, Any]:
    """Return an assessment's document with the plan in it."""
    if plan is None:
        why = document["why"] | {"plan": assessment.problem or _NO_PLAN}
        return {**document, "plan": None, "why": why}
    return {**document, "plan": plan_values(plan)}


def plan_values(plan: Plan) -> dict[str, Any]:
    """Return a plan as plain values."""
    where = plan.where
    return {
        "night": plan.night.isoformat(),
        "hands": plan.hands,
        "are_hands_assumed": plan.are_hands_assumed,
        "is_by_value": plan.is_by_value,
        "chosen": [_option(item) for item in plan.chosen],
        "not_reckoned": [_option(item) for item in plan.listed],
        "refused": [_option(item) for item in plan.refused],
        "not_chosen": [
            {
                "block": item.option.block,
                "equipment": item.option.equipment,
                "method": item.option.method.name,
                "verdict": item.option.verdict.value,
                "reason": item.why.value,
                "beside": item.beside,
                "short": item.short,
            }
            for item in plan.passed_over
        ],
        "left_out": [
            {"block": item.block, "reason": item.why.value, "short": item.short}
            for item in plan.left_out
        ],
        "budgets": [_budget(item) for item in plan.budgets],
        "tank": None if plan.tank is None else _tank(plan.tank),
        "household": None if plan.household is None else _household(plan.household),
        "tasks": [_task(item) for item in plan.tasks],
        "dropped": [_task(item) for item in plan.dropped],
        "taken_as_done": [_task(item) for item in plan.taken_as_done],
        "heat_side": where.side.value if where and where.side else None,
        "heat_side_reason": where.why.value if where else None,
        "stop_not_before_utc": _plain(plan.stop_not_before_utc),
        "not_tried": list(plan.unready),
        "why": _why(plan),
    }


def _why(plan: Plan) -> dict[str, str]:
    """Return the reason for every value of a plan that is null."""
    why = {}
    if plan.household is None:
        why["household"] = "there is equipment, or no low plants are at risk"
    if plan.tank is None:
        why["tank"] = "no second night in a row asks for the same tank"
    if plan.where is None:
        why["heat_side"] = why["heat_side_reason"] = "no heat is in the plan"
    elif plan.where.side is None:
        why["heat_side"] = plan.where.why.value
    if plan.stop_not_before_utc is None:
        why["stop_not_before_utc"] = "the forecast does not show a thaw"
    return why


def _option(option: Option) -> dict[str, Any]:
    """Return what is done, or not done, in one block."""
    facts = option.facts
    values = {
        "block": option.block,
        "equipment": option.equipment,
        "method": option.method.name,
        "verdict": option.verdict.value,
        "reasons": [ground.value for ground in option.grounds],
        "loss_before": round(option.loss_before, 3),
        "loss_after": round(option.loss_after, 3),
        "units": option.units,
        "start_utc": _plain(option.start_utc),
        "end_utc": _plain(option.end_utc),
        "wind_mps": _plain(option.wind_mps),
        "takes": [
            {"what": kind.value, "of": name or "supply", "amount": round(amount, 2)}
            for kind, name, amount in option.uses
        ],
        "water": _facts(facts) if isinstance(facts, WaterFacts) else None,
        "gain": _facts(facts) if isinstance(facts, GainFacts) else None,
        "together_with": option.together.partner if option.together else None,
    }
    reason = "refused or not reckoned" if facts is None else "another kind of method"
    reasons = {"water": reason, "gain": reason, "together_with": "it runs alone there"}
    return {
        **values,
        "why": {
            name: reasons.get(name, "it does not run tonight")
            for name, value in values.items()
            if value is None
        },
    }


def _facts(facts: WaterFacts | GainFacts) -> dict[str, Any]:
    """Return the numbers behind a verdict, and why any is missing."""
    values = {name: _plain(value) for name, value in asdict(facts).items()}
    if isinstance(facts, WaterFacts):
        # A key of the document that has always said the same.
        values["film_life"] = values["longest_round"]
    missing = "not known, or of no meaning for this method"
    return {
        **values,
        "why": {name: missing for name, value in values.items() if value is None},
    }


def _budget(budget: Budget) -> dict[str, Any]:
    """Return one supply."""
    values = {name: _plain(value) for name, value in asdict(budget).items()}
    reasons = {
        "lasts_until_utc": "it lasts",
        "at_hand": "nobody has said how much there is",
    }
    why = {name: reasons[name] for name, value in values.items() if value is None}
    return {**values, "short": _plain(budget.short), "why": why}


def _household(household: Household) -> dict[str, Any]:
    """Return what a house has for low plants."""
    return {
        "blocks": household.blocks,
        "is_laid": household.is_laid,
        "means": [
            {"text": item.text, "source": item.source} for item in household.means
        ],
    }


def _tank(tank: TankShare) -> dict[str, Any]:
    """Return how a tank is shared with the next night."""
    nights = {"next_night": tank.next_night.isoformat(), "gets": tank.gets.isoformat()}
    return {name: _plain(value) for name, value in (asdict(tank) | nights).items()}


def _task(task: Task) -> dict[str, Any]:
    """Return one task."""
    values = {name: _plain(value) for name, value in asdict(task).items()}
    return {
        **values,
        "why": {name: "done once" for name, value in values.items() if value is None},
    }


def _plain(value: Any) -> Any:
    """Return a value as JSON has it; durations in minutes."""
    if isinstance(value, datetime):
        return value.replace(microsecond=0).isoformat().replace("+00:00", "Z")
    if isinstance(value, timedelta):
        return round(value / timedelta(minutes=1), 1)
    if isinstance(value, Enum):
        return value.value
    return round(value, 3) if isinstance(value, float) else value
