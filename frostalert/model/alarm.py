"""What people answered to a warning, and where one site's run of warnings stands."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from frostalert.model.assessment import Tier
from frostalert.model.start import StartKey


class AnswerKind(StrEnum):
    """What somebody said to a warning.

    The first two acknowledge it. The third only asks for silence, and for a time.
    """

    ACTING = "acting"
    NOT_NEEDED = "not needed"
    LATER = "later"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer of one person about one night.

    Attributes
    ----------
    tier : Tier
        Tier that the person answered to: a higher one asks anew.
    revision : int
        Message about the night that was answered: a later one asks anew.
    until_utc : datetime or None
        End of the silence asked for; None for an acknowledgement.
    """

    person: str
    night: date
    tier: Tier
    revision: int
    kind: AnswerKind
    given_utc: datetime
    until_utc: datetime | None = None


class AlarmState(StrEnum):
    """Where a night's warning stands between the service and the people."""

    QUIET = "quiet"
    OUTLOOK = "outlook told"
    UNANSWERED = "told, nobody has answered"
    ANSWERED = "told and answered"
    ENDED_UNANSWERED = "over, and nobody had answered"
    ENDED = "over"

    @property
    def is_over(self) -> bool:
        """Whether the night has ended, answered or not."""
        return self in (AlarmState.ENDED, AlarmState.ENDED_UNANSWERED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One night's warning as people and monitors see it.

    Attributes
    ----------
    answered_by : str or None
        Who acknowledged what was said last.
    is_unjudged : bool
        Whether people were told that the night cannot be judged and nobody has
        acknowledged it: that stays listed after the data have come back.
    called : frozenset of StartKey
        What people were called to start, so that it may run.
    told_blocks : tuple of str
        Blocks that people were told are at risk.
    stop_utc : datetime or None
        Hour before which what was called for must not stop, by the last forecast.
    """

    episode: str | None
    night: date
    tier: Tier
    revision: int
    state: AlarmState
    answered_by: str | None
    is_unjudged: bool
    called: frozenset[StartKey] = frozenset()
    told_blocks: tuple[str, ...] = ()
    stop_utc: datetime | None = None

    @property
    def lasts(self) -> bool:
        """Whether people were called to act, and have not been told how to stop."""
        was_called = self.tier is Tier.ACT or bool(self.called)
        return was_called and not self.state.is_over
