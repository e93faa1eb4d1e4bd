"""Write an occasion out as messages, one for each person and channel that gets it."""

import logging
from dataclasses import dataclass, replace
from typing import Protocol, assert_never
from uuid import uuid4

from frostalert.messages.audience import RecipientState, delay_reason, recipients
from frostalert.messages.bare_words import bare_text
from frostalert.messages.letter import NO_ANSWER, lines_of
from frostalert.messages.occasion import Occasion
from frostalert.messages.render import render
from frostalert.messages.words import Words
from frostalert.model.channel import ChannelKind, Form, channel_of
from frostalert.model.notice import Attachment, Fallback, Message, MessageClass, Subject
from frostalert.model.site import Farm, Person

_LOG = logging.getLogger(__name__)
REHEARSAL_MARK = "TEST"
# Who has mail too gets these by mail alone: nothing in them is to be done at once.
_ONE_CHANNEL = {
    Subject.OUTLOOK,
    Subject.WITHDRAWN,
    Subject.DAILY_LINE,
    Subject.WEEKLY,
    Subject.MORNING_AFTER,
    Subject.OPERATOR,
}


class AnswerLinks(Protocol):
    """Makes the link by which a person answers."""

    def link(self, person: Person, occasion: Occasion) -> str | None:
        """Return the link, or none if there is no page to answer on."""


def address(
    occasion: Occasion,
    farm: Farm,
    *,
    is_rehearsal: bool,
    only: Person | None = None,
    state: RecipientState | None = None,
    links: AnswerLinks | None = None,
) -> list[Message]:
    """Return an occasion as messages."""
    people = (only,) if only is not None else recipients(occasion, farm)
    messages = []
    for person in people:
        link = (links.link(person, occasion) if links is not None else None) or ""
        hold = delay_reason(person, occasion, farm, state) if state else None
        for message in _to_person(occasion, person, link, is_rehearsal=is_rehearsal):
            if hold is None:
                messages.append(message)
                continue
            messages.append(
                replace(
                    message,
                    held_until_utc=hold.until_utc,
                    held_reason=hold.reason,
                )
            )
    return messages


def _to_person(
    occasion: Occasion, person: Person, link: str, *, is_rehearsal: bool
) -> list[Message]:
    """Return the messages to one person."""
    channels = _channels(occasion, person)
    others = [kind for kind in person.channels if kind not in channels]
    messages = [
        _message(occasion, person, link, channel, is_rehearsal=is_rehearsal)
        for channel in channels
    ]
    if others and occasion.message_class is not MessageClass.ROUTINE:
        spare = _message(occasion, person, link, others[0], is_rehearsal=is_rehearsal)
        fallback = Fallback(
            channel=spare.channel,
            address=spare.address,
            subject=spare.subject,
            text=spare.text,
            html=spare.html,
            attachments=spare.attachments,
        )
        messages = [replace(message, fallback=fallback) for message in messages]
    return messages


def _channels(occasion: Occasion, person: Person) -> tuple[ChannelKind, ...]:
    """Return the channels on which a person gets an occasion."""
    is_single = occasion.subject in _ONE_CHANNEL and not occasion.is_everywhere
    is_single = is_single or occasion.is_by_mail
    mails = [kind for kind in person.channels if channel_of(kind).form is Form.MAIL]
    return tuple(mails[:1]) if is_single and mails else person.channels


def _message(
    occasion: Occasion,
    person: Person,
    link: str,
    channel: ChannelKind,
    *,
    is_rehearsal: bool,
) -> Message:
    """Return one message."""
    mark = f"{REHEARSAL_MARK} " if is_rehearsal else ""
    form = channel_of(channel).form
    written = _written_for(occasion, person, link, form, mark)
    key = f"{occasion.key}|{person.name}|{channel}" + ("|rehearsal" * is_rehearsal)
    return Message(
        key=key,
        subject_kind=occasion.subject,
        message_class=occasion.message_class,
        night=occasion.night,
        person=person.name,
        channel=channel,
        address=person.address(channel),
        subject=written.subject,
        text=written.text,
        html=written.html,
        message_id=f"<{uuid4().hex}@frostalert.invalid>",
        deadline_utc=occasion.deadline_utc,
        thread=occasion.thread,
        nights=occasion.nights,
        attachments=(
            (*occasion.attachments, *written.numbers) if form is Form.MAIL else ()
        ),
    )


@dataclass(frozen=True, slots=True)
class _Written:
    """A message's words: its subject, plain text, page and further pages."""

    subject: str
    text: str
    html: str | None = None
    numbers: tuple[Attachment, ...] = ()


def _written_for(
    occasion: Occasion, person: Person, link: str, form: Form, mark: str
) -> _Written:
    """Return the words to one person; the fewest, where the full ones fail."""
    words = occasion.words
    if words is None:
        return _in_fewest_words(occasion.bare, form, mark)
    try:
        match form:
            case Form.TEXT:
                return _Written("", words.text(person, link, mark))
            case Form.MAIL:
                return _mail(occasion, words, person, link, mark)
            case _:
                assert_never(form)
    except Exception:
        if not occasion.bare:
            raise
        _LOG.exception("a message to %s goes out in its fewest words", person.name)
        return _in_fewest_words(occasion.bare, form, mark)


def _in_fewest_words(bare: str, form: Form, mark: str) -> _Written:
    """Return a message in its fewest words."""
    if form is Form.TEXT:
        return _Written("", bare_text(bare, mark))
    head, _, _ = bare.partition(".")
    return _Written(mark + head, f"{mark}{bare}\n")


def _mail(
    occasion: Occasion, words: Words, person: Person, link: str, mark: str
) -> _Written:
    """Return a mail."""
    letter = words.letter(person, link)
    if mark and occasion.said:
        letter = replace(letter, answering=NO_ANSWER, answer_link="")
    values = {
        "letter": letter,
        "mark": mark,
        "picture_alt": occasion.picture_alt,
        "picture_cid": occasion.picture_cid,
    }
    return _Written(
        subject=mark + words.subject(),
        text=mark + "\n".join(lines_of(letter)) + "\n",
        html=render("letter.html.j2", values),
        numbers=words.pages(person, link, mark),
    )
