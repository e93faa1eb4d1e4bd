"""What people were called to before a plan is made."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """What people were called to before, so that work may be under way.

    Attributes
    ----------
    hands_since_utc, start_since_utc : datetime or None
        When they were first called to prepare, and to start; None if they were not.
    told_starts : frozenset of (str, str)
        Equipment and block of what they were called to start.
    is_answered : bool
        Whether somebody said that they act on it.
    is_known : bool
        Whether all this is known: the command knows only what the service has stored.
    """

    is_known: bool = True
    hands_since_utc: datetime | None = None
    start_since_utc: datetime | None = None
    told_starts: frozenset[tuple[str, str]] = frozenset()
    is_answered: bool = False


UNKNOWN_PROGRESS = Progress(is_known=False)
