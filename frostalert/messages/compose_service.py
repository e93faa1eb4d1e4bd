"""Messages about the service itself: what is wrong with it, and tests."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from frostalert.errors import UsageError
from frostalert.messages.addressing import address
from frostalert.messages.audience import RecipientState
from frostalert.messages.occasion import Occasion
from frostalert.messages.service_words import (
    CorrectionWords,
    OperatorWords,
    TestWords,
)
from frostalert.messages.wording import Wording
from frostalert.model.notice import Message, Subject
from frostalert.model.site import Farm

_TEST_LIFE = timedelta(hours=12)
WORD_LIFE = timedelta(hours=12)
"""How long a message about a fault is tried; then it is given up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far the word of a fault goes.

    Attributes
    ----------
    is_urgent : bool
        Whether no quiet hours hold it back.
    is_everywhere : bool
        Whether it goes by every channel of a person: mail alone wakes nobody.
    about : str or None
        Of whom it tells that nothing reaches them: they do not hear it.
    """

    is_urgent: bool = True
    is_everywhere: bool = False
    about: str | None = None


def compose_operator(
    key: str,
    detail: str,
    farm: Farm,
    now_utc: datetime,
    *,
    is_rehearsal: bool = False,
    reach: Reach | None = None,
    state: RecipientState | None = None,
) -> list[Message]:
    """Return the message that something is wrong with the service."""
    reach = reach or Reach()
    occasion = replace(
        _occasion(key, detail, farm, now_utc),
        needed_by_utc=now_utc if reach.is_urgent else None,
        unreached=frozenset() if state is None else state.unreached,
        # That mail is broken must not be told by mail alone.
        is_everywhere=reach.is_everywhere or key.startswith("delivery"),
        about=reach.about,
    )
    return address(occasion, farm, is_rehearsal=is_rehearsal, state=state)


def compose_gap(key: str, detail: str, farm: Farm, now_utc: datetime) -> list[Message]:
    """Return the message that the service was not running for a time: it is again."""
    occasion = _occasion(key, detail, farm, now_utc, is_over=True)
    return address(occasion, farm, is_rehearsal=False)


def _occasion(
    key: str, detail: str, farm: Farm, now_utc: datetime, *, is_over: bool = False
) -> Occasion:
    """Return that something is wrong with the service, or was."""
    wording = Wording(farm.site, now_utc)
    return Occasion(
        key=f"{farm.site.name}|operator|{key}",
        subject=Subject.OPERATOR,
        night=None,
        words=OperatorWords(detail=detail, wording=wording, is_over=is_over),
        now_utc=now_utc,
        deadline_utc=now_utc + WORD_LIFE,
    )


def compose_correction(
    farm: Farm, people: Collection[str], now_utc: datetime
) -> list[Message]:
    """Return the message that what people were told came by a wrong clock."""
    occasion = Occasion(
        key=f"{farm.site.name}|correction|{now_utc:%Y%m%dT%H%M}",
        subject=Subject.CORRECTION,
        night=None,
        words=CorrectionWords(wording=Wording(farm.site, now_utc)),
        now_utc=now_utc,
        deadline_utc=now_utc + WORD_LIFE,
        needed_by_utc=now_utc,
        people=tuple(sorted(people)),
    )
    return address(occasion, farm, is_rehearsal=False)


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
