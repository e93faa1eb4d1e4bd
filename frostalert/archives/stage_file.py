"""Dates of stages in past springs, as the grower noted them."""

import csv
import io
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from frostalert.agronomy.crops import find_stage
from frostalert.agronomy.looks import stages_of
from frostalert.errors import UnknownStageError, UsageError, reason_of
from frostalert.model.site import DORMANT, HARVESTED, Farm
from frostalert.model.warmth import Sighting

_COLUMNS = ("block", "stage", "seen")


def load_stages(path: Path, farm: Farm) -> tuple[Sighting, ...]:
    """Return what a file of stages tells.

    Raises
    ------
    UsageError
        If it cannot be read, with every line that is wrong.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        message = f"--crop-stages {path} cannot be read: {reason_of(error)}"
        raise UsageError(message) from error
    return parse_stages(text, farm, f"--crop-stages {path}")


def parse_stages(text: str, farm: Farm, name: str) -> tuple[Sighting, ...]:
    """Return what a text tells: block or crop, stage, and the day it was seen.

    Raises
    ------
    UsageError
        If a column is missing, or with every line that is wrong.
    """
    rows = csv.DictReader(io.StringIO(text))
    given = [str(item).strip().lower() for item in rows.fieldnames or ()]
    if any(item not in given for item in _COLUMNS):
        message = (
            f"{name}: the first line must be block,stage,seen, and the lines like "
            f'"{farm.blocks[0].name},full bloom,2025-04-18"; a crop stands for all its '
            "blocks"
        )
        raise UsageError(message)
    rows.fieldnames = given
    found: list[Sighting] = []
    problems: list[str] = []
    for row in rows:
        try:
            found += _row(row, farm)
        except (ValueError, AttributeError, UnknownStageError) as error:
            problems.append(f"line {rows.line_num}: {error}")
    if problems:
        raise UsageError("\n".join([f"{name}:", *(f"  {line}" for line in problems)]))
    return tuple(found)


def _row(row: dict[str, str], farm: Farm) -> Iterator[Sighting]:
    """Give what one line tells, of each block that it is about."""
    wanted, seen = row["block"].strip(), date.fromisoformat(row["seen"].strip())
    blocks = [b for b in farm.blocks if wanted in (b.name, b.crop.name)]
    if not blocks:
        names = ", ".join(f'"{block.name}"' for block in farm.blocks)
        message = f'there is no block or crop "{wanted}"; there are {names}'
        raise ValueError(message)
    for block in blocks:
        stage = find_stage(block.crop, row["stage"].strip(), (DORMANT, HARVESTED))
        assert stage in stages_of(block.crop)  # noqa: S101 - found among them
        yield Sighting(block=block.name, crop=block.crop.name, stage=stage, seen=seen)
