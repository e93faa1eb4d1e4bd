"""`frostalert config`: check the configuration, print the example."""

from dataclasses import replace

import typer

from frostalert.cli.commands import PLAIN
from frostalert.cli.options import ConfigOption, find_config
from frostalert.cli.say import counted
from frostalert.cli.stage_book import known_blocks
from frostalert.clock import SystemClock
from frostalert.config.example import example_text
from frostalert.config.load import load_settings
from frostalert.config.remarks import settings_remarks
from frostalert.model.channel import CHANNELS

app = typer.Typer(
    help="Check the configuration, or print an example.", add_completion=False, **PLAIN
)


@app.command("check")
def check(
    config: ConfigOption = None,
    *,
    without_secrets: bool = typer.Option(
        False, "--without-secrets", help="Do without passwords that cannot be read."
    ),
) -> None:
    """Check the whole file and say everything that is wrong, or that nothing is.

    A stage that was sent by phone and is newer than the file's counts.
    """
    path = find_config(config)
    settings = load_settings(path, needs_secrets=not without_secrets)
    known = known_blocks(settings, path)
    farm = known.farm
    blocks = counted(len(farm.blocks), "block")
    typer.echo(
        f"{path}: good. {farm.site.name}, {blocks}, "
        f"{counted(len(farm.people), 'person', 'people')}."
    )
    for row in CHANNELS:
        login = settings.of_channel(row.kind)
        if login is not None and login.username is not None:
            shown = login.password if login.password is not None else "not to be read"
            typer.echo(f"{row.section}: log-in {login.username}, password {shown}")
    for look in known.by_phone:
        seen = look.sighting
        typer.echo(
            f"By phone: {seen.block}: {seen.stage}, seen {seen.seen} by {look.person}. "
            "It counts; frostalert stage writes it into the file."
        )
    if known.problem is not None:
        typer.echo(
            f"Note: by the file alone, without stages by phone: {known.problem}."
        )
    settings = replace(settings, farm=farm)
    for remark in settings_remarks(settings, SystemClock().now_utc()):
        typer.echo(f"Note: {remark}.")


@app.command("example")
def example() -> None:
    """Print the commented example configuration."""
    typer.echo(example_text(), nl=False)
