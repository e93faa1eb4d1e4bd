"""`frostalert reading`: tell the service what a thermometer reads."""

import sys
from datetime import datetime
from typing import Annotated

import typer

from frostalert.cli import completions
from frostalert.cli.options import (
    ConfigOption,
    closing_store,
    find_config,
    parse_now,
)
from frostalert.cli.say import say
from frostalert.clock import now_beside
from frostalert.config.load import load_settings
from frostalert.cycle.readings import doubted_c, parse_reading, take_in
from frostalert.errors import UsageError
from frostalert.messages.reading_words import doubt_lines, taken_back_words
from frostalert.messages.wording import Wording
from frostalert.model.forecast import CLOCK_SLACK
from frostalert.model.reading import Reading
from frostalert.model.site import Farm
from frostalert.store.state import StateStore


def reading(
    sensor: Annotated[
        str,
        typer.Argument(
            help="Name of the thermometer.", autocompletion=completions.sensors
        ),
    ],
    value: Annotated[
        str | None,
        typer.Argument(
            help='What it reads, with its unit, such as "27.5 degF".',
            show_default=False,
        ),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option(
            "--at",
            metavar="ISO-TIME",
            help="When it was read; now by default. With --take-back, which one.",
            show_default=False,
        ),
    ] = None,
    take_back: Annotated[
        bool,
        typer.Option(
            "--take-back",
            help="Take back the reading kept last, or that of --at: it was wrong.",
        ),
    ] = False,
    config: ConfigOption = None,
) -> None:
    """Keep a reading; the running service decides anew within seconds."""
    settings = load_settings(find_config(config), needs_secrets=False)
    name = _known_name(settings.farm, sensor)
    moment = parse_now(at, settings.farm.site.time_zone, "--at")
    if take_back == (value is not None):
        message = (
            "write what it reads, with its unit, or --take-back for the last reading"
        )
        raise UsageError(message)
    with closing_store(settings) as store:
        now = now_beside(store)
        wording = Wording(settings.farm.site, now)
        if value is None:
            lines = _take_back(name, moment, store, wording)
        else:
            _refuse_to_come(moment, wording)
            item = parse_reading(name, value, moment or now)
            lines = _keep(item, value, settings.farm, store, wording)
    for line in lines:
        say(line)


def _known_name(farm: Farm, sensor: str) -> str:
    """Return a thermometer's name as the configuration writes it."""
    names = {known.name.lower(): known.name for known in farm.sensors}
    if sensor.strip().lower() in names:
        return names[sensor.strip().lower()]
    listed = ", ".join(f'"{name}"' for name in names.values())
    message = (
        f'there is no sensor "{sensor}"; known are {listed or "none; add [[sensors]]"}'
    )
    raise UsageError(message)


def _refuse_to_come(moment: datetime | None, wording: Wording) -> None:
    """Refuse a reading of a moment to come, which nobody has read.

    A person can be asked again. What a thermometer sends with a wrong clock is kept,
    and not believed.
    """
    if moment is not None and moment > wording.now_utc + CLOCK_SLACK:
        message = (
            f"--at {wording.moment(moment)} lies in the future: it is "
            f"{wording.moment(wording.now_utc)} now. Nothing was kept"
        )
        raise UsageError(message)


def _keep(
    item: Reading, value: str, farm: Farm, store: StateStore, wording: Wording
) -> list[str]:
    """Keep a reading; return what is to be said of it."""
    doubted_by_c = doubted_c(item, store)
    doubt = [] if doubted_by_c is None else doubt_lines(item, doubted_by_c, wording)
    if doubt and sys.stdin.isatty() and not typer.confirm(f"{doubt[0]} Sure?"):
        return ["Nothing was kept."]
    taken = take_in([item], farm, store, wording.now_utc)
    if not taken:
        return ["A reading of that moment was kept before."]
    words = f"{item.sensor}: {value.strip()} at {wording.moment(item.at_utc)}. Kept"
    problem = taken[0].problem
    if problem is not None:
        return [f"{words}, not believed: {problem}."]
    return [f"{words}, not confirmed.", *doubt] if doubt else [f"{words}."]


def _take_back(
    name: str, moment: datetime | None, store: StateStore, wording: Wording
) -> list[str]:
    """Take a thermometer's reading back; return what is to be said of it."""
    gone = store.take_back(name, moment)
    if gone is None and moment is not None:
        return [f"{name} has no reading of {wording.moment(moment)} to take back."]
    if gone is None:
        return [f"{name} has no reading that could be taken back."]
    return [f"{name}, {wording.moment(gone.at_utc)}: {taken_back_words(gone, wording)}"]
