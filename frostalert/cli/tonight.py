"""`frostalert tonight`: assess and print, send and keep nothing."""

import typer

from frostalert.cli.options import (
    ConfigOption,
    ForecastOption,
    NowOption,
    find_config,
    open_forecast,
)


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
    from frostalert.decision.assess import assess
    from frostalert.decision.remarks import forecast_remarks
    from frostalert.pipeline.document import assessment_document

    settings = load_settings(find_config(config), needs_secrets=False)
    run, moment = open_forecast(settings, forecast, now)
    assessment = assess(settings.holding, run, moment)
    notes = forecast_remarks(settings.holding.site, run, moment)
    notes.append("no history is read here: what was said or measured before is unknown")
    if as_json:
        document = assessment_document(assessment, settings.holding, notes)
        typer.echo(json.dumps(document, indent=2, allow_nan=False))
        return
    from frostalert.cli.tables import open_console, print_assessment

    print_assessment(open_console(), assessment, settings.holding, notes)
