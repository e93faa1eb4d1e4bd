"""The walk through the blocks: one key and Enter for each."""

from collections.abc import Sequence
from datetime import date

import typer

from frostalert.agronomy.looks import (
    is_of_this_season,
    likely_stages,
    stages_of,
    steps_back,
)
from frostalert.cli.say import say
from frostalert.config.edit import StageEdit
from frostalert.messages.stage_words import back_words, seen_words
from frostalert.model.site import Block

_SKIP, _BACK, _ALL = "s", "b", "?"


def walk(blocks: Sequence[Block], day: date, today: date) -> list[StageEdit]:
    """Return what was seen, block by block; nothing is written yet.

    Parameters
    ----------
    blocks : sequence of Block
        The blocks to be asked for.
    day : date
        Date of the look.
    today : date
        The present one.
    """
    when = "today" if day == today else f"on {day}"
    say(
        "Enter or a number for each block; s skips it, b goes back, ? shows all stages."
    )
    answers: dict[int, str | None] = {}
    place = 0
    while place < len(blocks):
        block = blocks[place]
        say(f"{block.name}: {_known_words(block, day, today)}.")
        answer = _ask(block, day, when)
        if answer == _BACK:
            place = max(0, place - 1)
            continue
        answers[place] = None if answer == _SKIP else answer
        place += 1
    return [
        StageEdit(block=blocks[n].name, stage=stage, seen=day)
        for n, stage in answers.items()
        if stage is not None
    ]


def _known_words(block: Block, day: date, today: date) -> str:
    """Return what was seen last; an earlier season's stage is nothing to go on from."""
    seen = seen_words(block.stage_seen, today)
    if is_of_this_season(block, day):
        return f"{block.stage}, {seen}"
    return f"not looked at this season ({block.stage} {seen} no longer counts)"


def _ask(block: Block, day: date, when: str) -> str:
    """Return the stage that was seen, or one of the keys "s" and "b"."""
    same = block.stage if is_of_this_season(block, day) else None
    offered = likely_stages(block, day)
    while True:
        listed = [f"{n} {name}" for n, name in enumerate(offered, 1)]
        keys = [f"Enter = the same {when}"] if same is not None else []
        say(f"  {', '.join([*keys, *listed])}")
        key = typer.prompt("  ", default="", show_default=False, prompt_suffix="> ")
        key = key.strip().lower()
        if key == _ALL:
            offered = stages_of(block.crop)
            continue
        if key in (_SKIP, _BACK):
            return str(key)
        stage = _named(key, same, offered)
        if stage is not None and _is_meant(block, stage, day):
            return stage


def _named(key: str, same: str | None, offered: Sequence[str]) -> str | None:
    """Return the stage that a key stands for, if it stands for one."""
    if not key and same is not None:
        return same
    if key.isdecimal() and 1 <= int(key) <= len(offered):
        return offered[int(key) - 1]
    say(f"  {key or 'Enter'} is none of these.")
    return None


def _is_meant(block: Block, stage: str, day: date) -> bool:
    """Return whether a stage that goes backwards is meant all the same."""
    if not steps_back(block, stage, day):
        return True
    asked = back_words(block.name, block.stage, block.stage_seen, stage)
    return typer.confirm(f"  {asked} Write it all the same?")
