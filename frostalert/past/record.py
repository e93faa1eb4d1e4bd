"""The answer as it is kept for the page and the weekly mail."""

import json
from base64 import b64decode, b64encode
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar


@dataclass(frozen=True, slots=True, kw_only=True)
class PastRecord:
    """What page and mail show of past springs.

    Attributes
    ----------
    lines : tuple of str
        One a spring.
    picture_words : str
        What the picture shows.
    png : bytes
        The picture.
    """

    MARK: ClassVar[str] = "past springs"

    made_utc: datetime
    lines: tuple[str, ...]
    picture_words: str
    png: bytes


def record_text(record: PastRecord) -> str:
    """Return a record as text."""
    return json.dumps(
        {
            "made_utc": record.made_utc.isoformat(),
            "lines": list(record.lines),
            "picture_words": record.picture_words,
            "png": b64encode(record.png).decode("ascii"),
        }
    )


def read_record(text: str | None) -> PastRecord | None:
    """Return a record from its text; none of what cannot be read."""
    try:
        content = json.loads(text or "")
        return PastRecord(
            made_utc=datetime.fromisoformat(content["made_utc"]),
            lines=tuple(map(str, content["lines"])),
            picture_words=str(content["picture_words"]),
            png=b64decode(content["png"]),
        )
    except (ValueError, KeyError, TypeError):
        return None
