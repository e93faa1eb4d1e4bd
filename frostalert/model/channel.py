"""The ways to reach a person: one row a channel.

What else belongs to a channel (its section, its settings, who sends on it) is chosen by
`match` over the kind, each with `assert_never`: a channel without one of its parts does
not type-check.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import assert_never


class ChannelKind(StrEnum):
    """Ways to reach a person, by their name in the configuration."""

    EMAIL = "email"
    SMS = "sms"


class Form(StrEnum):
    """What is written for a channel.

    A mail has a subject, as many words as it takes, and a picture; a text has one
    segment.
    """

    MAIL = "mail"
    TEXT = "text"


class AddressKey(StrEnum):
    """Keys of a person that hold an address."""

    EMAIL = "email"
    PHONE = "phone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One way to reach people; a row that lacks a part does not type-check.

    Attributes
    ----------
    kind : ChannelKind
        Which it is.
    form : Form
        What is written for it.
    address_key : AddressKey
        Where a person's address for it stands.
    section : str
        Table of the configuration that sets it up.
    lane : str
        Where its messages are sent: what hangs there keeps no other lane waiting.
    lane_limit_s : float
        Age of that lane's heartbeat at which it counts as hung. [s] Longer than the
        deadlines of all that is sent in one round.
    """

    kind: ChannelKind
    form: Form
    address_key: AddressKey
    section: str
    lane: str
    lane_limit_s: float


_EMAIL = Channel(
    kind=ChannelKind.EMAIL,
    form=Form.MAIL,
    address_key=AddressKey.EMAIL,
    section="email",
    lane="email",
    lane_limit_s=600.0,
)
_SMS = Channel(
    kind=ChannelKind.SMS,
    form=Form.TEXT,
    address_key=AddressKey.PHONE,
    section="sms",
    lane="sms",
    lane_limit_s=600.0,
)


def channel_of(kind: ChannelKind) -> Channel:
    """Return a channel's row."""
    match kind:
        case ChannelKind.EMAIL:
            return _EMAIL
        case ChannelKind.SMS:
            return _SMS
        case _:
            assert_never(kind)


CHANNELS = tuple(channel_of(kind) for kind in ChannelKind)
