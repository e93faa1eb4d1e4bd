"""`frostalert crops`: the crops and their tables."""

from typing import Annotated

import typer

from frostalert.cli import completions
from frostalert.cli.options import JsonOption
from frostalert.cli.say import say_json


def crops(
    crop: Annotated[
        str | None,
        typer.Argument(
            help="Show this crop's stages.",
            show_default=False,
            autocompletion=completions.crops,
        ),
    ] = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """List the crops, or one crop's stages with kill temperatures and sources."""
    from dataclasses import asdict

    from frostalert.agronomy.crops import find_crop, packaged_crop_names
    from frostalert.cli.tables import open_console, print_crop

    if as_json:
        names = [crop] if crop else packaged_crop_names()
        say_json(crops=[asdict(find_crop(name, {})) for name in names])
        return
    if crop is None:
        for name in packaged_crop_names():
            typer.echo(f"{name}: {find_crop(name, {}).title}")
        typer.echo("One crop's stages and sources: frostalert crops NAME")
        return
    print_crop(open_console(), find_crop(crop, {}))
