"""`frostalert crops`: the crops and their tables."""

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from frostalert.agronomy.crops import find_crop, packaged_crop_names
from frostalert.cli import completions
from frostalert.cli.options import ConfigOption, JsonOption, find_config
from frostalert.cli.say import say_json
from frostalert.cli.tables import open_console, print_crop
from frostalert.config.load import own_crops
from frostalert.errors import ConfigFileError
from frostalert.model.crop import Crop


def crops(
    crop: Annotated[
        str | None,
        typer.Argument(
            help="Show this crop's stages.",
            show_default=False,
            autocompletion=completions.crops,
        ),
    ] = None,
    config: ConfigOption = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """List the crops, or one crop's stages with kill temperatures and sources.

    Crops of your own, which the configuration names, stand among them.
    """
    own = _own(config)
    known = sorted({*packaged_crop_names(), *own})
    if as_json:
        names = [crop] if crop else known
        say_json(crops=[asdict(find_crop(name, own)) for name in names])
        return
    if crop is None:
        for name in known:
            typer.echo(f"{name}: {find_crop(name, own).title}")
        typer.echo("One crop's stages and sources: frostalert crops NAME")
        return
    print_crop(open_console(), find_crop(crop, own))


def _own(config: Path | None) -> dict[str, Crop]:
    """Return the crops of one's own; none without a configuration."""
    try:
        path = find_config(config)
    except ConfigFileError:
        return {}
    return own_crops(path)
