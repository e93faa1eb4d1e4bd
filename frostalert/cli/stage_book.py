"""What is known of the blocks, from file and phone, and the writing of both."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from frostalert.agronomy.looks import is_newer, with_looks, with_since
from frostalert.cli.options import closing_store
from frostalert.config.edit import StageEdit, edit_stages
from frostalert.cycle.limits import limit_before, limit_if_seen, limit_on
from frostalert.errors import NoStateError, StoreError
from frostalert.messages.stage_words import change_words, seen_words
from frostalert.messages.wording import Wording
from frostalert.model.job_sheet import JobSheet
from frostalert.model.settings import Settings
from frostalert.model.site import HARVESTED, Block, Farm
from frostalert.model.warmth import PhoneLook, Sighting


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """The blocks as they were seen last, by file or by phone.

    Attributes
    ----------
    by_phone : tuple of PhoneLook
        The looks that the file does not have yet.
    sheet : JobSheet or None
        What the service decided last.
    problem : str or None
        Why the state, which is there, could not be asked.
    """

    farm: Farm
    path: Path
    settings: Settings
    by_phone: tuple[PhoneLook, ...]
    sheet: JobSheet | None
    problem: str | None = None

    def watched(self, today: date) -> tuple[Block, ...]:
        """Return the blocks that do not count as harvested."""
        return tuple(
            block
            for block in self.farm.blocks
            if limit_on(self.farm, block, today).stage != HARVESTED
        )

    def block(self, name: str) -> Block:
        """Return a block by its name."""
        return next(block for block in self.farm.blocks if block.name == name)


def known_blocks(settings: Settings, path: Path) -> Known:
    """Return what is known of the blocks; without a state, by the file alone."""
    looks: tuple[PhoneLook, ...] = ()
    sightings: tuple[Sighting, ...] = ()
    sheet = problem = None
    try:
        with closing_store(settings) as store:
            looks, sheet = store.phone_looks(), store.job_sheet()
            sightings = store.sightings()
    except NoStateError:
        pass
    except StoreError as error:
        problem = f"{error}"
    by_block = {block.name: block for block in settings.farm.blocks}
    newer = tuple(
        look
        for look in looks
        if look.sighting.block in by_block
        and is_newer(look, by_block[look.sighting.block])
    )
    return Known(
        farm=with_since(with_looks(settings.farm, newer), sightings),
        path=path,
        settings=settings,
        by_phone=newer,
        sheet=sheet,
        problem=problem,
    )


def write_stages(
    known: Known, edits: Sequence[StageEdit], wording: Wording
) -> list[str]:
    """Write what was seen, and what was sent by phone; return what is to be said."""
    own = {edit.block for edit in edits}
    sent = [look for look in known.by_phone if look.sighting.block not in own]
    both = [*edits, *(_edit(look) for look in sent)]
    before = edit_stages(known.path, both)
    lines = [
        f"{edit.block}: {edit.stage} (was {before[edit.block]}), "
        f"{_seen(edit, wording)}. {_change(known, edit, wording)}".rstrip()
        for edit in edits
    ]
    lines += [
        f"{look.sighting.block}: {look.sighting.stage} (was "
        f"{before[look.sighting.block]}), seen {look.sighting.seen} by {look.person}, "
        "by phone."
        for look in sent
    ]
    # What cannot be taken away counts no more: the file is as new.
    with suppress(StoreError), closing_store(known.settings) as store:
        store.drop_phone_looks(tuple(edit.block for edit in both))
    right = "To put one right: frostalert stage BLOCK STAGE"
    return [*lines, f"Saved in {known.path}. {right}"]


def _edit(look: PhoneLook) -> StageEdit:
    """Return a look by phone as an edit of the file."""
    seen = look.sighting
    return StageEdit(block=seen.block, stage=seen.stage, seen=seen.seen)


def _seen(edit: StageEdit, wording: Wording) -> str:
    """Return when an edit's stage was seen."""
    if edit.seen == wording.today:
        return seen_words(edit.seen, wording.today)
    return f"seen {edit.seen}"


def _change(known: Known, edit: StageEdit, wording: Wording) -> str:
    """Return what a look of today changes about tonight."""
    if edit.seen != wording.today:
        return ""
    farm, block = known.farm, known.block(edit.block)
    before = limit_before(farm, block, known.sheet, edit.seen)
    after = limit_if_seen(farm, block, edit.stage, edit.seen)
    return change_words(before, after, wording)
