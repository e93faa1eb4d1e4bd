"""What page and weekly mail show of past springs."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PastRecord:
    """What page and weekly mail show of past springs.

    Attributes
    ----------
    lines : tuple of str
        One a spring.
    picture_words : str
        What the picture shows.
    png : bytes
        The picture.
    """

    made_utc: datetime
    lines: tuple[str, ...]
    picture_words: str
    png: bytes
