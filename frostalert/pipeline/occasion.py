"""One thing to be said, and the messages that say it to everybody who gets it."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import uuid4

from frostalert.model.notice import Message, MessageClass, Subject
from frostalert.model.site import ChannelKind, Holding, Person
from frostalert.pipeline.render import fit_sms, render, wrap_plain

REHEARSAL_MARK = "TEST"
_CLASSES = {
    Subject.OUTLOOK: MessageClass.WARNING,
    Subject.PREPARE: MessageClass.WAKING,
    Subject.ACT: MessageClass.WAKING,
    Subject.CANNOT_JUDGE: MessageClass.WARNING,
    Subject.WITHDRAWN: MessageClass.WARNING,
    Subject.STAND_DOWN: MessageClass.WARNING,
    Subject.DAILY_LINE: MessageClass.ROUTINE,
    Subject.OPERATOR: MessageClass.OPERATOR,
    Subject.TEST: MessageClass.OPERATOR,
}
# Who has both gets these by email alone: nothing in them is to be done at once.
_ONE_CHANNEL = {
    Subject.OUTLOOK,
    Subject.WITHDRAWN,
    Subject.DAILY_LINE,
    Subject.OPERATOR,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasion:
    """One thing to be said, before it is said to anybody in particular.

    Attributes
    ----------
    key : str
        Names the occasion: site, night, what, revision.
    values : dict
        What the templates fill in.
    deadline_utc : datetime
        After this the message is of no use any more.
    is_everywhere : bool
        Whether it goes by every channel of a person, whatever its subject.
    """

    key: str
    subject: Subject
    night: date | None
    values: dict[str, object]
    deadline_utc: datetime
    is_everywhere: bool = False


def address(
    occasion: Occasion,
    holding: Holding,
    *,
    is_rehearsal: bool,
    only: Person | None = None,
) -> list[Message]:
    """Return an occasion as messages, one for each person and channel that gets it."""
    people = holding.people
    if only is not None:
        people = (only,)
    elif occasion.subject is Subject.OPERATOR:
        people = tuple(p for p in people if p.is_operator) or people
    return [
        _message(occasion, person, channel, is_rehearsal=is_rehearsal)
        for person in people
        for channel in _channels(occasion, person)
    ]


def _channels(occasion: Occasion, person: Person) -> tuple[ChannelKind, ...]:
    """Return the channels on which a person gets an occasion."""
    is_single = occasion.subject in _ONE_CHANNEL and not occasion.is_everywhere
    if is_single and ChannelKind.EMAIL in person.channels:
        return (ChannelKind.EMAIL,)
    return person.channels


def _message(
    occasion: Occasion,
    person: Person,
    channel: ChannelKind,
    *,
    is_rehearsal: bool,
) -> Message:
    """Return one message."""
    values = {**occasion.values, "person": person}
    name = occasion.subject.value
    mark = f"{REHEARSAL_MARK} " if is_rehearsal else ""
    if channel is ChannelKind.SMS:
        subject, html = "", None
        text = fit_sms(f"{name}.sms.j2", person.language, values, mark)
    else:
        subject = mark + render(f"{name}.subject.j2", person.language, values)
        body = mark + render(f"{name}.txt.j2", person.language, values)
        text = wrap_plain(body)
        html = render("email.html.j2", person.language, {**values, "body": body})
    key = f"{occasion.key}|{person.name}|{channel}" + ("|rehearsal" * is_rehearsal)
    return Message(
        key=key,
        subject_kind=occasion.subject,
        message_class=_CLASSES[occasion.subject],
        night=occasion.night,
        person=person.name,
        channel=channel,
        address=person.address(channel),
        subject=subject,
        text=text,
        html=html,
        message_id=f"<{uuid4().hex}@frostalert.invalid>",
        deadline_utc=occasion.deadline_utc,
    )
