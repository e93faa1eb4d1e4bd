"""`frostalert stage`: write down what was seen in a block."""

from typing import Annotated

import typer

from frostalert.cli.options import ConfigOption, find_config
from frostalert.cli.say import say


def stage(
    block: Annotated[str, typer.Argument(help="Name of the block.")],
    stage: Annotated[
        str,
        typer.Argument(
            help='Stage of the most advanced tenth of the buds, or "dormant" or '
            '"harvested".'
        ),
    ],
    config: ConfigOption = None,
    seen: Annotated[
        str | None,
        typer.Option(
            "--seen",
            metavar="DATE",
            help="Date on which it was seen; today by default.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Write a block's stage into the configuration, its comments kept."""
    from datetime import date
    from zoneinfo import ZoneInfo

    from frostalert.agronomy.crops import find_stage
    from frostalert.clock import SystemClock
    from frostalert.config.edit import edit_stage, find_block
    from frostalert.config.load import load_settings
    from frostalert.errors import UsageError
    from frostalert.model.site import DORMANT, HARVESTED

    path = find_config(config)
    holding = load_settings(path, needs_secrets=False).holding
    found = find_block(holding.blocks, block)
    name = find_stage(found.crop, stage, (DORMANT, HARVESTED))
    today = SystemClock().now_utc().astimezone(ZoneInfo(holding.site.time_zone)).date()
    try:
        day = date.fromisoformat(seen) if seen else today
    except ValueError as error:
        message = f'--seen "{seen}" is not a date; write it like 2026-04-10'
        raise UsageError(message) from error
    if day > today:
        message = f"--seen {day} lies in the future"
        raise UsageError(message)
    before = edit_stage(path, found.name, name, day)
    say(f"{found.name}: {name} (was {before}), seen {day}. Saved in {path}.")
