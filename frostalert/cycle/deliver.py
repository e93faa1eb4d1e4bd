"""Send what is queued: the attempt is recorded before it is made, the outcome after."""

import logging
from collections import Counter
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import datetime, timedelta

from frostalert.errors import DeliveryError, Refusal
from frostalert.messages.late import marked_late
from frostalert.messages.masking import without_addresses
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import MessageClass, OutboxRow, OutboxState
from frostalert.ports import Clock, Notifier, Outbox, RunChannel

_LOG = logging.getLogger(__name__)
_WAITS = tuple(timedelta(seconds=s) for s in (15, 60, 120, 300, 600))
_ORDER = (
    MessageClass.WAKING,
    MessageClass.WARNING,
    MessageClass.OPERATOR,
    MessageClass.ROUTINE,
)
_MISCONFIGURED_WAIT = timedelta(minutes=15)
_MAILBOX_WAITS = (timedelta(minutes=3), timedelta(minutes=9))
"""A mailbox that is refused may be full or blocked for a moment only. Common practice,
no source."""
_UNKNOWN_WAITS = tuple(timedelta(minutes=m) for m in (0.25, 1, 10, 30, 60))
"""A message whose arrival is unknown is repeated so often, marked, and not for ever.
Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Delivered:
    """What one round of sending did."""

    sent: int
    waiting: int
    dead: int


def deliver_due(
    outbox: Outbox,
    notifiers: dict[ChannelKind, Notifier],
    clock: Clock,
    *,
    is_forced: bool = False,
    only: ChannelKind | None = None,
    longest: timedelta | None = None,
    may_give_up: bool = True,
) -> Delivered:
    """Send every row that is due, the waking ones first.

    Nothing is given up as late by a clock that is not known to be right.
    """
    rows = outbox.unsent(clock.now_utc(), is_forced=is_forced)
    chosen = [row for row in rows if only is None or row.message.channel is only]
    if chosen and not is_forced:
        chosen += _ahead_of(chosen, outbox, clock)
    chosen.sort(key=lambda row: (_rank(row), row.row_id))
    with ExitStack() as runs:
        for kind in {row.message.channel for row in chosen}:
            channel: object = notifiers.get(kind)
            if isinstance(channel, RunChannel):
                runs.enter_context(channel.run())
        outcomes = _send_all(
            chosen, outbox, notifiers, clock, longest=longest, may_give_up=may_give_up
        )
    return Delivered(
        outcomes[OutboxState.SENT],
        outcomes[OutboxState.DUE],
        outcomes[OutboxState.DEAD],
    )


def _ahead_of(due: list[OutboxRow], outbox: Outbox, clock: Clock) -> list[OutboxRow]:
    """Return what is more urgent than something due, and waits for its next try.

    When a line comes back, the word of a small fault must not arrive before the
    warning. What may have arrived already is left to its own hour.
    """
    known = {row.row_id for row in due}
    least: dict[ChannelKind, int] = {}
    for row in due:
        kind = row.message.channel
        least[kind] = max(least.get(kind, 0), _rank(row))
    return [
        row
        for row in outbox.unsent(clock.now_utc(), is_forced=True)
        if row.row_id not in known
        and row.state is OutboxState.DUE
        and not row.refusals
        and _rank(row) < least.get(row.message.channel, 0)
    ]


def _rank(row: OutboxRow) -> int:
    """Return how urgent a message is: the smaller, the sooner it goes."""
    return _ORDER.index(row.message.message_class)


def _send_all(
    rows: list[OutboxRow],
    outbox: Outbox,
    notifiers: dict[ChannelKind, Notifier],
    clock: Clock,
    *,
    longest: timedelta | None,
    may_give_up: bool,
) -> Counter[OutboxState]:
    """Send rows until a time is over; return how many ended how."""
    begun_utc = clock.now_utc()
    outcomes: Counter[OutboxState] = Counter()
    for row in rows:
        if not may_give_up and _is_late(row, clock.now_utc()):
            outcomes[OutboxState.DUE] += 1
            continue
        outcomes[_deliver(row, outbox, notifiers, clock)] += 1
        # A clock that was set back ends the round too: the next one looks anew.
        is_time_left = longest is None or (
            timedelta(0) <= clock.now_utc() - begun_utc < longest
        )
        if not is_time_left:
            break
    return outcomes


def _deliver(
    row: OutboxRow,
    outbox: Outbox,
    notifiers: dict[ChannelKind, Notifier],
    clock: Clock,
) -> OutboxState:
    """Send one row and record what became of it."""
    message = row.message
    now_utc = clock.now_utc()
    if _is_late(row, now_utc):
        reason = "not sent: its deadline passed before a channel took it"
        outbox.mark_failed(row, reason, None, kind="late", now_utc=now_utc)
        _LOG.error("message %s to %s: %s", message.key, message.person, reason)
        return OutboxState.DEAD
    if not outbox.mark_sending(row, now_utc):
        # Something newer was said since the queue was read.
        return OutboxState.DEAD
    # A row that was being sent when the program died may have arrived.
    is_repeat = row.state in (OutboxState.SENDING, OutboxState.UNKNOWN)
    try:
        receipt = _channel(row, notifiers).send(
            marked_late(message, now_utc - row.due_utc), is_repeat=is_repeat
        )
    except DeliveryError as error:
        return _record_failure(row, outbox, error, clock.now_utc())
    except Exception as error:  # noqa: BLE001 - one recipient must not stop the others
        _LOG.error(
            "message %s: the channel broke: %s", message.key, type(error).__name__
        )
        # Only the kind of error is kept: its text may hold a password.
        detail = f"the channel broke ({type(error).__name__})"
        broken = DeliveryError(message.channel, Refusal.TRY_AGAIN, detail)
        return _record_failure(row, outbox, broken, clock.now_utc())
    outbox.mark_sent(row, receipt, clock.now_utc())
    _LOG.info(
        "sent %s to %s by %s", message.subject_kind, message.person, message.channel
    )
    return OutboxState.SENT


def _is_late(row: OutboxRow, now_utc: datetime) -> bool:
    """Return whether a message is of no use any more."""
    return now_utc > row.message.deadline_utc


def _channel(row: OutboxRow, notifiers: dict[ChannelKind, Notifier]) -> Notifier:
    """Return the channel of a row."""
    channel = row.message.channel
    if channel not in notifiers:
        detail = f"no [{channel}] section in the configuration"
        raise DeliveryError(channel, Refusal.MISCONFIGURED, detail)
    return notifiers[channel]


def _record_failure(
    row: OutboxRow, outbox: Outbox, error: DeliveryError, now_utc: datetime
) -> OutboxState:
    """Record a failure with the moment of the next try, if there is to be one."""
    # What is kept is shown, and told outside: nobody's address stands in it.
    words = without_addresses(str(error))
    _LOG.warning("message %s to %s: %s", row.message.key, row.message.person, words)
    next_try = _next_try(row, error, now_utc)
    outbox.mark_failed(row, words, next_try, kind=error.refusal.value, now_utc=now_utc)
    return OutboxState.DEAD if next_try is None else OutboxState.DUE


def _next_try(
    row: OutboxRow, error: DeliveryError, now_utc: datetime
) -> datetime | None:
    """Return when to try again, or None for never."""
    if error.refusal is Refusal.MISCONFIGURED:
        return now_utc + _MISCONFIGURED_WAIT
    if error.refusal is Refusal.UNKNOWN_OUTCOME:
        is_over = row.unknowns >= len(_UNKNOWN_WAITS)
        return None if is_over else now_utc + _UNKNOWN_WAITS[row.unknowns]
    if error.refusal is Refusal.BAD_RECIPIENT:
        is_over = row.refusals >= len(_MAILBOX_WAITS)
        return None if is_over else now_utc + _MAILBOX_WAITS[row.refusals]
    if not error.retryable:
        return None
    return now_utc + _WAITS[min(row.attempts, len(_WAITS) - 1)]
