"""`frostalert tonight`: assess and print, send and keep nothing."""

from typing import TYPE_CHECKING

import typer

from frostalert.cli.known import judge_known, known_holding
from frostalert.cli.options import (
    ConfigOption,
    ForecastOption,
    NowOption,
    find_config,
    open_forecast,
)

if TYPE_CHECKING:
    from frostalert.model.plan import Plan
    from frostalert.model.site import Holding
    from frostalert.pipeline.judging import Judged


def tonight(
    config: ConfigOption = None,
    forecast: ForecastOption = None,
    now: NowOption = None,
    *,
    as_json: bool = typer.Option(False, "--json", help="Print one JSON document."),
) -> None:
    """Assess the coming nights and print them; nothing is sent, nothing is kept."""
    import json

    from frostalert.config.load import load_settings
    from frostalert.decision.remarks import forecast_remarks
    from frostalert.pipeline.document import assessment_document
    from frostalert.pipeline.plan_document import with_plan

    settings = load_settings(find_config(config), needs_secrets=False)
    run, moment = open_forecast(settings, forecast, now)
    is_live = forecast is None and now is None
    judged = judge_known(settings, run, moment, is_live=is_live)
    assessment = judged.assessment
    notes = forecast_remarks(settings.holding.site, run, moment)
    if not judged.has_history:
        notes.append("no history is read here: what was measured before is unknown")
    if as_json:
        document = assessment_document(assessment, settings.holding, notes)
        made = _plan(known_holding(settings, is_live=is_live), judged)
        document = with_plan(document, made, assessment)
        typer.echo(json.dumps(document, indent=2, allow_nan=False))
        return
    from frostalert.cli.tables import open_console, print_assessment

    print_assessment(open_console(), assessment, settings.holding, notes)
    if assessment.nights[0].at_risk:
        typer.echo("\nWhat to do with what is there: frostalert plan")


def _plan(holding: "Holding", judged: "Judged") -> "Plan | None":
    """Return the plan of the nearest night at risk, if there is one."""
    from frostalert.decision.plan import make_plan

    assert judged.run is not None  # noqa: S101 - a command has a run
    nights = judged.assessment.nights
    place = next((n for n, night in enumerate(nights) if night.at_risk), None)
    if place is None:
        return None
    following = nights[place + 1] if place + 1 < len(nights) else None
    return make_plan(
        holding,
        judged.run,
        nights[place],
        judged.assessment.issued_utc,
        next_night=following,
    )
