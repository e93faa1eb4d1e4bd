"""Schema of the people who are told and of the ways to reach them."""

import re
from datetime import time
from typing import Literal, assert_never

from pydantic import Field, field_validator, model_validator

from frostalert.config.quantities import LocalTime
from frostalert.config.section import LOOPBACK, Name, Section, checked_https
from frostalert.model.channel import AddressKey, ChannelKind, channel_of

_ADDRESS = re.compile(r"^[^@\s<>,;:\"]+@[^@\s<>,;:\"]+\.[^@\s<>,;:\".]+$")
_ADDRESS_IN = re.compile(r"[^@\s<>,;:\"]+@[^@\s<>,;:\"]+\.[^@\s<>,;:\".]+")
_PHONE = re.compile(r"^\+[1-9]\d{7,14}$")
LONGEST_NAME = 40
"""Of a person. [characters]"""
DEAD_TEXT_GATEWAYS = frozenset(
    {
        "tmomail.net",
        "txt.att.net",
        "mms.att.net",
        "messaging.sprintpcs.com",
    }
)
"""Mail-to-text gateways that their carriers have closed (dates from secondary pages:
T-Mobile about December 2024, AT&T 17 June 2025)."""


def _refuse_no_address(value: str) -> None:
    """Refuse what is not one address alone, and say what to write."""
    if _ADDRESS.fullmatch(value):
        return
    found = _ADDRESS_IN.findall(value)
    # A blank may stand inside an address: what is around it then is half of one.
    is_set_off = "<" in value or len(found) > 1
    alone = " or ".join(f'"{address}"' for address in found if is_set_off)
    remedy = f"{alone} alone" if alone else 'one like "ines@heron-bench.example"'
    message = f'"{value}" is not an email address; write {remedy}'
    raise ValueError(message)


class PersonSection(Section):
    """Somebody who is told."""

    name: Name = Field(
        min_length=1,
        max_length=LONGEST_NAME,
        description="Name; no two alike.",
        examples=["Ines"],
    )
    channels: list[ChannelKind] = Field(
        min_length=1,
        description=" or ".join(f'"{kind}"' for kind in ChannelKind)
        + ", or several, the preferred one first.",
        examples=[["email", "sms"]],
    )
    email: str | None = Field(
        default=None,
        description="Address for email.",
        examples=["ines@heron-bench.example"],
    )
    phone: str | None = Field(
        default=None,
        description="Number for text messages, with + and the country code.",
        examples=["+15095550142"],
    )
    operator: bool = Field(
        default=False,
        description="Whether they hear of faults of the service; if nobody is marked, "
        "everybody does.",
        examples=[True],
    )
    turn: int = Field(
        default=1,
        ge=1,
        le=9,
        description="1 hears at once; 2 when nobody in turn 1 has answered in a "
        "quarter of the time left, and so on.",
        examples=[1],
    )
    floor: Literal["outlook", "prepare", "act"] = Field(
        default="outlook",
        description='The least that they hear of: "outlook" (days ahead), "prepare" '
        '(today before dark) or "act" (start now).',
        examples=["outlook"],
    )
    quiet_from: LocalTime | None = Field(
        default=None,
        description="Local time from which only what cannot wait is sent to them.",
        examples=[time(21, 30)],
    )
    quiet_to: LocalTime | None = Field(
        default=None,
        description="Local time at which their quiet hours end.",
        examples=[time(6, 0)],
    )

    @field_validator("email")
    @classmethod
    def _an_address(cls, value: str | None) -> str | None:
        """Refuse what is not an address, and gateways that are closed."""
        if value is None:
            return None
        _refuse_no_address(value)
        if value.rpartition("@")[2].lower() in DEAD_TEXT_GATEWAYS:
            message = (
                f'"{value}" is a mail-to-text gateway that its carrier has closed; '
                'use the channel "sms" with an [sms] section'
            )
            raise ValueError(message)
        return value

    @field_validator("phone")
    @classmethod
    def _a_number(cls, value: str | None) -> str | None:
        """Refuse what is not an E.164 number."""
        if value is not None and not _PHONE.fullmatch(value):
            message = f'"{value}" is not a number like "+15095550142"'
            plain = re.sub(r"[\s().\-/]", "", value)
            if _PHONE.fullmatch(plain):
                message += f'; write "{plain}"'
            raise ValueError(message)
        return value

    @model_validator(mode="after")
    def _has_addresses(self) -> "PersonSection":
        """Refuse a channel without an address for it."""
        for channel in self.channels:
            key = channel_of(channel).address_key
            if self._address(key) is None:
                message = f'has the channel "{channel}" but no {key}'
                raise ValueError(message)
        if len(set(self.channels)) != len(self.channels):
            message = "names a channel twice"
            raise ValueError(message)
        if (self.quiet_from is None) != (self.quiet_to is None):
            message = "give both quiet_from and quiet_to, or neither"
            raise ValueError(message)
        return self

    def _address(self, key: AddressKey) -> str | None:
        """Return what stands under a key that holds an address."""
        match key:
            case AddressKey.EMAIL:
                return self.email
            case AddressKey.PHONE:
                return self.phone
            case _:
                assert_never(key)


class EmailSection(Section):
    """The mail server that takes our mail."""

    host: str = Field(description="Name of the server.", examples=["smtp.mail.example"])
    port: int = Field(
        default=587, ge=1, le=65535, description="Its port.", examples=[587]
    )
    security: Literal["starttls", "tls", "none"] = Field(
        default="starttls",
        description='"starttls" (port 587), "tls" (port 465), or "none", which only a '
        "server on this machine may have.",
        examples=["starttls"],
    )
    sender: str = Field(
        description="Address that the mail comes from.",
        examples=["frost@heron-bench.example"],
    )
    username: str | None = Field(
        default=None,
        description="Name to log in with, if the server wants one.",
        examples=["frost@heron-bench.example"],
    )
    password_file: str | None = Field(
        default=None,
        description="File with the password on its first line.",
        examples=["smtp-password"],
    )
    password_env: str | None = Field(
        default=None,
        description="Or the environment variable that holds it.",
        examples=["FROSTALERT_SMTP_PASSWORD"],
    )

    @field_validator("sender")
    @classmethod
    def _a_sender(cls, value: str) -> str:
        """Refuse what is not an address."""
        _refuse_no_address(value)
        return value

    @model_validator(mode="after")
    def _is_private(self) -> "EmailSection":
        """Refuse mail in the clear to another machine."""
        if self.security == "none" and self.host not in LOOPBACK:
            message = (
                'security = "none" is only for a server on this machine; '
                'write "starttls" or "tls"'
            )
            raise ValueError(message)
        return self


class SmsSection(Section):
    """The HTTP service that takes our text messages."""

    url: str = Field(
        description="Address to post to; {username} is filled in.",
        examples=["https://texts.example/send/{username}"],
    )
    body: Literal["form", "json"] = Field(
        default="form",
        description='How the fields are sent: "form" or "json".',
        examples=["form"],
    )
    fields: dict[str, str] = Field(
        description="Fields to send; {phone} and {text} are filled in.",
        examples=[{"number": "{phone}", "text": "{text}"}],
    )
    id_pointer: str = Field(
        default="/id",
        description="Where the message's id stands in the answer (JSON pointer, RFC "
        "6901); an answer without an id does not count as accepted.",
        examples=["/id"],
    )
    status_url: str | None = Field(
        default=None,
        description="Where the service says what became of a text, if it does; {id} "
        "and {username} are filled in.",
        examples=["https://texts.example/sent/{id}"],
    )
    status_pointer: str = Field(
        default="/status",
        description="Where the state stands in that answer (JSON pointer).",
        examples=["/status"],
    )
    status_delivered: list[str] = Field(
        default=["delivered"],
        min_length=1,
        description="Its words for a text that reached the phone.",
        examples=[["delivered"]],
    )
    status_failed: list[str] = Field(
        default=["failed", "undelivered", "rejected", "expired"],
        description="Its words for a text that will not.",
        examples=[["failed", "undelivered", "rejected", "expired"]],
    )
    username: str | None = Field(
        default=None,
        description="Account name for basic log-in.",
        examples=["heron-bench"],
    )
    password_file: str | None = Field(
        default=None,
        description="File with the password or token on its first line.",
        examples=["sms-token"],
    )
    password_env: str | None = Field(
        default=None,
        description="Or the environment variable that holds it.",
        examples=["FROSTALERT_SMS_TOKEN"],
    )

    @field_validator("url")
    @classmethod
    def _is_checked_https(cls, value: str) -> str:
        """Refuse a plain connection to another machine."""
        return checked_https(value)

    @field_validator("status_url")
    @classmethod
    def _asks_by_id(cls, value: str | None) -> str | None:
        """Refuse an address without the text's id."""
        if value is None:
            return None
        if "{id}" not in value:
            message = "status_url must hold {id} somewhere"
            raise ValueError(message)
        return checked_https(value)

    @model_validator(mode="after")
    def _fills_in(self) -> "SmsSection":
        """Refuse fields that send neither number nor text."""
        joined = " ".join(self.fields.values())
        for part in ("{phone}", "{text}"):
            if part not in joined:
                message = f"fields must hold {part} somewhere"
                raise ValueError(message)
        return self


ChannelSection = EmailSection | SmsSection
"""What sets a channel up; each may log in with `username` and a password."""
