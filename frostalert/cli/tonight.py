"""`frostalert tonight`: assess and print, send and keep nothing."""

import json

import typer

from frostalert.cli.live_context import LiveContext, load_context
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

    meant = context.meant
    print_assessment(open_console(), assessment, settings.farm, notes, meant)
    if any(night.at_risk for night in assessment.nights if night.night in meant):
        _say_household(context)
        typer.echo("\nWhat to do with what is there: frostalert plan")


def _say_household(context: LiveContext) -> None:
    """Print what a house has for low plants at risk, where there is no equipment."""
    plan = context.plan()
    if plan is None:
        return
    wording = Wording(context.nights.farm.site, plan.made_utc)
    lines = household_text(plan, wording)
    if lines:
        say("\n".join(["", *lines]))
