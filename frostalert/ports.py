"""What the pipeline needs from the world outside, one to four methods each."""

from collections.abc import Callable, Sequence
from collections.abc import Set as AbstractSet
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, runtime_checkable

from frostalert.model.alarm import Answer
from frostalert.model.assessment import Tier
from frostalert.model.channel import ChannelKind
from frostalert.model.forecast import ForecastRun
from frostalert.model.job_sheet import JobSheet, Tick
from frostalert.model.learned import ForecastObservation, GainNight, NowcastPair
from frostalert.model.notice import (
    Arrival,
    Decision,
    Message,
    NightHistory,
    OutboxRow,
    Receipt,
)
from frostalert.model.official import OfficialWord
from frostalert.model.reading import ExpectedAir, Reading
from frostalert.model.settings import Settings
from frostalert.model.ticket import Ticket
from frostalert.model.warmth import DayAir, PhoneLook, Sighting

if TYPE_CHECKING:
    # Whoever plans and draws nothing need not load them.
    from frostalert.model.chart import Chart
    from frostalert.model.plan import Plan

UNCONFIRMED = timedelta(minutes=10)
"""Age at which an unproven waking text is trouble that somebody must hear of; common
practice, no source."""
LINE = "line"
"""Fault: neither forecasts come in nor messages go out."""
UNREACHED, UNPROVEN = "unreached ", "unconfirmed "
"""What begins the name of the trouble that a person was not reached; then come the
person and the night."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceMemory:
    """What a source wants to be reminded of at its next fetch.

    Attributes
    ----------
    grid_url, place : str or None
        Where the grid of the site is, and the name of its cell.
    resolved_utc : datetime or None
        When that was looked up.
    last_modified : str or None
        Validator of the last answer, for a conditional request.
    latitude, longitude : float or None
        The place that it was looked up for. [deg]
    not_before_utc : datetime or None
        Before this the service asks not to be asked again.
    """

    grid_url: str | None = None
    place: str | None = None
    resolved_utc: datetime | None = None
    last_modified: str | None = None
    latitude: float | None = None
    longitude: float | None = None
    not_before_utc: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fetched:
    """What a fetch brought; `run` is None if the source has nothing newer."""

    run: ForecastRun | None
    memory: SourceMemory


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something wrong with the service, from when on, and when people were told."""

    key: str
    detail: str
    since_utc: datetime
    told_utc: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlyWords:
    """What was said by a clock that was ahead.

    Attributes
    ----------
    called : frozenset of str
        Who may have been called to start something.
    ended : frozenset of str
        Who may have been told that a night is over.
    ended_nights : frozenset of date
        The nights that were said to be over.
    """

    called: frozenset[str]
    ended: frozenset[str]
    ended_nights: frozenset[date]


class Clock(Protocol):
    """The wall clock."""

    def now_utc(self) -> datetime:
        """Return the present moment."""


class ConfigInForce(Protocol):
    """The configuration, watched for changes."""

    @property
    def settings(self) -> Settings:
        """What is in force."""

    @property
    def problem(self) -> str | None:
        """What is wrong with it as it stands."""

    @property
    def path(self) -> Path:
        """Where it stands."""

    def look(self) -> bool:
        """Look at it; return whether it changed and was read again."""


class ForecastSource(Protocol):
    """A public forecast for one place."""

    name: str

    def fetch(self, memory: SourceMemory, now_utc: datetime) -> Fetched:
        """Return the newest run, or none if nothing is newer.

        Raises
        ------
        ForecastError
            If it could not be had.
        """


class ForecastStore(Protocol):
    """Runs of forecasts and what the sources remember."""

    def source_memory(self, source: str) -> SourceMemory:
        """Return what a source is to be reminded of."""

    def save_run(self, fetched: Fetched, source: str, checked_utc: datetime) -> bool:
        """Keep a fetched run; return whether it was newer than the last."""

    def recent_runs(self, since_utc: datetime, now_utc: datetime) -> list[ForecastRun]:
        """Return the runs made since a moment, newest first, and always the newest."""


class DecisionStore(Protocol):
    """What was said, and the queue of what is to be sent."""

    def night_histories(self, now_utc: datetime) -> dict[date, NightHistory]:
        """Return what was said about each recent night."""

    def addressed(self, nights: AbstractSet[date]) -> frozenset[tuple[date, str]]:
        """Return night and address of every message about some nights."""

    def record_decision(
        self, decision: Decision, messages: list[Message], now_utc: datetime
    ) -> int:
        """Keep a decision and queue its messages in one transaction.

        Returns how many messages were new.
        """

    def queue(self, messages: list[Message], now_utc: datetime) -> int:
        """Queue messages that belong to no decision; return how many were new."""


class EarlyBook(Protocol):
    """What bears a moment to come, since a clock was ahead."""

    def night_histories(self, now_utc: datetime) -> dict[date, NightHistory]:
        """Return what was said about each recent night."""

    def early_words(self, since_utc: datetime) -> EarlyWords | None:
        """Return what bears a moment later than one; None if nothing does."""

    def put_right(
        self,
        histories: Sequence[NightHistory],
        messages: list[Message],
        since_utc: datetime,
        now_utc: datetime,
    ) -> int:
        """Give up what waits from the time to come, and date the rest by now."""


class AnswerBook(Protocol):
    """What people answered, and what they were already sent."""

    def recent_answers(self, now_utc: datetime) -> tuple[Answer, ...]:
        """Return the answers of the last weeks, oldest first."""

    def warnings_between(
        self, since_utc: datetime, until_utc: datetime
    ) -> dict[str, int]:
        """Return how many warnings reach each person between two moments."""


class FaultStore(Protocol):
    """Faults of the service that are open."""

    def open_faults(self) -> dict[str, Fault]:
        """Return the open faults by key."""

    def save_faults(
        self,
        faults: dict[str, Fault],
        messages: Sequence[Message],
        now_utc: datetime,
    ) -> int:
        """Replace the open faults, and queue the word of them with that."""

    def operator_heard_utc(self) -> datetime | None:
        """Return when a message about the service itself was last taken."""

    def unreached_people(self, now_utc: datetime) -> frozenset[str]:
        """Return whom nothing of the last half day has reached that was tried."""


class ReadingBook(Protocol):
    """What thermometers read."""

    def add_readings(self, readings: list[Reading]) -> int:
        """Keep readings; return how many were new."""

    def readings_since(self, since_utc: datetime) -> tuple[Reading, ...]:
        """Return the readings since a moment, oldest first."""

    def expected_air(self) -> tuple[ExpectedAir, ...]:
        """Return what each thermometer should read, as it was worked out last."""


class Outbox(Protocol):
    """The queue as the relay sees it."""

    def unsent(self, now_utc: datetime, *, is_forced: bool) -> list[OutboxRow]:
        """Return the rows that are due, or every unsent one if forced."""

    def mark_sending(self, row: OutboxRow, now_utc: datetime) -> bool:
        """Record an attempt before it is made; return whether the row is still open."""

    def mark_sent(self, row: OutboxRow, receipt: Receipt, now_utc: datetime) -> None:
        """Record that a message was taken."""

    def mark_failed(
        self,
        row: OutboxRow,
        reason: str,
        next_try_utc: datetime | None,
        *,
        kind: str,
        now_utc: datetime,
    ) -> None:
        """Record a failure; no next try means that the row is dead."""


class TicketBook(Protocol):
    """Who may answer which message."""

    def keep_ticket(self, token: str, ticket: Ticket) -> None:
        """Keep a ticket.

        Raises
        ------
        StoreError
            If it cannot be kept.
        """

    def ticket(self, token: str) -> Ticket | None:
        """Return the ticket of a token, if there is one."""


class AnswerDesk(Protocol):
    """Where the page leaves what people answer."""

    def answered_by(
        self, said: tuple[tuple[date, Tier, int], ...], now_utc: datetime
    ) -> str | None:
        """Return who has acknowledged a message already."""

    def record_answer(self, answer: Answer) -> None:
        """Keep an answer.

        Raises
        ------
        StoreError
            If it cannot be kept.
        """


class ReceiptStore(Protocol):
    """The queue as the one sees it who asks what became of texts."""

    def awaiting_proof(self, now_utc: datetime) -> list[OutboxRow]:
        """Return the texts of the last hour that were taken and not proved."""

    def mark_delivered(self, row: OutboxRow, now_utc: datetime) -> None:
        """Record the proof of an arrival."""

    def mark_undelivered(self, row: OutboxRow, reason: str, now_utc: datetime) -> None:
        """Record that a message did not arrive, and fall back."""

    def fall_back(self, row: OutboxRow, now_utc: datetime) -> bool:
        """Queue a message on its other channel; return whether there was one."""


class ArrivalReader(Protocol):
    """A channel that can say what became of a message."""

    def arrival(self, provider_id: str) -> Arrival:
        """Return what the service says.

        Raises
        ------
        TransportError
            If it could not be asked.
        """


class PairBook(Protocol):
    """What the site's nights taught."""

    def night_pairs(self) -> tuple[ForecastObservation, ...]:
        """Return all pairs, the oldest night first."""

    def nowcasts(self) -> tuple[NowcastPair, ...]:
        """Return what was guessed of each night and came, the oldest night first."""

    def gain_nights(self) -> tuple[GainNight, ...]:
        """Return what equipment gained, the oldest night first."""


class OfficialBook(Protocol):
    """What the weather service itself says."""

    def official_word(self) -> OfficialWord | None:
        """Return what it said last; None if nobody ever asked."""


class OfficialSource(Protocol):
    """A weather service that issues warnings for a place."""

    def ask(self, now_utc: datetime) -> OfficialWord:
        """Return what is in force.

        Raises
        ------
        ForecastError
            If it could not be had.
        """


class WarmthBook(Protocol):
    """What buds went through, and how far they were seen to come."""

    def days_air(self) -> tuple[DayAir, ...]:
        """Return all days, the oldest first."""

    def sightings(self) -> tuple[Sighting, ...]:
        """Return everything that was seen, the oldest first."""


class LookBook(Protocol):
    """What people saw in the blocks and sent by phone."""

    def phone_looks(self) -> tuple[PhoneLook, ...]:
        """Return the newest look by phone at each block."""


class JobBook(Protocol):
    """Tonight's jobs, and which of them are done."""

    def job_sheet(self) -> JobSheet | None:
        """Return tonight's jobs and limits; None before the first decision."""

    def ticks(self, night: date) -> tuple[Tick, ...]:
        """Return what is done of a night's jobs."""

    def tick(self, tick: Tick) -> None:
        """Keep that a job is done."""

    def untick(self, night: date, job: str) -> None:
        """Take back that a job is done."""


class PhoneBook(JobBook, LookBook, Protocol):
    """What people need and leave by phone, beside answers and readings.

    Each method raises StoreError where the state cannot be read or written.
    """

    def sightings(self) -> tuple[Sighting, ...]:
        """Return everything that was seen, the oldest first."""

    def note_phone_look(self, look: PhoneLook) -> None:
        """Keep what somebody saw in a block, instead of the look before."""

    def drop_phone_looks(self, blocks: tuple[str, ...]) -> None:
        """Take looks back."""

    def take_back(self, sensor: str, at_utc: datetime | None = None) -> Reading | None:
        """Take back a sensor's reading of a moment, or the one kept last; return it."""


class NightBook(
    ForecastStore, ReadingBook, PairBook, OfficialBook, WarmthBook, LookBook, Protocol
):
    """What a night is judged by."""


class Store(NightBook, DecisionStore, AnswerBook, FaultStore, Outbox, Protocol):
    """All state."""


class Bench(Protocol):
    """Makes plans beside a decision, so that it does not wait long for them."""

    def begin(self) -> None:
        """Begin a decision: from now on its plans are waited for."""

    def made(
        self,
        night: date,
        forecast_utc: datetime | None,
        make: "Callable[[], Plan | None]",
    ) -> "tuple[Plan | None, bool]":
        """Return a night's plan, and whether it is not there yet."""


class Plotter(Protocol):
    """Draws pictures."""

    def draw(self, chart: "Chart") -> bytes:
        """Return the picture of a night as PNG."""


@runtime_checkable
class RunChannel(Protocol):
    """A channel that can keep something open for a run of messages."""

    def run(self) -> AbstractContextManager[None]:
        """Keep it open while the block runs."""


class Notifier(Protocol):
    """A channel."""

    kind: ChannelKind

    def send(self, message: Message, *, is_repeat: bool) -> Receipt:
        """Hand a message over.

        Raises
        ------
        DeliveryError
            If it was not taken, with what can be done about it.
        """
