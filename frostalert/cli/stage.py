"""`frostalert stage`: write down what was seen in a block."""

from datetime import date, timedelta
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from frostalert.agronomy.crops import find_stage
from frostalert.cli import completions
from frostalert.cli.options import ConfigOption, find_config
from frostalert.cli.say import say
from frostalert.clock import SystemClock
from frostalert.config.edit import edit_stage, find_block
from frostalert.config.load import load_settings
from frostalert.config.state_folder import state_directory
from frostalert.errors import StoreError, UsageError
from frostalert.model.settings import Settings
from frostalert.model.site import DORMANT, HARVESTED, Block
from frostalert.store.open import open_beside


def stage(
    block: Annotated[
        str,
        typer.Argument(help="Name of the block.", autocompletion=completions.blocks),
    ],
    stage: Annotated[
        str | None,
        typer.Argument(
            help='Stage of the most advanced tenth of the buds, or "dormant" or '
            '"harvested"; without one, what was seen so far is shown.',
            show_default=False,
            autocompletion=completions.stages,
        ),
    ] = None,
    *,
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
    is_sure: Annotated[
        bool,
        typer.Option("--yes", help="Do not ask when a stage goes backwards."),
    ] = False,
) -> None:
    """Write a block's stage into the configuration, its comments kept."""
    path = find_config(config)
    settings = load_settings(path, needs_secrets=False)
    farm = settings.farm
    found = find_block(farm.blocks, block)
    if stage is None:
        _show(found, settings)
        return
    name = find_stage(found.crop, stage, (DORMANT, HARVESTED))
    today = SystemClock().now_utc().astimezone(ZoneInfo(farm.site.time_zone)).date()
    try:
        day = date.fromisoformat(seen) if seen else today
    except ValueError as error:
        message = f'--seen "{seen}" is not a date; write it like 2026-04-10'
        raise UsageError(message) from error
    if day > today:
        message = f"--seen {day} lies in the future"
        raise UsageError(message)
    if _goes_back(found, name, day) and not is_sure:
        typer.confirm(
            f"{found.name} was at {found.stage} on {found.stage_seen}; {name} comes "
            "before that, and buds do not go back. Write it all the same?",
            abort=True,
        )
    before = edit_stage(path, found.name, name, day)
    say(f"{found.name}: {name} (was {before}), seen {day}. Saved in {path}.")


def _goes_back(block: Block, name: str, day: date) -> bool:
    """Return whether a stage lies before the one seen earlier in the same season."""
    stages = block.crop.stage_names
    if block.stage not in stages or name not in stages:
        return False
    is_same_season = abs(day - block.stage_seen) < timedelta(days=150)
    is_later = day >= block.stage_seen
    return (
        is_same_season and is_later and stages.index(name) < stages.index(block.stage)
    )


def _show(block: Block, settings: Settings) -> None:
    """Print what was seen in a block so far."""
    say(f"{block.name}, {block.crop.title}: {block.stage}, seen {block.stage_seen}.")
    try:
        store = open_beside(state_directory(settings.state_directory))
    except StoreError:
        say("Earlier ones are kept by the running service; there is no state yet.")
        return
    seen = [item for item in store.sightings() if item.block == block.name]
    store.database.close()
    for item in seen:
        say(f"{item.seen}  {item.stage}")
