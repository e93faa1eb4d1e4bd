"""The only reader of the system clock."""

from datetime import UTC, datetime


class SystemClock:
    """The machine's wall clock."""

    def now_utc(self) -> datetime:
        """Return the present moment."""
        return datetime.now(UTC)  # noqa: TID251 - this is the one place


class FixedClock:
    """A clock that stands still, for rehearsals."""

    def __init__(self, moment_utc: datetime) -> None:
        self._moment_utc = moment_utc

    def now_utc(self) -> datetime:
        """Return the moment it was given."""
        return self._moment_utc
