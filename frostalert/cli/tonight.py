"""`frostalert tonight`: assess and print, send and keep nothing."""

import typer

from frostalert.cli.options import (
    ConfigOption,
    ForecastOption,
    NowOption,
    find_config,
    parse_now,
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

    from frostalert.app import build_session, build_sources
    from frostalert.clock import SystemClock
    from frostalert.config.load import load_settings
    from frostalert.decision.assess import assess
    from frostalert.decision.remarks import forecast_remarks
    from frostalert.forecast.file_source import load_run
    from frostalert.pipeline.document import assessment_document
    from frostalert.ports import SourceMemory

    settings = load_settings(find_config(config), needs_secrets=False)
    moment = parse_now(now, settings.holding.site.time_zone)
    moment = moment or SystemClock().now_utc()
    if forecast is not None:
        run = load_run(forecast, moment)
    else:
        source = build_sources(settings, build_session(settings))[0]
        fetched = source.fetch(SourceMemory(), moment)
        assert fetched.run is not None  # noqa: S101 - nothing to be "not modified" from
        run = fetched.run
    assessment = assess(settings.holding, run, moment)
    notes = forecast_remarks(settings.holding.site, run, moment)
    notes.append("no history is read here: what was said or measured before is unknown")
    if as_json:
        document = assessment_document(assessment, settings.holding, notes)
        typer.echo(json.dumps(document, indent=2, allow_nan=False))
        return
    from frostalert.cli.tables import open_console, print_assessment

    print_assessment(open_console(), assessment, settings.holding, notes)
