"""What is said of the service itself: a trouble, a wrong clock, a test."""

import re
from dataclasses import dataclass

from frostalert.messages.letter import Letter
from frostalert.messages.parts import Part, Short, fit
from frostalert.messages.sms import shorten
from frostalert.messages.wording import Wording, capital
from frostalert.messages.words import Words
from frostalert.model.site import Person

_FEW = 90
"""Signs of a trouble that fit into a subject. [1]"""
_FIRST_WORDS = re.compile(r"[;\n]|[.:] ")
"""Where the first trouble in a few words ends."""


_PUT_RIGHT = (
    "Fix the problem above; the service's log has details.",
    "Then type: frostalert tonight",
    "Until then, no message does not mean no frost.",
)
_LOOK_BACK = (
    "Type: frostalert tonight",
    "Then find out why: the service's log has details.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatorWords(Words):
    """What is said when something is wrong with the service, or was.

    Attributes
    ----------
    detail : str
        What it is.
    is_over : bool
        Whether it is over when it is told, and is told this once.
    """

    detail: str
    wording: Wording
    is_over: bool = False

    def subject(self) -> str:
        """Return a mail's subject: the first trouble in a few words."""
        first = shorten(_FIRST_WORDS.split(self.detail, 1)[0], _FEW)
        return f"frostalert needs you: {first} ({self.wording.site.name})"

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts: the same for everybody."""
        del person, link
        place, now = self.wording.site.name, self.wording.moment(self.wording.now_utc)
        is_or_was = "was" if self.is_over else "is"
        again = "" if self.is_over else " You get this every day until it is fixed."
        return Letter(
            answer=f"Something {is_or_was} wrong with frostalert at {place}.",
            news=tuple(capital(line) for line in self.detail.split("\n")),
            jobs_title="WHAT TO DO",
            jobs=_LOOK_BACK if self.is_over else _PUT_RIGHT,
            source=f"Written {now}.{again}",
        )

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message: the same for everybody."""
        del person, link
        # Whole sentences: half of one, cut for room, tells nobody what it is about.
        first, *more = self.detail.split(". ")
        parts = [
            Part(0, f"frostalert needs you: {first}{'.' * bool(more)}"),
            *(Part(1, f"{words.rstrip('.')}.") for words in more),
        ]
        return fit(lambda _: parts, mark)


@dataclass(frozen=True, slots=True, kw_only=True)
class TestWords(Words):
    """What a test message says."""

    wording: Wording

    def subject(self) -> str:
        """Return a mail's subject."""
        return f"TEST from frostalert ({self.wording.site.name})"

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts for one person."""
        del link
        place, now = self.wording.site.name, self.wording.moment(self.wording.now_utc)
        return Letter(
            answer=f"TEST from frostalert at {place}, {now}. Nothing is wrong, and "
            "there is nothing to do.",
            rules=(
                f"Warnings for {person.name} come like this one. See that they reach "
                'you at night: let this sender through "do not disturb", and try it '
                "once at 3 in the morning.",
            ),
        )

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message to one person."""
        del link
        place = self.wording.site.name

        def parts(short: Short) -> list[Part]:
            return [
                Part(0, f"TEST from frostalert at {short(place)}:"),
                Part(0, f"warnings for {short(person.name)} come like this one."),
                Part(1, "Nothing to do. Let this number through at night."),
            ]

        return fit(parts, mark)


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionWords(Words):
    """What is said when a call came too early, by a machine's wrong clock."""

    wording: Wording

    def subject(self) -> str:
        """Return a mail's subject."""
        place = self.wording.site.name
        return f"Our clock was wrong: start nothing on our last message ({place})"

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts: the same for everybody."""
        del person, link
        place, now = self.wording.site.name, self.wording.moment(self.wording.now_utc)
        return Letter(
            answer=f"The clock of frostalert at {place} was ahead. It is {now} now, "
            "and its last message came too early.",
            jobs_title="WHAT TO DO",
            jobs=(
                'Start nothing on that message, and ignore any "it is over" in it. We '
                "will tell you at the right hour.",
                "If the air is above freezing, put out any fire. If water is on, KEEP "
                "IT ON, and read your thermometer.",
            ),
        )

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message: the same for everybody."""
        del person, link
        now = self.wording.clock(self.wording.now_utc)
        parts = [
            Part(0, f"CORRECTION, it is {now}: our clock was wrong; our last message"),
            Part(0, "came too early. Start nothing on it."),
            Part(0, "If water is on, KEEP IT ON."),
            Part(1, "We will say when it is time."),
        ]
        return fit(lambda _: parts, mark)
