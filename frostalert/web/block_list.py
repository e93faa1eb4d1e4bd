"""The weekly list of blocks: tap what you see; kept in the state, not in the file."""

from dataclasses import dataclass

from frostalert.agronomy.looks import (
    is_newer,
    is_of_this_season,
    likely_stages,
    stages_of,
    steps_back,
    with_looks,
    with_since,
)
from frostalert.cycle.limits import limit_before, limit_if_seen, limit_on
from frostalert.errors import UsageError
from frostalert.messages.stage_words import back_words, change_words, seen_words
from frostalert.messages.wording import Wording
from frostalert.model.job_sheet import JobSheet
from frostalert.model.site import HARVESTED, Block, Farm
from frostalert.model.warmth import PhoneLook, Sighting
from frostalert.ports import PhoneBook


class BackwardsError(Exception):
    """Buds would go back: asked before it is kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocks:
    """The blocks as the file has them and as they were seen last.

    Attributes
    ----------
    file : Farm
        The holding as the file has it.
    farm : Farm
        The same as it was seen last, by file or by phone.
    looks : tuple of PhoneLook
        What was sent by phone and counts.
    sheet : JobSheet or None
        What the service decided last.
    """

    file: Farm
    farm: Farm
    book: PhoneBook
    wording: Wording
    looks: tuple[PhoneLook, ...]
    sheet: JobSheet | None

    @classmethod
    def known(
        cls, file: Farm, book: PhoneBook, wording: Wording, sheet: JobSheet | None
    ) -> "Blocks":
        """Return what is known of the blocks now."""
        by_name = {block.name: block for block in file.blocks}
        looks = tuple(
            look
            for look in book.phone_looks()
            if look.sighting.block in by_name
            and is_newer(look, by_name[look.sighting.block])
        )
        farm = with_since(with_looks(file, looks), book.sightings())
        return cls(
            file=file, farm=farm, book=book, wording=wording, looks=looks, sheet=sheet
        )

    def rows(self) -> list[dict[str, object]]:
        """Return each watched block with the stages that may be seen."""
        return [self._row(block) for block in self.farm.blocks if self._counts(block)]

    def see(self, name: str, stage: str, person: str, *, is_sure: bool) -> str:
        """Keep what somebody saw in a block; return what that changes.

        Raises
        ------
        BackwardsError
            If buds would go back and that was not confirmed.
        UsageError
            If there is no such block, or its crop no such stage.
        """
        block = next((b for b in self.farm.blocks if b.name == name), None)
        if block is None or stage not in stages_of(block.crop):
            message = f"{name or 'that block'} has no such stage any more"
            raise UsageError(message)
        today = self.wording.today
        # What was tapped a moment ago is put right without a question.
        is_slip = self._by(name) is not None and block.stage_seen == today
        if steps_back(block, stage, today) and not (is_sure or is_slip):
            words = back_words(name, block.stage, block.stage_seen, stage)
            raise BackwardsError(words)
        return self._keep(block, stage, person)

    def see_all_as_before(self, person: str) -> dict[str, str]:
        """Keep that nothing has changed since each block was seen last this season."""
        today = self.wording.today
        return {
            block.name: self._keep(block, block.stage, person)
            for block in self.farm.blocks
            if self._counts(block)
            and block.stage_seen < today
            and is_of_this_season(block, today)
        }

    def take_back(self, name: str) -> str:
        """Take a look back: what was seen before counts again."""
        self.book.drop_phone_looks((name,))
        before = next(block for block in self.file.blocks if block.name == name)
        seen = seen_words(before.stage_seen, self.wording.today)
        return f"Taken back: {before.stage}, {seen}, counts again."

    def has(self, name: str) -> bool:
        """Return whether there is a block of that name."""
        return any(block.name == name for block in self.file.blocks)

    def _counts(self, block: Block) -> bool:
        """Return whether a block is still to be looked at this season."""
        stage = limit_on(self.farm, block, self.wording.today).stage
        return stage != HARVESTED or self._by(block.name) is not None

    def _by(self, name: str) -> str | None:
        """Return who sent the look that counts, if it came by phone."""
        own = (look.person for look in self.looks if look.sighting.block == name)
        return next(own, None)

    def _keep(self, block: Block, stage: str, person: str) -> str:
        """Keep a look of today; return what it changes."""
        today = self.wording.today
        file = next(item for item in self.file.blocks if item.name == block.name)
        look = PhoneLook(
            sighting=Sighting(
                block=block.name, crop=block.crop.name, stage=stage, seen=today
            ),
            person=person,
            file_stage=file.stage,
            file_seen=file.stage_seen,
        )
        if not is_newer(look, file):
            return (
                f"The configuration has it seen on {file.stage_seen}, which is to "
                "come: put that right at the server first."
            )
        before = limit_before(self.farm, block, self.sheet, today)
        after = limit_if_seen(self.farm, block, stage, today)
        self.book.note_phone_look(look)
        return f"{stage}, seen today. {change_words(before, after, self.wording)}"

    def _row(self, block: Block) -> dict[str, object]:
        """Return one block with its buttons."""
        by = self._by(block.name)
        seen = seen_words(block.stage_seen, self.wording.today)
        is_known = is_of_this_season(block, self.wording.today)
        following = likely_stages(block, self.wording.today)
        others = [
            name
            for name in stages_of(block.crop)
            if name not in following and not (is_known and name == block.stage)
        ]
        return {
            "name": block.name,
            "stage": block.stage,
            "seen": f"{seen} by {by}" if by else seen,
            "is_sent": by is not None,
            "is_today": block.stage_seen == self.wording.today,
            "can_be_same": is_known and block.stage_seen < self.wording.today,
            "following": following,
            "others": others,
        }
