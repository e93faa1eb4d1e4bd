"""The queue of messages: durable before the first try, marked after each."""

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from frostalert.errors import Refusal
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import (
    Message,
    MessageClass,
    OutboxRow,
    OutboxState,
    Receipt,
    Subject,
)
from frostalert.store.codec import (
    attachments_text,
    fallback_text,
    moment_text,
    read_attachments,
    read_fallback,
    read_moment,
    read_optional,
)
from frostalert.store.connection import Database
from frostalert.store.legible import legible

OVERTAKEN = "not sent: a newer message about the same night overtook it"
_FAR_AHEAD = timedelta(hours=1)
LONGEST_HOLD = timedelta(hours=36)
_SEASON = timedelta(days=183)
"""From a bloom to the next autumn: what was said is looked up no longer than that."""
_TRIES_BEFORE_FALLBACK = 2
_LASTING = (Refusal.MISCONFIGURED.value, Refusal.BAD_RECIPIENT.value)
"""What trying again will hardly mend: the other channel is used at once."""
SELECT_ROWS = (
    "SELECT outbox.*, (SELECT group_concat(night) FROM outbox_night n "
    "WHERE n.row_id = outbox.row_id) AS nights FROM outbox"
)
OPEN = (OutboxState.DUE.value, OutboxState.SENDING.value)


class OutboxStore:
    """The queue as the relay sees it."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def queue(self, messages: list[Message], now_utc: datetime) -> int:
        """Queue messages that belong to no decision; return how many were new."""
        if not messages:
            return 0
        with self.database.writing() as connection:
            return insert_messages(connection, messages, now_utc)

    def unsent(self, now_utc: datetime, *, is_forced: bool) -> list[OutboxRow]:
        """Return the rows that are due, or every unsent one if forced; waking first."""
        limit = moment_text(now_utc)
        with self.database.reading() as connection:
            rows = connection.execute(
                f"{SELECT_ROWS} WHERE state IN (?, ?) "
                "AND (? OR next_try_utc <= ? OR next_try_utc > ?) "
                "AND (held_until_utc IS NULL OR held_until_utc <= ? "
                "OR held_until_utc > ?) "
                "ORDER BY message_class != 'waking', row_id",
                # What was planned far ahead was planned before the clock was set back.
                (
                    *OPEN,
                    int(is_forced),
                    limit,
                    moment_text(now_utc + _FAR_AHEAD),
                    limit,
                    moment_text(now_utc + LONGEST_HOLD),
                ),
            ).fetchall()
        read = legible(self.database, rows, read_row, "row_id")
        if len(read) < len(rows):
            self._give_up({row["row_id"] for row in rows} - {r.row_id for r in read})
        return read

    def _give_up(self, unreadable: set[int]) -> None:
        """Give rows up that cannot be read: whom they were for is told by hand."""
        with self.database.writing() as connection:
            connection.executemany(
                "UPDATE outbox SET state = ?, last_error = ? WHERE row_id = ?",
                [
                    (OutboxState.DEAD.value, "what was stored cannot be read", row_id)
                    for row_id in unreadable
                ],
            )

    def mark_sending(self, row: OutboxRow, now_utc: datetime) -> bool:
        """Record an attempt before it is made; return whether the row is still open."""
        with self.database.writing() as connection:
            cursor = connection.execute(
                "UPDATE outbox SET state = ?, attempts = attempts + 1, "
                "last_try_utc = ? WHERE message_key = ? AND state IN (?, ?)",
                (
                    OutboxState.SENDING.value,
                    moment_text(now_utc),
                    row.message.key,
                    *OPEN,
                ),
            )
        return bool(cursor.rowcount)

    def mark_sent(self, row: OutboxRow, receipt: Receipt, now_utc: datetime) -> None:
        """Record that a message was taken."""
        with self.database.writing() as connection:
            connection.execute(
                "UPDATE outbox SET state = ?, sent_utc = ?, provider_id = ?, "
                "last_error = NULL WHERE message_key = ? AND state != ?",
                (
                    OutboxState.SENT.value,
                    moment_text(now_utc),
                    receipt.provider_id,
                    row.message.key,
                    OutboxState.DELIVERED.value,
                ),
            )

    def mark_delivered(self, row: OutboxRow, now_utc: datetime) -> None:
        """Record the proof that a message reached the phone; nothing undoes it."""
        self._update(
            row,
            "state = ?, delivered_utc = ?, last_error = NULL, fallback = NULL",
            (OutboxState.DELIVERED.value, moment_text(now_utc)),
        )

    def mark_undelivered(self, row: OutboxRow, reason: str, now_utc: datetime) -> None:
        """Record that a message which was taken did not arrive, and fall back."""
        with self.database.writing() as connection:
            connection.execute(
                "UPDATE outbox SET state = ?, last_error = ? "
                "WHERE message_key = ? AND state != ?",
                (
                    OutboxState.DEAD.value,
                    reason,
                    row.message.key,
                    OutboxState.DELIVERED.value,
                ),
            )
            _fall_back(connection, row, now_utc)

    def fall_back(self, row: OutboxRow, now_utc: datetime) -> bool:
        """Queue a message on its other channel; return whether there was one left."""
        with self.database.writing() as connection:
            return _fall_back(connection, row, now_utc)

    def mark_failed(
        self,
        row: OutboxRow,
        reason: str,
        next_try_utc: datetime | None,
        *,
        kind: str,
        now_utc: datetime,
    ) -> None:
        """Record a failure; no next try means that the row is dead.

        After the second, or one that trying again will not mend, the message is queued
        on the person's other channel too, if it has one.
        """
        is_unknown = kind == Refusal.UNKNOWN_OUTCOME.value
        if next_try_utc is None:
            state = OutboxState.UNKNOWN if is_unknown else OutboxState.DEAD
        else:
            # Still "sending": whether this try or an earlier one arrived is not known,
            # and the next one must say that it may be a repeat.
            may_have_arrived = is_unknown or row.state is OutboxState.SENDING
            state = OutboxState.SENDING if may_have_arrived else OutboxState.DUE
        next_try = next_try_utc or row.next_try_utc
        is_late = now_utc > row.message.deadline_utc
        is_lasting = next_try_utc is None or kind in _LASTING
        is_time = is_lasting or row.attempts + 1 >= _TRIES_BEFORE_FALLBACK
        with self.database.writing() as connection:
            connection.execute(
                "UPDATE outbox SET state = ?, last_error = ?, next_try_utc = ?, "
                "unknowns = unknowns + ?, refusals = refusals + ? "
                "WHERE message_key = ? AND state IN (?, ?)",
                (
                    state.value,
                    reason,
                    moment_text(next_try),
                    int(is_unknown),
                    int(kind == Refusal.BAD_RECIPIENT.value),
                    row.message.key,
                    *OPEN,
                ),
            )
            if is_time and not is_late:
                _fall_back(connection, row, now_utc)

    def drop_bodies(self, now_utc: datetime) -> int:
        """Forget what messages older than a season said; return how many there were.

        To whom they went, and when, stays: pictures and pages fill the disk.
        """
        with self.database.writing() as connection:
            cursor = connection.execute(
                "UPDATE outbox SET body = '', html = NULL, fallback = NULL, "
                "attachments = ? WHERE queued_utc < ? AND body != '' "
                "AND state NOT IN (?, ?)",
                (attachments_text(()), moment_text(now_utc - _SEASON), *OPEN),
            )
        return cursor.rowcount

    def counts(self) -> dict[str, int]:
        """Return how many rows stand in each state."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT state, count(*) AS n FROM outbox GROUP BY state"
            ).fetchall()
        return {row["state"]: row["n"] for row in rows}

    def _update(
        self, row: OutboxRow, assignments: str, values: tuple[str | int | None, ...]
    ) -> None:
        """Change one row."""
        with self.database.writing() as connection:
            connection.execute(
                f"UPDATE outbox SET {assignments} WHERE message_key = ?",  # noqa: S608 - constants of this module
                (*values, row.message.key),
            )


def insert_messages(
    connection: sqlite3.Connection, messages: Sequence[Message], now_utc: datetime
) -> int:
    """Queue messages inside a transaction; return how many were not there before."""
    return sum(_insert(connection, message, now_utc) for message in messages)


def _insert(
    connection: sqlite3.Connection,
    message: Message,
    now_utc: datetime,
    *,
    due_utc: datetime | None = None,
) -> int:
    """Queue one message; return whether it was not there before, as 0 or 1.

    `due_utc` is when it was to go out another way: it is late from then.
    """
    held = message.held_until_utc
    values: dict[str, str | None] = {
        "message_key": message.key,
        "subject_kind": message.subject_kind.value,
        "message_class": message.message_class.value,
        "night": message.night.isoformat() if message.night else None,
        "person": message.person,
        "channel": message.channel.value,
        "address": message.address,
        "subject": message.subject,
        "body": message.text,
        "html": message.html,
        "message_id": message.message_id,
        "thread": message.thread,
        "queued_utc": moment_text(due_utc or now_utc),
        "deadline_utc": moment_text(message.deadline_utc),
        "held_until_utc": moment_text(held) if held else None,
        "held_reason": message.held_reason,
        "fallback": fallback_text(message.fallback),
        "attachments": attachments_text(message.attachments),
        "state": OutboxState.DUE.value,
        "next_try_utc": moment_text(held or now_utc),
    }
    cursor = connection.execute(
        f"INSERT INTO outbox ({', '.join(values)}) "  # noqa: S608 - names of this module
        f"VALUES ({', '.join('?' * len(values))}) "
        "ON CONFLICT (message_key) DO NOTHING",
        tuple(values.values()),
    )
    if not cursor.rowcount:
        return 0
    nights = message.nights or ((message.night,) if message.night else ())
    connection.executemany(
        "INSERT INTO outbox_night VALUES (?, ?)",
        [(cursor.lastrowid, night.isoformat()) for night in nights],
    )
    return 1


def _fall_back(
    connection: sqlite3.Connection, row: OutboxRow, now_utc: datetime
) -> bool:
    """Queue a message on its other channel, once."""
    fallback = row.message.fallback
    taken = connection.execute(
        "UPDATE outbox SET fallback = NULL "
        "WHERE message_key = ? AND fallback IS NOT NULL",
        (row.message.key,),
    )
    if fallback is None or not taken.rowcount:
        return False
    message = replace(
        row.message,
        key=f"{row.message.key}|fallback",
        channel=fallback.channel,
        address=fallback.address,
        subject=fallback.subject,
        text=fallback.text,
        html=fallback.html,
        message_id=row.message.message_id.replace("<", "<fallback.", 1),
        held_until_utc=None,
        held_reason=None,
        fallback=None,
        attachments=fallback.attachments,
    )
    return bool(_insert(connection, message, now_utc, due_utc=row.due_utc))


def told_people(connection: sqlite3.Connection, nights: set[date]) -> set[str]:
    """Return "night|person" and "night|address" of what may have arrived about nights.

    Somebody who was given another name since is known by the address.
    """
    rows = connection.execute(
        "SELECT DISTINCT n.night, o.person, o.address FROM outbox o "
        "JOIN outbox_night n USING (row_id) "
        "WHERE n.night IN (SELECT value FROM json_each(?)) "
        "AND o.subject_kind NOT IN ('withdrawn', 'stand-down') AND "
        "(o.state IN ('sending', 'sent', 'delivered', 'unknown') OR o.unknowns > 0)",
        (json.dumps([night.isoformat() for night in nights]),),
    ).fetchall()
    return {
        f"{row['night']}|{who}"
        for row in rows
        for who in (row["person"], row["address"])
    }


def drop_overtaken(
    connection: sqlite3.Connection,
    night: date,
    announced: set[date],
    heard_at_utc: Mapping[str, datetime] | None,
    now_utc: datetime,
) -> None:
    """Give up what still waits about a night of which something newer is said.

    Only for those who get the newer message, and no later than the waiting one: what
    waits for another try must not be given up for what quiet hours hold till morning.
    For everybody, if `heard_at_utc` is None. And only where every night of the waiting
    one is spoken of anew: nobody may lose the news of another night by it.
    """
    rows = connection.execute(
        "SELECT row_id, person, held_until_utc, (SELECT json_group_array(n.night) "
        "FROM outbox_night n WHERE n.row_id = outbox.row_id) AS nights FROM outbox "
        "WHERE night = ? AND state IN (?, ?)",
        (night.isoformat(), *OPEN),
    ).fetchall()
    known = {day.isoformat() for day in announced}
    connection.executemany(
        "UPDATE outbox SET state = ?, last_error = ? WHERE row_id = ?",
        [
            (OutboxState.DEAD.value, OVERTAKEN, row["row_id"])
            for row in rows
            if set(json.loads(row["nights"])) <= known
            and (heard_at_utc is None or _is_first(row, heard_at_utc, now_utc))
        ],
    )


def _is_first(
    row: sqlite3.Row, heard_at_utc: Mapping[str, datetime], now_utc: datetime
) -> bool:
    """Return whether somebody hears the newer message no later than a waiting one."""
    heard_utc = heard_at_utc.get(row["person"])
    held = row["held_until_utc"]
    waits_until_utc = now_utc if held is None else max(now_utc, read_moment(held))
    return heard_utc is not None and heard_utc <= waits_until_utc


def read_row(row: sqlite3.Row) -> OutboxRow:
    """Return a queued message from its row."""
    message = Message(
        key=row["message_key"],
        subject_kind=Subject(row["subject_kind"]),
        message_class=MessageClass(row["message_class"]),
        night=date.fromisoformat(row["night"]) if row["night"] else None,
        person=row["person"],
        channel=ChannelKind(row["channel"]),
        address=row["address"],
        subject=row["subject"],
        text=row["body"],
        html=row["html"],
        message_id=row["message_id"],
        deadline_utc=read_moment(row["deadline_utc"]),
        thread=row["thread"],
        held_until_utc=read_optional(row["held_until_utc"]),
        held_reason=row["held_reason"],
        fallback=read_fallback(row["fallback"]),
        attachments=read_attachments(row["attachments"]),
        nights=tuple(
            date.fromisoformat(night)
            for night in sorted((row["nights"] or "").split(","))
            if night
        ),
    )
    return OutboxRow(
        row_id=row["row_id"],
        message=message,
        state=OutboxState(row["state"]),
        attempts=row["attempts"],
        unknowns=row["unknowns"],
        next_try_utc=read_moment(row["next_try_utc"]),
        last_error=row["last_error"],
        provider_id=row["provider_id"],
        last_try_utc=read_optional(row["last_try_utc"]),
        queued_utc=read_moment(row["queued_utc"]),
        refusals=row["refusals"],
    )
