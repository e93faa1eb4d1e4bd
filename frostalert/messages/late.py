"""Mark a message that goes out long after it was written: hours in it may be over."""

import re
from dataclasses import replace
from datetime import timedelta

from frostalert.messages.repeat import marked_in_front
from frostalert.messages.sms import TWO_SEGMENTS, gsm_length, shorten
from frostalert.model.channel import Form, channel_of
from frostalert.model.notice import Message

LATE = timedelta(minutes=30)
"""A message that is later says so. Our own rule."""
_BODY = re.compile(r"<body[^>]*>")


def marked_late(message: Message, by: timedelta) -> Message:
    """Return a message that says by how much it is late, if it is."""
    if by <= LATE:
        return message
    late = _ago(by)
    if channel_of(message.channel).form is Form.TEXT:
        text = marked_in_front(message.text, f"({late} late) ")
        if gsm_length(text) > TWO_SEGMENTS:
            text = shorten(text, TWO_SEGMENTS)
        return replace(message, text=text)
    words = (
        f"This comes {late} late: it could not be sent before. Hours that it names may "
        "have passed."
    )
    html = message.html
    if html is not None:
        said = f"<p><strong>{words}</strong></p>"
        html = _BODY.sub(lambda found: found.group() + said, html, count=1)
    return replace(
        message,
        subject=marked_in_front(message.subject, f"({late} late) "),
        text=f"{words}\n\n{message.text}",
        html=html,
    )


def _ago(by: timedelta) -> str:
    """Return a time in words."""
    minutes = int(by / timedelta(minutes=1))
    return f"{minutes} min" if minutes < 90 else f"{(minutes + 30) // 60} h"  # noqa: PLR2004
