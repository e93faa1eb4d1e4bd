"""Tickets: who may answer which warning and opens which page, until when. Pure.

A ticket names person, nights, tiers and revisions, so that it answers that message and
no later one. It stays on this machine; the message has a token of a few signs, so that
it fits into a text, and takes nobody's answer once the ticket is taken away.
"""

import hmac
import json
from base64 import urlsafe_b64encode
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256

from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier

_TOKEN_BYTES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """What a person may answer.

    Attributes
    ----------
    said : tuple of (date, Tier, int)
        Nights of the message with their tiers and revisions; empty if the message asks
        for no answer: then the link opens the person's page alone.
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

    def token(self, key: bytes) -> str:
        """Return the few signs that stand for this ticket in a link.

        Nobody can guess them without the key, and the same ticket has the same.
        """
        content = json.dumps(
            [
                self.person,
                int(self.expires_utc.timestamp()),
                [[str(night), tier.value, rev] for night, tier, rev in self.said],
            ]
        ).encode()
        digest = hmac.digest(key, content, sha256)[:_TOKEN_BYTES]
        return urlsafe_b64encode(digest).decode().rstrip("=")
