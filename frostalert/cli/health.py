"""`frostalert health`: whether the service can be relied on."""

import json

import typer

from frostalert.cli.options import ConfigOption, find_config, settings_in_force
from frostalert.cli.say import say
from frostalert.config.state_folder import state_directory, state_directory_of
from frostalert.errors import FrostalertError
from frostalert.health import read_health
from frostalert.store.lock import is_held

EXIT_CODES = {"good": 0, "look": 1, "bad": 2}
_UNKNOWN = 3


def health(
    config: ConfigOption = None,
    *,
    as_json: bool = typer.Option(False, "--json", help="Print it as JSON."),
    alive: bool = typer.Option(
        False, "--alive", help="Ask only whether the service runs: exit code 0 or 2."
    ),
) -> None:
    """Say whether the service can be relied on just now: the verdict, then why.

    Exit codes, as monitors expect them: 0 good, 1 look at it, 2 bad, 3 not known.
    """
    if alive:
        is_running = is_held(state_directory_of(find_config(config)))
        say("running" if is_running else "frostalert run is not running")
        raise typer.Exit(0 if is_running else EXIT_CODES["bad"])
    try:
        settings = settings_in_force(find_config(config))
        found = read_health(settings, state_directory(settings.state_directory))
    except FrostalertError as error:
        typer.echo(f"not known: {error}")
        raise typer.Exit(_UNKNOWN) from error
    if as_json:
        content = {
            "format": 1,
            "light": found.light.value,
            "findings": [
                {"light": finding.light.value, "words": finding.words}
                for finding in found.findings
            ],
        }
        typer.echo(json.dumps(content, indent=2))
    else:
        for line in found.lines:
            say(line)
    raise typer.Exit(EXIT_CODES[found.light.value])
