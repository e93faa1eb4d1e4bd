"""`frostalert tonight`: assess and print, send and keep nothing."""

import json
from collections.abc import Mapping
from datetime import date

import typer

from frostalert.cli.live_context import load_context
from frostalert.cli.night_answer import night_answer
from frostalert.cli.options import (
    ConfigOption,
    ForecastOption,
    NowOption,
    find_config,
)
from frostalert.cli.say import say
from frostalert.cli.tables import open_console, print_assessment
from frostalert.config.load import load_settings
from frostalert.cycle.document import assessment_document
from frostalert.cycle.plan_document import with_plan
from frostalert.messages.household_words import household_text
from frostalert.messages.wording import Wording
from frostalert.model.plan import Plan


def tonight(
    config: ConfigOption = None,
    forecast: ForecastOption = None,
    now: NowOption = None,
    *,
    as_json: bool = typer.Option(False, "--json", help="Print one JSON document."),
) -> None:
    """Assess the coming nights and print them; nothing is sent, nothing is kept."""
    settings = load_settings(find_config(config), needs_secrets=False)
    context = load_context(settings, forecast, now)
    assessment, notes = context.nights.assessment, list(context.remarks)
    if not context.nights.facts.has_history:
        notes.append("no history is read here: what was measured before is unknown")
    if as_json:
        document = assessment_document(assessment, settings.farm, notes, context.meant)
        document = with_plan(document, context.plan(), assessment)
        typer.echo(json.dumps(document, indent=2, allow_nan=False))
        return

    shown = [night for night in assessment.nights if night.night in context.meant]
    plans = {night.night: context.plan(night.night) for night in shown}
    answers = {
        night.night: night_answer(
            context.nights,
            night,
            plan,
            context.told.get(night.night),
            context.moment,
        )
        for night in shown
        if (plan := plans[night.night]) is not None
    }
    console, farm = open_console(), settings.farm
    print_assessment(console, assessment, farm, notes, context.meant, answers)
    if answers:
        _say_household(plans, Wording(farm.site, context.moment))
        typer.echo("\nWhat to do tonight: frostalert plan")


def _say_household(plans: Mapping[date, Plan | None], wording: Wording) -> None:
    """Print what a house has for low plants at risk, where there is no equipment."""
    plan = next((plan for plan in plans.values() if plan is not None), None)
    lines = () if plan is None else household_text(plan, wording)
    if lines:
        say("\n".join(["", *lines]))
