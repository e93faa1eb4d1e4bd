"""Write an occasion out as messages, one for each person and channel that gets it."""

import logging
from dataclasses import dataclass, replace
from typing import Protocol, assert_never
from uuid import uuid4

from frostalert.messages.audience import (
    WARNINGS,
    RecipientState,
    delay_reason,
    recipients,
)
from frostalert.messages.bare_words import bare_text
from frostalert.messages.letter import letter_of, lines_of
from frostalert.messages.occasion import Occasion
from frostalert.messages.picture import PICTURE_CID
from frostalert.messages.render import fit_sms, render, wrap_plain
from frostalert.messages.text import text_of
from frostalert.model.channel import ChannelKind, Form, channel_of
from frostalert.model.notice import Attachment, Fallback, Message, MessageClass, Subject
from frostalert.model.site import Farm, Person

_LOG = logging.getLogger(__name__)
REHEARSAL_MARK = "TEST"
_PERSONAL = {"person", "answer_link"}
# Who has mail too gets these by mail alone: nothing in them is to be done at once.
_ONE_CHANNEL = {
    Subject.OUTLOOK,
    Subject.WITHDRAWN,
    Subject.DAILY_LINE,
    Subject.WEEKLY,
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
        link = links.link(person, occasion) if links is not None else None
        values = {**occasion.values, "person": person, "answer_link": link or ""}
        written = replace(occasion, values=values)
        hold = delay_reason(person, occasion, farm, state) if state else None
        for message in _to_person(written, person, is_rehearsal=is_rehearsal):
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
    occasion: Occasion, person: Person, *, is_rehearsal: bool
) -> list[Message]:
    """Return the messages to one person."""
    channels = _channels(occasion, person)
    others = [kind for kind in person.channels if kind not in channels]
    messages = [
        _message(occasion, person, channel, is_rehearsal=is_rehearsal)
        for channel in channels
    ]
    if others and occasion.message_class is not MessageClass.ROUTINE:
        spare = _message(occasion, person, others[0], is_rehearsal=is_rehearsal)
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
    mails = [kind for kind in person.channels if channel_of(kind).form is Form.MAIL]
    return tuple(mails[:1]) if is_single and mails else person.channels


def _message(
    occasion: Occasion, person: Person, channel: ChannelKind, *, is_rehearsal: bool
) -> Message:
    """Return one message."""
    mark = f"{REHEARSAL_MARK} " if is_rehearsal else ""
    form = channel_of(channel).form
    written = _written_for(occasion, person, form, mark)
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


def _written_for(occasion: Occasion, person: Person, form: Form, mark: str) -> _Written:
    """Return the words to one person; the fewest, where the full ones fail."""
    if occasion.values.keys() == _PERSONAL and occasion.bare:
        return _in_fewest_words(occasion, form, mark)
    try:
        match form:
            case Form.TEXT:
                return _Written("", _text(occasion, person, mark))
            case Form.MAIL:
                return _mail(occasion, person, mark)
            case _:
                assert_never(form)
    except Exception:
        if not occasion.bare:
            raise
        _LOG.exception("a message to %s goes out in its fewest words", person.name)
        return _in_fewest_words(occasion, form, mark)


def _in_fewest_words(occasion: Occasion, form: Form, mark: str) -> _Written:
    """Return a message in its fewest words."""
    if form is Form.TEXT:
        return _Written("", bare_text(occasion.bare, mark))
    head, _, _ = occasion.bare.partition(".")
    return _Written(mark + head, wrap_plain(mark + occasion.bare))


def _text(occasion: Occasion, person: Person, mark: str) -> str:
    """Return a text message."""
    values = occasion.values
    if occasion.facts is None or occasion.words is None:
        if occasion.bare and occasion.subject in WARNINGS:
            return bare_text(occasion.bare, mark)
        return fit_sms(f"{occasion.subject.value}.sms.j2", values, mark)
    link = str(values["answer_link"])
    return text_of(occasion.facts, occasion.words, person, link, mark)


def _mail(occasion: Occasion, person: Person, mark: str) -> _Written:
    """Return a mail."""
    values, name = occasion.values, occasion.subject.value
    subject = mark + render(f"{name}.subject.j2", values)
    body = mark + render(f"{name}.txt.j2", values)
    shown = {"picture_alt": "", "picture_cid": PICTURE_CID, **values}
    if occasion.facts is None:
        html = render("email.html.j2", {**shown, "body": body})
        return _Written(subject, wrap_plain(body), html)
    letter = letter_of(occasion.facts, person, str(values["answer_link"]))
    text = mark + "\n".join(lines_of(letter)) + "\n"
    html = render("letter.html.j2", {**shown, "letter": letter, "mark": mark})
    return _Written(subject, text, html, (_all_numbers(body, shown),))


def _all_numbers(body: str, shown: dict[str, object]) -> Attachment:
    """Return the page with every number and its reason, that goes with a warning."""
    page = render("email.html.j2", {**shown, "picture_alt": "", "body": body})
    return Attachment(
        name="all-numbers.html", media_type="text/html", content=page.encode()
    )
