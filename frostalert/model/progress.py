"""What people were called to before a plan is made."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from frostalert.model.start import Start, StartKey, StartState


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """What people were called to before, so that work may be under way.

    Attributes
    ----------
    hands_since_utc, start_since_utc : datetime or None
        When they were first called to prepare, and to start; None if they were not.
    starts : mapping of StartKey to Start
        What they were told to set up and to start, as far as each has come by now.
    begun_before : frozenset of StartKey
        What people were called to start on the night before: supplies that it took may
        not have come back.
    is_answered : bool
        Whether somebody said that they act on the night.
    is_known : bool
        Whether all this is known: the command knows only what the service has stored.
    """

    is_known: bool = True
    hands_since_utc: datetime | None = None
    start_since_utc: datetime | None = None
    starts: Mapping[StartKey, Start] = field(default_factory=dict)
    begun_before: frozenset[StartKey] = frozenset()
    is_answered: bool = False

    @property
    def told_starts(self) -> frozenset[StartKey]:
        """What people were called to start, so that it may have been begun."""
        return frozenset(key for key, start in self.starts.items() if start.was_told)

    @property
    def running(self) -> frozenset[StartKey]:
        """What somebody said that they started."""
        return frozenset(
            key
            for key, start in self.starts.items()
            if start.state is StartState.RUNNING
        )

    def ready_since_utc(self, key: StartKey) -> datetime | None:
        """Return since when people were asked to have something ready."""
        start = self.starts.get(key)
        return None if start is None else start.planned_utc


UNKNOWN_PROGRESS = Progress(is_known=False)
