"""`frostalert stage`: write down what was seen in the blocks."""

import sys
from collections.abc import Sequence
from datetime import date
from typing import Annotated

import typer

from frostalert.agronomy.crops import find_stage
from frostalert.agronomy.looks import steps_back
from frostalert.cli import completions
from frostalert.cli.options import ConfigOption, closing_store, find_config
from frostalert.cli.say import say
from frostalert.cli.stage_book import Known, known_blocks, write_stages
from frostalert.cli.stage_walk import walk
from frostalert.clock import SystemClock
from frostalert.config.edit import StageEdit
from frostalert.config.load import load_settings
from frostalert.config.named_block import split_words
from frostalert.errors import NoStateError, UsageError
from frostalert.messages.stage_words import back_words
from frostalert.messages.wording import Wording
from frostalert.model.settings import Settings
from frostalert.model.site import DORMANT, HARVESTED, Block


def stage(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[BLOCK [STAGE]]",
            help="Block, or the beginning of its name, and the stage of the most "
            'advanced tenth of its buds, or "dormant" or "harvested". Without a stage, '
            "what was seen so far is shown; without a block, every block is asked for.",
            show_default=False,
            autocompletion=completions.blocks_and_stages,
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
    """Write blocks' stages into the configuration, its comments kept."""
    path = find_config(config)
    settings = load_settings(path, needs_secrets=False)
    wording = Wording(settings.farm.site, SystemClock().now_utc())
    day = _day(seen, wording.today)
    known = known_blocks(settings, path)
    if not words:
        _walk(known, day, wording)
        return
    found, given = split_words(known.farm.blocks, words)
    if given is None:
        _show(found, settings)
        return
    name = find_stage(found.crop, given, (DORMANT, HARVESTED))
    if steps_back(found, name, day) and not is_sure:
        asked = back_words(found.name, found.stage, found.stage_seen, name)
        typer.confirm(f"{asked} Write it all the same?", abort=True)
    edit = StageEdit(block=found.name, stage=name, seen=day)
    _write(known, [edit], wording)


def _day(seen: str | None, today: date) -> date:
    """Return the day of the look."""
    try:
        day = date.fromisoformat(seen) if seen else today
    except ValueError as error:
        message = f'--seen "{seen}" is not a date; write it like 2026-04-10'
        raise UsageError(message) from error
    if day > today:
        message = f"--seen {day} lies in the future"
        raise UsageError(message)
    return day


def _walk(known: Known, day: date, wording: Wording) -> None:
    """Ask for every watched block, and write all answers at once."""
    watched = known.watched(wording.today)
    if not sys.stdin.isatty():
        names = "; ".join(f'frostalert stage "{block.name}" STAGE' for block in watched)
        message = f"nobody can be asked without a terminal; write {names}"
        raise UsageError(message)
    edits = walk(watched, day, wording.today)
    # Somebody may have sent a look by phone meanwhile.
    known = known_blocks(known.settings, known.path)
    if not edits and not known.by_phone:
        say("Nothing was written.")
        return
    _write(known, edits, wording)


def _write(known: Known, edits: Sequence[StageEdit], wording: Wording) -> None:
    """Write stages, and say what that changes."""
    for line in write_stages(known, edits, wording):
        say(line)


def _show(block: Block, settings: Settings) -> None:
    """Print what was seen in a block so far."""
    say(f"{block.name}, {block.crop.title}: {block.stage}, seen {block.stage_seen}.")
    try:
        with closing_store(settings) as store:
            seen = [item for item in store.sightings() if item.block == block.name]
    except NoStateError:
        say("Earlier ones are kept by the running service; there is no state yet.")
        return
    for item in seen:
        say(f"{item.seen}  {item.stage}")
