"""`frostalert reading`: tell the service what a thermometer reads."""

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
from frostalert.cycle.readings import parse_reading, take_in
from frostalert.errors import UsageError
from frostalert.messages.wording import Wording
from frostalert.model.reading import Reading
from frostalert.model.settings import Settings
from frostalert.store.state import StateStore


def reading(
    sensor: Annotated[
        str,
        typer.Argument(
            help="Name of the thermometer.", autocompletion=completions.sensors
        ),
    ],
    value: Annotated[
        str, typer.Argument(help='What it reads, with its unit, such as "27.5 degF".')
    ],
    at: Annotated[
        str | None,
        typer.Option(
            "--at",
            metavar="ISO-TIME",
            help="When it was read; now by default.",
            show_default=False,
        ),
    ] = None,
    config: ConfigOption = None,
) -> None:
    """Keep a reading; the running service decides anew within seconds."""
    settings = load_settings(find_config(config), needs_secrets=False)
    farm = settings.farm
    names = {known.name.lower(): known.name for known in farm.sensors}
    if sensor.strip().lower() not in names:
        listed = ", ".join(f'"{name}"' for name in names.values())
        known = listed or "none; add [[sensors]]"
        message = f'there is no sensor "{sensor}"; known are {known}'
        raise UsageError(message)
    moment = parse_now(at, farm.site.time_zone, "--at")
    with closing_store(settings) as store:
        now = now_beside(store)
        name = names[sensor.strip().lower()]
        item = parse_reading(name, value, moment or now)
        lines = _keep(item, settings, now, store)
    for line in lines:
        say(line)


def _keep(
    item: Reading, settings: Settings, now: datetime, store: StateStore
) -> list[str]:
    """Keep a reading; return what is to be said of it."""
    taken = take_in([item], settings.farm, store, now)
    if not taken:
        return ["A reading of that moment was kept before."]
    wording = Wording(settings.farm.site, now)
    air, moment = wording.temperature(item.air_c), wording.moment(item.at_utc)
    words = f"{item.sensor}: {air} at {moment}. Kept"
    problem = taken[0].problem
    return [f"{words}." if problem is None else f"{words}, not believed: {problem}."]
