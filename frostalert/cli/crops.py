"""`frostalert crops`: the crops and their tables."""

from typing import Annotated

import typer

from frostalert.cli import completions


def crops(
    crop: Annotated[
        str | None,
        typer.Argument(
            help="Show this crop's stages.",
            show_default=False,
            autocompletion=completions.crops,
        ),
    ] = None,
) -> None:
    """List the crops, or one crop's stages with kill temperatures and sources."""
    from frostalert.agronomy.crops import find_crop, packaged_crop_names
    from frostalert.cli.tables import open_console, print_crop

    if crop is None:
        for name in packaged_crop_names():
            typer.echo(f"{name}: {find_crop(name, {}).title}")
        typer.echo("One crop's stages and sources: frostalert crops NAME")
        return
    print_crop(open_console(), find_crop(crop, {}))
