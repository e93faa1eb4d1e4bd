"""Looks at blocks: which one counts, and what may be seen next."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from frostalert.agronomy.ageing import Pace
from frostalert.agronomy.stages import HALF_YEAR_DAYS, Look, stage_in_force
from frostalert.model.assessment import StageInForce
from frostalert.model.crop import Crop
from frostalert.model.site import DORMANT, HARVESTED, Block, Farm
from frostalert.model.warmth import PhoneLook, Sighting

_OFFERED = 3
"""Stages that are offered first after one that was seen. [1]"""
_SAME_SEASON_DAYS = 150
"""A look older than that is of an earlier season. [d] Common practice, no source."""


def with_looks(farm: Farm, looks: Sequence[PhoneLook]) -> Farm:
    """Return the holding with each block as it was seen last, by file or by phone.

    Parameters
    ----------
    farm : Farm
        The holding as the file has it.
    looks : sequence of PhoneLook
        What was sent by phone.

    Returns
    -------
    Farm
        The same where the file holds the newest.
    """
    if not looks:
        return farm
    blocks = tuple(_newest(block, looks) for block in farm.blocks)
    return replace(farm, blocks=blocks)


def is_newer(look: PhoneLook, block: Block) -> bool:
    """Return whether a look by phone counts before what the file says of a block.

    On one day the later of the two counts: whether the file was written since then
    shows in what it says.
    """
    seen = look.sighting
    if (seen.block, seen.crop) != (block.name, block.crop.name):
        return False
    if seen.stage not in stages_of(block.crop):
        return False
    is_as_then = (look.file_stage, look.file_seen) == (block.stage, block.stage_seen)
    return seen.seen > block.stage_seen or (
        seen.seen == block.stage_seen and is_as_then
    )


def stage_on(farm: Farm, block: Block, night: date) -> StageInForce:
    """Return a block's stage in force on a night.

    Parameters
    ----------
    farm : Farm
        Its rules and its place.
    block : Block
        What was seen in it, with the warmth since then if that is known.
    night : date
        Local date of the night.

    Returns
    -------
    StageInForce
        As `stage_in_force` has it.
    """
    return _on_nights(farm, block, _pace(farm), [night])[0]


def _on_nights(
    farm: Farm, block: Block, pace: Pace, nights: Sequence[date]
) -> list[StageInForce]:
    """Return a block's stage in force on some nights."""
    look = Look(
        stage=block.stage,
        seen=block.stage_seen,
        since=block.stage_since,
        warmth=block.warmth,
    )
    is_south, spring = farm.site.is_south, block.spring
    return [
        stage_in_force(block.crop, look, night, pace, is_south=is_south, spring=spring)
        for night in nights
    ]


def _pace(farm: Farm) -> Pace:
    """Return what age does by a holding's rules."""
    rules = farm.rules
    return Pace(
        stage_days=rules.stage_days,
        bloom_days=rules.bloom_days,
        dormant_days=rules.dormant_days,
    )


def stages_on(farm: Farm, nights: Iterable[date]) -> dict[date, list[StageInForce]]:
    """Return the stage in force of every block on each night.

    Parameters
    ----------
    farm : Farm
        The holding.
    nights : iterable of date
        Local dates.

    Returns
    -------
    dict of date to list of StageInForce
        Each as `stage_on` has it, in the order of the blocks.
    """
    # Blocks of one crop that were seen alike share what it takes long to find out. They
    # share crop, warmth and spring themselves: which ones those are tells them apart.
    alike: dict[tuple[object, ...], Block] = {}
    firsts = [alike.setdefault(_told_by(block), block) for block in farm.blocks]
    pace, nights = _pace(farm), list(nights)
    stages = {id(one): _on_nights(farm, one, pace, nights) for one in alike.values()}
    return {
        night: [stages[id(first)][place] for first in firsts]
        for place, night in enumerate(nights)
    }


def _told_by(block: Block) -> tuple[object, ...]:
    """Return all of a block that its stage in force rests on."""
    shared = (id(block.crop), id(block.warmth), id(block.spring))
    return (*shared, block.stage, block.stage_seen, block.stage_since)


def known_since(block: Block, newest_first: list[Sighting]) -> date:
    """Return since when a block is known to be at its stage.

    Parameters
    ----------
    block : Block
        As it was seen last.
    newest_first : list of Sighting
        What was seen in it.

    Returns
    -------
    date
        Day on which the stage was first seen, in this season.
    """
    since = block.stage_seen
    for item in newest_first:
        if item.seen > since:
            continue
        if item.stage != block.stage or since - item.seen > timedelta(
            days=HALF_YEAR_DAYS
        ):
            break
        since = item.seen
    return since


def with_since(farm: Farm, sightings: Sequence[Sighting]) -> Farm:
    """Return the holding with since when each block is known to be at its stage."""
    newest_first = sorted(sightings, key=lambda item: item.seen, reverse=True)
    return replace(
        farm,
        blocks=tuple(
            replace(
                block,
                stage_since=known_since(
                    block, [item for item in newest_first if item.block == block.name]
                ),
            )
            for block in farm.blocks
        ),
    )


def stages_of(crop: Crop) -> tuple[str, ...]:
    """Return what a block of a crop can be seen at, from winter to harvest."""
    return (DORMANT, *crop.stage_names, HARVESTED)


def next_stages(crop: Crop, stage: str, count: int) -> tuple[str, ...]:
    """Return the stages that follow one, "harvested" left out."""
    names = stages_of(crop)
    if stage == HARVESTED:
        return names[:count]
    place = names.index(stage) + 1
    return names[place:-1][:count]


def goes_back(crop: Crop, before: str, after: str) -> bool:
    """Return whether a stage comes before another one in a crop's table."""
    names = crop.stage_names
    if before not in names or after not in names:
        return False
    return names.index(after) < names.index(before)


def is_of_this_season(block: Block, day: date) -> bool:
    """Return whether what was seen last in a block says something of its season now."""
    return abs((day - block.stage_seen).days) < _SAME_SEASON_DAYS


def likely_stages(block: Block, day: date) -> tuple[str, ...]:
    """Return the stages to offer first: those that follow what was seen this season.

    An earlier season's stage is nothing to go on from: all begins anew.
    """
    if is_of_this_season(block, day):
        return next_stages(block.crop, block.stage, _OFFERED)
    return stages_of(block.crop)[: _OFFERED + 1]


def steps_back(block: Block, stage: str, day: date) -> bool:
    """Return whether a stage lies before the one seen earlier in the same season."""
    is_later = day >= block.stage_seen
    is_known = is_later and is_of_this_season(block, day)
    return is_known and goes_back(block.crop, block.stage, stage)


def _newest(block: Block, looks: Sequence[PhoneLook]) -> Block:
    """Return a block as it was seen last."""
    for look in looks:
        if is_newer(look, block):
            seen = look.sighting
            return replace(block, stage=seen.stage, stage_seen=seen.seen)
    return block
