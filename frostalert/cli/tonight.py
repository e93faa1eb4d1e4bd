"""`frostalert tonight`: assess and print, send and keep nothing."""

import json
from collections.abc import Mapping
from datetime import date

import typer

from frostalert.cli.live_context import LiveContext, load_context
from frostalert.cli.options import (
    ConfigOption,
    ForecastOption,
    NowOption,
    find_config,
)
from frostalert.cli.say import say
from frostalert.cli.tables import NightAnswer, open_console, print_assessment
from frostalert.config.load import load_settings
from frostalert.cycle.document import assessment_document
from frostalert.cycle.plan_document import with_plan
from frostalert.messages.household_words import household_text
from frostalert.messages.lead_words import first_start_utc
from frostalert.messages.wording import Wording
from frostalert.model.assessment import NightAssessment
from frostalert.model.plan import Plan
from frostalert.report.answer import answered


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
        night.night: _answer(context, night, plan)
        for night in shown
        if (plan := plans[night.night]) is not None
    }
    console, farm = open_console(), settings.farm
    print_assessment(console, assessment, farm, notes, context.meant, answers)
    if answers:
        _say_household(plans, Wording(farm.site, context.moment))
        typer.echo("\nWhat to do tonight: frostalert plan")


def _answer(context: LiveContext, night: NightAssessment, plan: Plan) -> NightAnswer:
    """Return what a night's plan comes to, in the words of mail and page."""
    history = context.told.get(night.night)
    told = answered(context.nights, (night,), plan, history, context.moment)
    first = first_start_utc(plan)
    ready_by = ""
    if first is not None and first > context.moment:
        ready_by = Wording(context.nights.farm.site, context.moment).clock(first)
    return NightAnswer(words=told.title, ready_by=ready_by)


def _say_household(plans: Mapping[date, Plan | None], wording: Wording) -> None:
    """Print what a house has for low plants at risk, where there is no equipment."""
    plan = next((plan for plan in plans.values() if plan is not None), None)
    lines = () if plan is None else household_text(plan, wording)
    if lines:
        say("\n".join(["", *lines]))
