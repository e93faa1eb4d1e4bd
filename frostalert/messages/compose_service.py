"""Messages about the service itself: what is wrong with it, and tests."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from frostalert.errors import UsageError
from frostalert.messages.addressing import address
from frostalert.messages.audience import RecipientState
from frostalert.messages.letter import Letter
from frostalert.messages.occasion import Occasion
from frostalert.messages.parts import Part, Short, fit
from frostalert.messages.wording import Wording, capital
from frostalert.messages.words import Words
from frostalert.model.notice import Message, Subject
from frostalert.model.site import Farm, Person

_FEW = 90
"""Signs of a trouble that fit into a subject. [1]"""
_TEST_LIFE = timedelta(hours=12)
WORD_LIFE = timedelta(hours=12)
"""How long a message about a fault is tried; then it is given up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatorWords(Words):
    """What is said when something is wrong with the service."""

    detail: str
    wording: Wording

    def subject(self) -> str:
        """Return a mail's subject: the first trouble in a few words."""
        first = self.detail.split(";")[0].split("\n")[0][:_FEW]
        return f"frostalert needs you: {first} ({self.wording.site.name})"

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts: the same for everybody."""
        del person, link
        place, now = self.wording.site.name, self.wording.moment(self.wording.now_utc)
        return Letter(
            answer=f"Something is wrong with frostalert at {place}.",
            news=tuple(capital(line) for line in self.detail.split("\n")),
            jobs_title="WHAT TO DO",
            jobs=(
                "Mend what stands above; the service's log says more.",
                "Then run frostalert tonight.",
                "Until then, silence is no good news.",
            ),
            source=f"Written {now}. This is said again every day until it is mended.",
        )

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message: the same for everybody."""
        del person, link
        return fit(lambda _: [Part(0, f"frostalert needs you: {self.detail}")], mark)


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


def compose_operator(
    key: str,
    detail: str,
    farm: Farm,
    now_utc: datetime,
    *,
    is_rehearsal: bool = False,
    is_urgent: bool = True,
    state: RecipientState | None = None,
) -> list[Message]:
    """Return the message that something is wrong with the service."""
    wording = Wording(farm.site, now_utc)
    occasion = Occasion(
        key=f"{farm.site.name}|operator|{key}",
        subject=Subject.OPERATOR,
        night=None,
        words=OperatorWords(detail=detail, wording=wording),
        now_utc=now_utc,
        deadline_utc=now_utc + WORD_LIFE,
        needed_by_utc=now_utc if is_urgent else None,
        unreached=frozenset() if state is None else state.unreached,
        # That mail is broken must not be told by mail alone.
        is_everywhere=key.startswith("delivery"),
    )
    return address(occasion, farm, is_rehearsal=is_rehearsal, state=state)


def compose_test(farm: Farm, name: str, now_utc: datetime) -> list[Message]:
    """Return a test message for one person on all their channels.

    Raises
    ------
    UsageError
        If there is no such person.
    """
    people = {person.name.lower(): person for person in farm.people}
    person = people.get(name.strip().lower())
    if person is None:
        known = ", ".join(f'"{known.name}"' for known in farm.people)
        message = f'there is no person "{name}"; write one of {known}'
        raise UsageError(message)
    occasion = Occasion(
        key=f"{farm.site.name}|test|{now_utc.isoformat()}",
        subject=Subject.TEST,
        night=None,
        words=TestWords(wording=Wording(farm.site, now_utc)),
        now_utc=now_utc,
        deadline_utc=now_utc + _TEST_LIFE,
    )
    return address(occasion, farm, is_rehearsal=False, only=person)
