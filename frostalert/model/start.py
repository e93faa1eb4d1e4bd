"""One start of one equipment in one block, from the plan of the day to its end."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

StartKey = tuple[str, str]
"""An equipment and a block, by name."""


class StartState(StrEnum):
    """Where a start stands between the plan and the people.

    The last two are read off what people answered and the hour: they are never stored.
    """

    PLANNED = "planned"
    ANNOUNCED = "announced"
    CALLED = "called"
    REVOKED = "revoked"
    RUNNING = "running"
    ENDED = "ended"


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """One start that people were told of.

    Attributes
    ----------
    state : StartState
        Planned with "prepare", so that it is set up by day; announced by a call to act
        before its own hour; called at its hour; revoked since; running by an answer to
        that call; ended.
    planned_utc : datetime or None
        Since when people were asked to have it ready; None if they never were.
    called_utc : datetime or None
        When they were called to it at its hour.
    revision : int
        Message about the night that called to it: an answer to an earlier one is none
        to it. 0 for none.
    begin_utc, run_by_utc : datetime or None
        The hours that the last message named: to begin, and to have it running.
    was_reinstated : bool
        Whether it was revoked and called for after all, which is said once a night.
    """

    key: StartKey
    state: StartState
    planned_utc: datetime | None = None
    called_utc: datetime | None = None
    revision: int = 0
    begin_utc: datetime | None = None
    run_by_utc: datetime | None = None
    was_reinstated: bool = False

    @property
    def was_told(self) -> bool:
        """Whether people were called to start it, so that it may have been begun."""
        return self.state not in (StartState.PLANNED, StartState.ENDED)


def starts_by_key(starts: Iterable[Start]) -> dict[StartKey, Start]:
    """Return some starts by their keys."""
    return {start.key: start for start in starts}
