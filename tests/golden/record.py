"""Messages written down: every word that people get, and what decides when they do."""

from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256

from frostalert.model.notice import Attachment, Message, Subject
from tests.golden.house import ZONE, House, Sent

_RULE = "=" * 76
_SHORT = 60
"""Parts of a text up to this length are always written down. [characters]"""


def digest(content: str | bytes) -> str:
    """A hash, short enough to be read aloud."""
    data = content.encode() if isinstance(content, str) else content
    return sha256(data).hexdigest()[:16]


def messages_of(house: House, *, since_utc: datetime | None = None) -> str:
    """Everything that was sent, in its order, and what still waits at the end.

    Before `since_utc` a message is one line with a hash.
    """
    book = _Book()
    parts = [
        _line(number, sent)
        if since_utc is not None and sent.at_utc < since_utc
        else book.entry(number, sent)
        for number, sent in enumerate(house.sent, 1)
    ]
    waiting = [
        f"{row.message.subject_kind} to {row.message.person} by "
        f"{row.message.channel}: {row.message.held_reason or row.last_error}"
        for row in house.store.unsent(house.now_utc, is_forced=True)
    ]
    end = "\n".join(["WAITING AT THE END", *(waiting or ["nothing"])])
    return "\n".join([*parts, _RULE, end, ""])


def first_html_of(house: House, kind: Subject) -> str:
    """The HTML part of the first mail of a kind."""
    parts = [s.message.html for s in house.sent if s.message.subject_kind is kind]
    return next(f"{html}\n" for html in parts if html is not None)


def words_of(message: Message) -> str:
    """All that reaches a person, in one text."""
    parts = [message.person, message.channel.value, message.subject, message.text]
    return "\n".join([*parts, message.html or ""])


@dataclass
class _Book:
    """What was written down before, so that it need not be again."""

    texts: dict[str, int] = field(default_factory=dict)
    parts: dict[str, str] = field(default_factory=dict)
    has_calendar: bool = False

    def entry(self, number: int, sent: Sent) -> str:
        """One message."""
        message = sent.message
        marks = [
            _head(number, sent),
            f"key {message.key}",
            f"class {message.message_class}, of use until "
            f"{_local(message.deadline_utc)}",
        ]
        if message.held_until_utc is not None:
            held = _local(message.held_until_utc)
            marks.append(f"held until {held}: {message.held_reason}")
        if message.fallback is not None:
            other = message.fallback
            marks.append(f"else by {other.channel}, text {digest(other.text)}")
        if message.thread is not None:
            marks.append(f"thread {message.thread}")
        if message.html is not None:
            marks.append(f"HTML {digest(message.html)}")
        head = "\n".join([_RULE, *marks, f"Subject: {message.subject}"])
        enclosed = "".join(map(self._enclosed, message.attachments))
        return f"{head}\n\n{self._text(number, message)}\n{enclosed}"

    def _text(self, number: int, message: Message) -> str:
        """A text; of what stood in an earlier one, where that was."""
        before = self.texts.setdefault(message.text, number)
        if before != number:
            return f"(the same text as #{before})"
        lines = []
        for place, part in enumerate(message.text.rstrip("\n").split("\n\n"), 1):
            here = f"#{number} part {place}"
            first = self.parts.setdefault(part, here)
            is_long = len(part) > _SHORT
            start = f"{part.split(maxsplit=1)[0]}.." if part.strip() else ""
            is_known = is_long and first != here
            lines.append(f"({start} as {first})" if is_known else part)
        return "\n\n".join(lines)

    def _enclosed(self, item: Attachment) -> str:
        """An attachment: the first calendar whole, the others as a hash."""
        name = f"[{item.name}, {item.media_type}"
        if item.media_type != "text/calendar":
            return f"{name}]\n"
        if self.has_calendar:
            return f"{name}, {digest(item.content)}]\n"
        self.has_calendar = True
        return f"{name}]\n{item.content.decode()}".replace("\r\n", "\n")


def _head(number: int, sent: Sent) -> str:
    """What a message is, and who got it when."""
    message, again = sent.message, " AGAIN" * sent.is_repeat
    return (
        f"#{number}  {_local(sent.at_utc)}  {message.subject_kind} to "
        f"{message.person} by {message.channel}{again}"
    )


def _line(number: int, sent: Sent) -> str:
    """A message in one line."""
    return f"{_head(number, sent)}: {digest(words_of(sent.message))}"


def _local(moment: datetime) -> str:
    """A moment at the site."""
    return f"{moment.astimezone(ZONE):%a %Y-%m-%d %H:%M:%S %Z}"
