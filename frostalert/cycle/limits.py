"""What blocks bear tonight, and what a stage that was seen changes about that."""

from dataclasses import replace
from datetime import date

from frostalert.agronomy.looks import stage_on
from frostalert.model.job_sheet import BlockLimit, JobSheet
from frostalert.model.site import Block, Farm


def limit_on(farm: Farm, block: Block, night: date) -> BlockLimit:
    """Return what a block bears on a night, by the stage that counts then."""
    stage = stage_on(farm, block, night)
    limit_c = None if stage.threshold is None else stage.threshold.alarm_c
    return BlockLimit(block=block.name, stage=stage.stage, limit_c=limit_c)


def limit_before(
    farm: Farm, block: Block, sheet: JobSheet | None, today: date
) -> BlockLimit:
    """Return what a block bears tonight as things stand, by the service if it knows.

    A look of today is newer than what the service decided last, and no warmth has moved
    it yet.
    """
    known = sheet.limit_of(block.name, today) if sheet is not None else None
    if known is None or block.stage_seen == today:
        return limit_on(farm, block, today)
    return known


def limit_if_seen(farm: Farm, block: Block, stage: str, seen: date) -> BlockLimit:
    """Return what a block bears on the night of a look, if that finds a stage."""
    # Warmth moves it from the next day on.
    since = block.stage_since if stage == block.stage else None
    looked = replace(
        block, stage=stage, stage_seen=seen, stage_since=since, warmth=None
    )
    return limit_on(farm, looked, seen)
