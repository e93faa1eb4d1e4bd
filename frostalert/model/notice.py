"""What is to be said, to whom, and what was said before."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

from frostalert.model.assessment import Tier
from frostalert.model.channel import ChannelKind
from frostalert.model.start import Start, StartKey

if TYPE_CHECKING:
    # Whoever reads what was told, and no plan, need not load it.
    from frostalert.model.plan import Option


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
    WEEKLY = "weekly"
    MORNING_AFTER = "morning-after"
    OPERATOR = "operator"
    TEST = "test"
    CORRECTION = "correction"


ENDINGS = frozenset({Subject.WITHDRAWN, Subject.STAND_DOWN})
"""Messages that end something."""


class Reason(StrEnum):
    """Why something is said, or nothing."""

    TIER_ROSE = "it became more urgent"
    GOT_WORSE = "the night got worse"
    NOBODY_ANSWERED = "nobody has acknowledged it"
    TAKEN_BACK = "what was called for must not be started any more"
    CALLED_AGAIN = "what was taken back may be started after all"
    PLAN_FOLLOWS = "its plan is there now"
    START_IS_DUE = "the hour of a start has come"
    NEWLY_LISTED = "it was told before this person or address was listed"
    WAITING_TO_RAISE = "waiting for a second forecast before raising a far night"
    CANNOT_JUDGE = "the night cannot be judged"
    STILL_CANNOT_JUDGE = "the night still cannot be judged a day later"
    CLEARED = "two forecasts no longer show it"
    COLD_IS_OVER = "the cold hours are over"
    GOES_ON = "the cold goes on into the next night"
    ALREADY_TOLD = "already told"
    NOTHING_TO_DO_YET = "worse, but there is nothing to do yet: the daily line tells it"
    JUST_CALLED = "worse, but people were told a moment ago: said if it stays so"
    NOTHING_THREATENS = "nothing threatens"
    WAITING_TO_CLEAR = "waiting for a second forecast before withdrawing"
    HELD_ON_BAD_DATA = "held: the data are not good enough to withdraw"


TO_OTHERS = frozenset({Reason.NOBODY_ANSWERED, Reason.NEWLY_LISTED})
"""Reasons that say the same again to other people, and nothing new to the first."""


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
    told_probability : float or None
        Highest chance of harm of those blocks then, 0 to 1; None where an older version
        kept none.
    told_running_by_utc : datetime or None
        First hour at which protection had to run when last told.
    stop_utc : datetime or None
        Earliest hour at which the forecast, when last looked at, let water stop.
    clear_cycles : int
        Forecasts in a row, on valid data, that no longer show it.
    revision : int
        Counts the messages about this night.
    said_utc : datetime or None
        When a warning or a start's call last went to all who hear of the night.
    said_revision : int
        Revision of the last warning: answers to earlier ones do not count for it.
    episode : str or None
        Run of messages that the night belongs to, named by its first night's date.
    called_turn : int
        How far down the list of people the warning has gone; 0 before the first.
    called_utc : datetime or None
        When the last of them were called.
    raise_cycles : int
        Forecasts in a row that show a far night which nobody was told of yet.
    cannot_judge_told_utc : datetime or None
        When people were last told that the night cannot be judged.
    cannot_judge_revision : int
        Revision of that message.
    is_blind : bool
        Whether that is still the last word: false once the data have come back.
    is_closed : bool
        Withdrawn or stood down; a new rise opens it again.
    is_quiet : bool
        Whether it was closed without a word, as the cold was over: nobody heard so, and
        where it turns cold again what people were told stands.
    hands_since_utc, start_since_utc : datetime or None
        When people were first called to prepare, and to start.
    starts : tuple of Start
        What people were told to set up and to start, and how far each has come.
    is_plan_owed : bool
        Whether the last warning went out without its plan, which took too long.
    """

    night: date
    told: Tier = Tier.NONE
    said: Tier = Tier.NONE
    told_blocks: tuple[str, ...] = ()
    told_low_c: float | None = None
    told_probability: float | None = None
    told_running_by_utc: datetime | None = None
    stop_utc: datetime | None = None
    clear_cycles: int = 0
    last_forecast_utc: datetime | None = None
    revision: int = 0
    said_utc: datetime | None = None
    said_revision: int = 0
    episode: str | None = None
    called_turn: int = 0
    called_utc: datetime | None = None
    raise_cycles: int = 0
    cannot_judge_told_utc: datetime | None = None
    cannot_judge_revision: int = 0
    is_blind: bool = False
    is_closed: bool = False
    is_quiet: bool = False
    hands_since_utc: datetime | None = None
    start_since_utc: datetime | None = None
    starts: tuple[Start, ...] = ()
    is_plan_owed: bool = False

    @property
    def told_starts(self) -> frozenset[StartKey]:
        """What people were called to start, so that it may have been begun."""
        return frozenset(start.key for start in self.starts if start.was_told)

    def start(self, key: StartKey) -> Start | None:
        """Return a start that people were told of, or none."""
        return next((start for start in self.starts if start.key == key), None)

    @property
    def turns(self) -> tuple[int, ...]:
        """The turns on the list that hear of the night: the first, and who was called.

        Whoever was called for it must hear of what changes.
        """
        return tuple(range(1, max(self.called_turn, 1) + 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What changed since people were last told.

    Attributes
    ----------
    colder_c : float
        By how much the bud low fell. [degC] Negative if it rose.
    earlier : timedelta
        By how much the danger came nearer; negative if it moved away.
    joined : tuple of str
        Blocks that are newly at risk.
    likelier : (float, float) or None
        The chance of harm that people were told, and the present one, 0 to 1; None
        where it did not rise by a step.
    """

    colder_c: float
    earlier: timedelta
    joined: tuple[str, ...] = ()
    likelier: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NightDecision:
    """What is to be said about one night, with the reason, and what to remember.

    Attributes
    ----------
    is_waking : bool
        Whether it is the one message of this tier and night that may wake people.
    turns : tuple of int
        Which people on the list hear it, by their turn; empty for whoever was told.
    people : tuple of str
        Who hears it, by name, whatever their turn; empty for all of these turns.
    revoked : tuple of Option
        What people were called to start and must not start any more.
    reinstated : tuple of Option
        What was revoked and may be started after all.
    due_starts : tuple of StartKey
        The starts whose hour has come.
    was_put_off : Reason or None
        What was to be said to others, and waits for the next look: a start's call went
        before it.
    """

    night: date
    say: Subject | None
    why: Reason
    detail: str
    remember: NightHistory
    change: Change | None = None
    is_waking: bool = False
    turns: tuple[int, ...] = ()
    people: tuple[str, ...] = ()
    revoked: "tuple[Option, ...]" = ()
    reinstated: "tuple[Option, ...]" = ()
    due_starts: tuple[StartKey, ...] = ()
    was_put_off: Reason | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """All nights of one cycle, and the next moment to look again."""

    nights: tuple[NightDecision, ...]
    next_look_utc: datetime

    @property
    def announced(self) -> tuple[NightDecision, ...]:
        """The nights about which something is to be said."""
        return tuple(night for night in self.nights if night.say is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """A file that goes with an email.

    Attributes
    ----------
    name : str
        Its file name.
    media_type : str
        Such as "text/calendar".
    content : bytes
        What is in it.
    cid : str or None
        Name by which the mail's HTML part shows it; None for a file of its own.
    """

    name: str
    media_type: str
    content: bytes
    cid: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fallback:
    """The same message for another channel, if the first one does not take it."""

    channel: ChannelKind
    address: str
    subject: str
    text: str
    html: str | None
    attachments: tuple[Attachment, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One message to one person on one channel, ready to be queued.

    Attributes
    ----------
    key : str
        Names the message once and for all, so that it cannot be queued twice.
    deadline_utc : datetime
        After this it is not sent any more but reported as undelivered.
    thread : str or None
        Message-ID that all mail of one episode refers to.
    held_until_utc : datetime or None
        Before this it is not sent, for the reason in `held_reason`.
    fallback : Fallback or None
        What to send instead when the channel fails.
    nights : tuple of date
        Every night that it tells of; `night` is the most urgent one.
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
    thread: str | None = None
    held_until_utc: datetime | None = None
    held_reason: str | None = None
    fallback: Fallback | None = None
    nights: tuple[date, ...] = ()
    attachments: tuple[Attachment, ...] = field(default=())


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

    `attempts` counts the tries, `unknowns` those of which the outcome is not known, and
    `refusals` those at which the recipient was refused.
    """

    row_id: int
    message: Message
    state: OutboxState
    attempts: int
    unknowns: int
    next_try_utc: datetime
    last_error: str | None
    provider_id: str | None
    last_try_utc: datetime | None = None
    queued_utc: datetime
    refusals: int = 0

    @property
    def due_utc(self) -> datetime:
        """When it was to go out."""
        return self.message.held_until_utc or self.queued_utc


class ArrivalState(StrEnum):
    """What a service says became of a message that it took."""

    PENDING = "pending"
    DELIVERED = "delivered"
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """What became of a message, in the service's own word."""

    state: ArrivalState
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LastArrival:
    """The last message to a person on a channel that was taken or proven."""

    person: str
    channel: str
    at_utc: datetime
    is_confirmed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """A channel's answer to a message that it took.

    `is_confirmed` tells an answer that proves acceptance from one that does not.
    """

    provider_id: str | None
    is_confirmed: bool
