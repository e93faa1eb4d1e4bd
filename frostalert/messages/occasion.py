"""One thing to be said, before it is said to anybody in particular."""

from dataclasses import dataclass
from datetime import date, datetime

from frostalert.messages.picture import PICTURE_CID
from frostalert.messages.words import Words
from frostalert.model.assessment import Tier
from frostalert.model.notice import Attachment, MessageClass, Subject

CLASSES = {
    Subject.OUTLOOK: MessageClass.WARNING,
    Subject.PREPARE: MessageClass.WARNING,
    Subject.ACT: MessageClass.WARNING,
    Subject.CANNOT_JUDGE: MessageClass.WARNING,
    Subject.WITHDRAWN: MessageClass.WARNING,
    Subject.STAND_DOWN: MessageClass.WARNING,
    Subject.DAILY_LINE: MessageClass.ROUTINE,
    Subject.WEEKLY: MessageClass.ROUTINE,
    Subject.MORNING_AFTER: MessageClass.ROUTINE,
    Subject.OPERATOR: MessageClass.OPERATOR,
    Subject.TEST: MessageClass.OPERATOR,
    Subject.CORRECTION: MessageClass.OPERATOR,
}
"""Class of each subject; the first of a tier and night is "waking" instead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasion:
    """One thing to be said.

    Attributes
    ----------
    key : str
        Names the occasion: site, night, what, revision.
    words : Words or None
        What it says; None where that could not be put into words.
    bare : str
        Its fewest words: they stand in where the full ones cannot be made.
    now_utc : datetime
        When it is said.
    deadline_utc : datetime
        After this the message is of no use any more.
    needed_by_utc : datetime or None
        When people must have it at the latest: a hold that ends later does not count.
        None if it can wait.
    is_everywhere : bool
        Whether it goes by every channel of a person, whatever its subject.
    is_waking : bool
        Whether it is the one message of its tier and night that may wake people.
    is_worse : bool
        Whether it says that a told night got worse: no budget holds that back.
    is_blind : bool
        Whether a night that it tells of cannot be judged: no floor keeps that back.
    turns : tuple of int
        Which people on the list hear it; empty for all.
    people : tuple of str
        The people who are to hear it, by name, whatever their turn; empty for all.
    due_starts : tuple of (str, str)
        Equipment and block of the starts that it calls for.
    unreached : frozenset of str
        Whom nothing reaches, where it is about the service.
    about : str or None
        Of whom it tells that they were not reached: they do not hear it.
    nights : tuple of date
        Every night that it tells of.
    said : tuple of (date, Tier, int)
        What can be answered: nights with their tiers and revisions.
    thread : str or None
        Message-ID that all mail of the episode refers to.
    attachments : tuple of Attachment
        Files that go with its mail.
    picture_alt, picture_cid : str
        What its picture shows, in words, and its name in the mail; empty without one.
    """

    key: str
    subject: Subject
    night: date | None
    now_utc: datetime
    deadline_utc: datetime
    needed_by_utc: datetime | None = None
    is_everywhere: bool = False
    is_waking: bool = False
    is_worse: bool = False
    is_blind: bool = False
    turns: tuple[int, ...] = ()
    people: tuple[str, ...] = ()
    due_starts: tuple[tuple[str, str], ...] = ()
    unreached: frozenset[str] = frozenset()
    about: str | None = None
    nights: tuple[date, ...] = ()
    said: tuple[tuple[date, Tier, int], ...] = ()
    thread: str | None = None
    attachments: tuple[Attachment, ...] = ()
    words: Words | None = None
    bare: str = ""
    picture_alt: str = ""
    picture_cid: str = PICTURE_CID

    @property
    def message_class(self) -> MessageClass:
        """Its class: budgets count by it."""
        return MessageClass.WAKING if self.is_waking else CLASSES[self.subject]
