"""Assessments as tables on the terminal, no wider than 80 columns when piped."""

import os
import sys
from collections.abc import Mapping, Sequence
from datetime import date

from rich.console import Console
from rich.table import Table
from rich.text import Text

from frostalert.cli.night_answer import NightAnswer
from frostalert.messages.views import (
    BlockView,
    NightView,
    night_view,
    source_view,
)
from frostalert.messages.wording import NO_CURVE, Wording, capital
from frostalert.model.assessment import Assessment, Tier
from frostalert.model.crop import Crop
from frostalert.model.site import Farm
from frostalert.model.tier_words import TIER_WORDS

_STYLES = {
    Tier.NONE: "",
    Tier.OUTLOOK: "yellow",
    Tier.PREPARE: "bold yellow",
    Tier.ACT: "bold red",
    Tier.CANNOT_JUDGE: "bold magenta",
    Tier.NOT_COVERED_YET: "dim",
}
_NUMBERS = (
    ("Air", 0),
    ("Wet\nbulb", 1),
    ("Dry\nbud", 2),
    ("Wet\nbud", 2),
    ("Harm\nat", 0),
    ("Loss\ndry", 3),
    ("Loss\nwet", 3),
    ("\nRisk", 0),
)
"""Each column with its rank: where room is short the highest goes first, 0 never."""
_NAME_COLUMNS = 12
_GAP_COLUMNS = 2
_PIPED_COLUMNS = 80
_WIDEST = 100


def open_console() -> Console:
    """Return a console that keeps to 80 columns and plain text when piped."""
    is_terminal = sys.stdout.isatty()
    console = Console(
        no_color=not is_terminal or bool(os.environ.get("NO_COLOR")),
        highlight=False,
        width=None if is_terminal else _PIPED_COLUMNS,
    )
    if is_terminal and console.width > _WIDEST:
        console.width = _WIDEST
    return console


def print_assessment(
    console: Console,
    assessment: Assessment,
    farm: Farm,
    notes: list[str],
    meant: Sequence[date] = (),
    answers: Mapping[date, NightAnswer] | None = None,
) -> None:
    """Print the nights that are meant by "tonight" block by block, all a line each.

    `answers` are what the plans of some of them come to.
    """
    wording = Wording(farm.site, assessment.issued_utc)
    views = [night_view(night, farm, wording) for night in assessment.nights]
    source = source_view(assessment, wording)
    moment = wording.moment(assessment.issued_utc)
    console.print(Text.assemble((farm.site.name, "bold"), f", {moment}"))
    console.print(Text(source.line + "."))
    for note in (*source.notes, *notes):
        console.print(Text(f"Note: {note}."))
    console.print()
    # What is described under [[equipment]] has a plan of its own, and its hours.
    has_plan = bool(farm.equipment)
    present = meant or (assessment.nights[0].night,)
    shown = [view for view in views if view.date in present]
    coming = [view for view in views if view.date >= present[0]]
    worst = max(coming, key=lambda view: view.tier.rank)
    if worst.tier.rank > max(view.tier.rank for view in shown):
        shown.append(worst)
    for view in shown:
        answer = (answers or {}).get(view.date)
        _print_night(console, view, answer, has_plan=has_plan)
        console.print()
    _print_coming(console, views)


def print_crop(console: Console, crop: Crop) -> None:
    """Print a crop's stages with both units and the source of every row."""
    console.print(Text(f"{crop.title} ({crop.name})", style="bold"))
    table = Table(box=None, pad_edge=False, padding=(0, 1), header_style="bold")
    for name in ("Stage", "10 % kill", "90 % kill", "Harm begins", "Warn at"):
        table.add_column(name)
    sources: dict[str, list[str]] = {}
    for row in crop.stages:
        values = (row.t10_c, row.t90_c, row.damage_begins_c, row.alarm_c)
        table.add_row(row.stage, *(_both(value) for value in values))
        sources.setdefault(row.source, []).append(row.stage)
    console.print(table)
    console.print(Text(f"Exposure: {crop.exposure_minutes:.0f} minutes."))
    for source, stages in sources.items():
        console.print(Text(f"Source of {', '.join(stages)}: {source}."))
    for note in crop.notes:
        console.print(Text(f"Note: {note}"))


def _both(celsius: float | None) -> str:
    """Return a temperature in both units."""
    if celsius is None:
        return "-"
    return f"{celsius * 1.8 + 32:.1f} F {celsius:.1f} C".replace(".0 F", " F")


def _print_night(
    console: Console, view: NightView, answer: NightAnswer | None, *, has_plan: bool
) -> None:
    """Print one night block by block."""
    console.print(
        Text.assemble(
            f"{view.name}: ",
            (view.tier_words, _STYLES[view.tier]),
            f". {view.reason}.",
        )
    )
    if answer is not None:
        console.print(Text(answer.words))
    if view.worst is None:
        for block in view.blocks:
            console.print(Text(f"  {block.name}: {block.reason}."))
        return
    console.print(
        Text(
            f"Kind: {view.kind}. Sunset {view.sunset}, sunrise {view.sunrise}. Give or "
            f"take {view.plus_minus}."
        )
    )
    if view.send_by != "-":
        console.print(Text(_hours(view, answer)))
    if view.second:
        console.print(Text(f"{view.second}."))
    if view.gap_note:
        console.print(Text(view.gap_note))
    if view.order and not has_plan:
        console.print(Text(f"Start order: {view.order}."))
    _print_blocks(console, view)
    _print_block_notes(console, view)


def _hours(view: NightView, answer: NightAnswer | None) -> str:
    """Return from when to prepare, by when to be ready, and when it does harm.

    With a plan its own hours go before: nobody is to be ready for what it forbids.
    """
    work = f"get ready from {view.send_by}, ready to start at {view.act_at}"
    if answer is not None:
        work = f"ready to start at {answer.ready_by}" if answer.ready_by else ""
    is_low_alone = view.harm.startswith("coldest")
    harm = view.harm if is_low_alone else f"harm {view.harm}"
    return f"{capital('; '.join(filter(None, [work, harm])))}."


def _print_block_notes(console: Console, view: NightView) -> None:
    """Print what the table cannot hold: blocks not judged, and stages assumed."""
    for block in view.blocks:
        if not block.has_numbers:
            console.print(Text(f"{block.name}: {block.reason}."))
        if block.is_stage_assumed:
            console.print(
                Text(
                    f"{block.name}: {block.stage_note}. Look, then: frostalert stage "
                    f'"{block.name}" STAGE'
                )
            )


def _print_blocks(console: Console, view: NightView) -> None:
    """Print the blocks of one night as a table, and what it has no room for."""
    rows = [_numbers(block) if block.has_numbers else () for block in view.blocks]
    shown = _columns_that_fit(rows, console.width)
    table = Table(box=None, pad_edge=False, padding=(0, 1), header_style="bold")
    table.add_column("Block\n  stage", min_width=_NAME_COLUMNS, overflow="fold")
    for place in shown:
        table.add_column(_NUMBERS[place][0], justify="right", no_wrap=True)
    for block, row in zip(view.blocks, rows, strict=True):
        stage = f"{block.stage}{' (assumed)' if block.is_stage_assumed else ''}"
        name = f"{block.name}\n  {stage}"
        if not row:
            table.add_row(Text(f"{name}\n  {TIER_WORDS[block.tier]}"))
            continue
        table.add_row(Text(name), *(row[place] for place in shown))
    console.print(table)
    left = [
        " ".join(name.split()).lower()
        for place, (name, _) in enumerate(_NUMBERS)
        if place not in shown
    ]
    if left:
        console.print(Text(f"No room here for: {', '.join(left)}."))


def _numbers(block: BlockView) -> tuple[str, ...]:
    """Return one block's numbers, a column each."""
    return (
        block.air,
        block.wet_bulb,
        block.dry_bud,
        block.wet_bud,
        block.alarm,
        _brief(block.kill_dry),
        _brief(block.kill_wet),
        _brief(block.chance),
    )


def _columns_that_fit(rows: Sequence[Sequence[str]], width: int) -> list[int]:
    """Return the places of the columns that a width has room for."""
    wide = [
        _GAP_COLUMNS
        + max(
            len(text)
            for text in (*name.split("\n"), *(row[place] for row in rows if row))
        )
        for place, (name, _) in enumerate(_NUMBERS)
    ]
    shown = list(range(len(_NUMBERS)))
    for rank in sorted({rank for _, rank in _NUMBERS if rank}, reverse=True):
        if _NAME_COLUMNS + sum(wide[place] for place in shown) <= width:
            break
        shown = [place for place in shown if _NUMBERS[place][1] < rank]
    return shown


def _print_coming(console: Console, views: list[NightView]) -> None:
    """Print every night in one line."""
    table = Table(box=None, pad_edge=False, padding=(0, 1), header_style="bold")
    for name in ("Night", "What to do", "Air", "Wet bulb", "Risk", "Nearest to harm"):
        table.add_column(name, overflow="fold")
    for view in views:
        worst = view.worst
        table.add_row(
            view.short,
            Text("over" if view.is_over else view.tier_words, style=_STYLES[view.tier]),
            worst.air if worst else "-",
            worst.wet_bulb if worst else "-",
            _brief(worst.chance) if worst else "-",
            Text(worst.name if worst else "-"),
        )
    console.print(table)


def _brief(text: str) -> str:
    """Return words for a table's cell."""
    short = text.replace("under ", "<").replace("over ", ">").replace(" %", "%")
    return "ranked" if short == NO_CURVE else short
