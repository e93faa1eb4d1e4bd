"""`frostalert season`: what became of each night, and how the warnings did."""

import csv
import io
import json
from datetime import date, timedelta
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from frostalert.cli.asked_file import goes_to_output, refuse_beside, write_asked
from frostalert.cli.options import (
    ConfigOption,
    LastNightOption,
    closing_store,
    find_config,
    parse_night,
)
from frostalert.cli.progress import progress_line
from frostalert.cli.say import say
from frostalert.clock import SystemClock
from frostalert.config.load import load_settings
from frostalert.cycle.ledger import ledger_summary, season_ledger
from frostalert.cycle.ledger_rows import COLUMNS, HEAD, ledger_line, ledger_rows
from frostalert.errors import UsageError
from frostalert.messages.wording import Wording
from frostalert.model.ledger import LedgerNight
from frostalert.model.settings import Settings
from frostalert.model.site import Farm

_DAYS = 180


def season(
    *,
    start: Annotated[
        str | None,
        typer.Option(
            "--from",
            metavar="DATE",
            help="First night; 180 days ago by default.",
            show_default=False,
        ),
    ] = None,
    end: LastNightOption = None,
    csv: Annotated[
        Path | None,
        typer.Option(
            "--csv",
            metavar="FILE",
            help="Write every night; - prints them alone.",
            show_default=False,
        ),
    ] = None,
    config: ConfigOption = None,
    as_json: bool = typer.Option(False, "--json", help="Print one JSON document."),
) -> None:
    """Print what each night was forecast, measured and said to be, and its counts.

    Nights are judged by the forecast kept from that afternoon, each block at the stage
    that was seen by then.
    """
    refuse_beside("--csv", csv, json=as_json)
    settings = load_settings(find_config(config), needs_secrets=False)
    first, last = _span(start, end, settings.farm)
    lines = _ledger(settings, first, last)
    rows = ledger_rows(lines)
    if csv is not None:
        write_asked("--csv", csv, _table(rows))
    if goes_to_output(csv):
        return
    if as_json:
        document = {"format": 1, "nights": rows, "summary": ledger_summary(lines)}
        typer.echo(json.dumps(document, indent=2))
        return
    if not lines:
        say(f"Nothing is kept of the nights from {first} to {last}.")
        return
    _print(lines, settings.farm)


def _span(start: str | None, end: str | None, farm: Farm) -> tuple[date, date]:
    """Return the nights that are meant."""
    now = SystemClock().now_utc()
    today = now.astimezone(ZoneInfo(farm.site.time_zone)).date()
    last = today - timedelta(days=1)
    last = parse_night(end, "--to") or last
    first = parse_night(start, "--from") or last - timedelta(days=_DAYS)
    if last < first:
        message = f"--to {last} lies before --from {first}"
        raise UsageError(message)
    return first, last


def _ledger(settings: Settings, first: date, last: date) -> list[LedgerNight]:
    """Return the nights by what is kept in the state."""
    with (
        closing_store(settings) as store,
        progress_line("reading the season") as progress,
    ):
        return season_ledger(settings.farm, store, first, last, on_progress=progress)


def _print(lines: list[LedgerNight], farm: Farm) -> None:
    """Print a line a night, then the season in a few sentences."""
    wording = Wording(farm.site, SystemClock().now_utc())
    typer.echo(HEAD)
    for line in lines:
        typer.echo(ledger_line(line, wording))
    typer.echo()
    for sentence in ledger_summary(lines):
        say(sentence)


def _table(rows: list[dict[str, object]]) -> bytes:
    """Return the nights as CSV."""
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, COLUMNS)
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()
