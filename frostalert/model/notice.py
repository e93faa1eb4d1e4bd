"""What is to be said, to whom, and what was said before."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import StrEnum

from frostalert.model.assessment import Tier
from frostalert.model.site import ChannelKind


class MessageClass(StrEnum):
    """Budget class of a message."""

    WAKING = "waking"
    WARNING = "warning"
    ROUTINE = "routine"
    OPERATOR = "operator"


class Subject(StrEnum):
    """What a message is about."""

    OUTLOOK = "outlook"
    PREPARE = "prepare"
    ACT = "act"
    CANNOT_JUDGE = "cannot-judge"
    WITHDRAWN = "withdrawn"
    STAND_DOWN = "stand-down"
    DAILY_LINE = "daily-line"
    OPERATOR = "operator"
    TEST = "test"


class Why(StrEnum):
    """Reason for saying something, or for saying nothing."""

    TIER_ROSE = "it became more urgent"
    GOT_WORSE = "the night got worse"
    CANNOT_JUDGE = "the night cannot be judged"
    STILL_CANNOT_JUDGE = "the night still cannot be judged a day later"
    CLEARED = "two forecasts no longer show it"
    COLD_IS_OVER = "the cold hours are over"
    GOES_ON = "the cold goes on into the next night"
    ALREADY_TOLD = "already told"
    NOTHING_THREATENS = "nothing threatens"
    WAITING_TO_CLEAR = "waiting for a second forecast before withdrawing"
    HELD_ON_BAD_DATA = "held: the data are not good enough to withdraw"


@dataclass(frozen=True, slots=True, kw_only=True)
class NightHistory:
    """What was said about one night.

    Attributes
    ----------
    told : Tier
        Highest tier that people were told; NONE if none.
    said : Tier
        Tier that was said last: lower than `told` after the danger moved away.
    told_blocks : tuple of str
        Blocks that people were told are at risk.
    told_low_c : float or None
        Coldest deciding bud low of the blocks at risk when last told. [degC]
    told_running_by_utc : datetime or None
        First hour at which protection had to run when last told.
    stop_utc : datetime or None
        Earliest hour at which the forecast, when last looked at, let water stop.
    clear_cycles : int
        Forecasts in a row, on valid data, that no longer show it.
    revision : int
        Counts the messages about this night.
    cannot_judge_told_utc : datetime or None
        When people were last told that the night cannot be judged.
    is_closed : bool
        Withdrawn or stood down; a new rise opens it again.
    """

    night: date
    told: Tier = Tier.NONE
    said: Tier = Tier.NONE
    told_blocks: tuple[str, ...] = ()
    told_low_c: float | None = None
    told_running_by_utc: datetime | None = None
    stop_utc: datetime | None = None
    clear_cycles: int = 0
    last_forecast_utc: datetime | None = None
    revision: int = 0
    cannot_judge_told_utc: datetime | None = None
    is_closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What got worse since people were last told.

    Attributes
    ----------
    colder_c : float
        By how much the bud low fell. [degC] Zero if it did not.
    earlier : timedelta
        By how much the danger came nearer; zero if it did not.
    joined : tuple of str
        Blocks that are newly at risk.
    """

    colder_c: float
    earlier: timedelta
    joined: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NightDecision:
    """What is to be said about one night, with the reason, and what to remember."""

    night: date
    say: Subject | None
    why: Why
    detail: str
    remember: NightHistory
    change: Change | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """All nights of one cycle, and the next moment to look again."""

    nights: tuple[NightDecision, ...]
    next_look_utc: datetime

    @property
    def spoken(self) -> tuple[NightDecision, ...]:
        """The nights about which something is to be said."""
        return tuple(night for night in self.nights if night.say is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture that goes with an email; `cid` is its name inside the message."""

    cid: str
    png: bytes
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One message to one person on one channel, ready to be queued.

    Attributes
    ----------
    key : str
        Names the message once and for all, so that it cannot be queued twice.
    deadline_utc : datetime
        After this it is not sent any more but reported as undelivered.
    """

    key: str
    subject_kind: Subject
    message_class: MessageClass
    night: date | None
    person: str
    channel: ChannelKind
    address: str
    subject: str
    text: str
    html: str | None
    message_id: str
    deadline_utc: datetime
    pictures: tuple[Picture, ...] = field(default=())


class OutboxState(StrEnum):
    """Where a queued message stands."""

    DUE = "due"
    SENDING = "sending"
    SENT = "sent"
    DELIVERED = "delivered"
    UNKNOWN = "unknown"
    DEAD = "dead"


@dataclass(frozen=True, slots=True, kw_only=True)
class OutboxRow:
    """A queued message with what became of it.

    `attempts` counts the tries, `unknowns` those of which the outcome is not known.
    """

    row_id: int
    message: Message
    state: OutboxState
    attempts: int
    unknowns: int
    next_try_utc: datetime
    last_error: str | None
    provider_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """A channel's answer to a message that it took.

    `is_proven` tells an answer that proves acceptance from one that does not.
    """

    provider_id: str | None
    is_proven: bool
