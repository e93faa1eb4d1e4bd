"""Signed tickets in messages: who may answer which warning, until when. Pure.

A ticket names person, nights, tiers and revisions, so that it answers that message and
no later one. It is worthless without the key, which stays on this machine.
"""

import hmac
import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from binascii import Error as Base64Error
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256

from frostalert.errors import TicketError
from frostalert.messages.occasion import Occasion
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.site import Person

_LIFE = timedelta(hours=12)
_SIGNATURE_BYTES = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """What a person may answer.

    Attributes
    ----------
    said : tuple of (date, Tier, int)
        Nights of the message with their tiers and revisions.
    """

    person: str
    said: tuple[tuple[date, Tier, int], ...]
    expires_utc: datetime

    def answers(
        self, kind: AnswerKind, now_utc: datetime, until_utc: datetime | None = None
    ) -> tuple[Answer, ...]:
        """Return the person's answers, one a night."""
        return tuple(
            Answer(
                person=self.person,
                night=night,
                tier=tier,
                revision=revision,
                kind=kind,
                given_utc=now_utc,
                until_utc=until_utc,
            )
            for night, tier, revision in self.said
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketLinks:
    """Makes the links by which people answer.

    Attributes
    ----------
    key : bytes
        Signs the tickets.
    public_url : str
        How people's phones reach the page.
    """

    key: bytes
    public_url: str

    def link(self, person: Person, occasion: Occasion) -> str | None:
        """Return the link, or none if there is nothing to answer."""
        if not occasion.said:
            return None
        ticket = Ticket(
            person=person.name,
            said=occasion.said,
            expires_utc=occasion.deadline_utc + _LIFE,
        )
        return f"{self.public_url}/answer?ticket={write_ticket(ticket, self.key)}"


def write_ticket(ticket: Ticket, key: bytes) -> str:
    """Return a ticket as text that can stand in a link."""
    content = json.dumps(
        [
            ticket.person,
            int(ticket.expires_utc.timestamp()),
            [[night.isoformat(), tier.value, rev] for night, tier, rev in ticket.said],
        ],
        separators=(",", ":"),
    ).encode()
    return f"{_text(content)}.{_text(_signature(content, key))}"


def read_ticket(text: str, key: bytes, now_utc: datetime) -> Ticket:
    """Return the ticket in a link.

    Raises
    ------
    TicketError
        If it is forged, mangled or too old.
    """
    try:
        content, signature = map(_bytes, text.split("."))
        is_ours = hmac.compare_digest(signature, _signature(content, key))
        if not is_ours:
            message = "this link was not made here"
            raise TicketError(message)
        person, expires, said = json.loads(content)
    except (ValueError, Base64Error) as error:
        message = "this link is not whole; open it from the mail again"
        raise TicketError(message) from error
    ticket = Ticket(
        person=person,
        said=tuple((date.fromisoformat(n), Tier(t), int(r)) for n, t, r in said),
        expires_utc=datetime.fromtimestamp(expires, UTC),
    )
    if now_utc > ticket.expires_utc:
        message = "this link is too old: the night that it speaks of is over"
        raise TicketError(message)
    return ticket


def _signature(content: bytes, key: bytes) -> bytes:
    """Return the signature of a content (HMAC with SHA-256, shortened; RFC 2104)."""
    return hmac.digest(key, content, sha256)[:_SIGNATURE_BYTES]


def _text(content: bytes) -> str:
    """Return bytes as text for a link."""
    return urlsafe_b64encode(content).decode().rstrip("=")


def _bytes(text: str) -> bytes:
    """Return bytes from their text."""
    return urlsafe_b64decode(text.encode("ascii") + b"=" * (-len(text) % 4))
