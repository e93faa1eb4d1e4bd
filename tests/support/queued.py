"""Messages as they stand in the queue, where what they say does not matter."""

from datetime import datetime
from typing import Any

from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message, MessageClass, Subject


def mail_to_ines(kind: Subject, until_utc: datetime, **changes: Any) -> Message:
    """A mail to Ines about no night, of use until a moment."""
    return Message(
        **{
            "key": "k",
            "subject_kind": kind,
            "message_class": MessageClass.WARNING,
            "night": None,
            "person": "Ines",
            "channel": ChannelKind.EMAIL,
            "address": "ines@heron-bench.example",
            "subject": "s",
            "text": "t",
            "html": None,
            "message_id": "<1@heron-bench.example>",
            "deadline_utc": until_utc,
            **changes,
        }
    )
