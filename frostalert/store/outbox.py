"""The queue of messages: durable before the first try, marked after each."""

import sqlite3
from datetime import date, datetime, timedelta

from frostalert.errors import Refusal
from frostalert.model.notice import (
    Message,
    MessageClass,
    OutboxRow,
    OutboxState,
    Receipt,
    Subject,
)
from frostalert.model.site import ChannelKind
from frostalert.store.codec import moment_text, read_moment
from frostalert.store.connection import Database

OVERTAKEN = "not sent: a newer message about the same night overtook it"
_FAR_AHEAD = timedelta(hours=1)
_DAY = timedelta(days=1)
_OPEN = (OutboxState.DUE.value, OutboxState.SENDING.value)


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
                "SELECT * FROM outbox WHERE state IN (?, ?) "
                "AND (? OR next_try_utc <= ? OR next_try_utc > ?) "
                "ORDER BY message_class != 'waking', row_id",
                # A try planned far ahead was planned before the clock was set back.
                (*_OPEN, int(is_forced), limit, moment_text(now_utc + _FAR_AHEAD)),
            ).fetchall()
        return [_row(row) for row in rows]

    def mark_sending(self, row: OutboxRow, now_utc: datetime) -> None:
        """Record an attempt before it is made."""
        self._update(
            row,
            "state = ?, attempts = attempts + 1, last_try_utc = ?",
            (OutboxState.SENDING.value, moment_text(now_utc)),
        )

    def mark_sent(self, row: OutboxRow, receipt: Receipt, now_utc: datetime) -> None:
        """Record that a message was taken."""
        self._update(
            row,
            "state = ?, sent_utc = ?, provider_id = ?, last_error = NULL",
            (OutboxState.SENT.value, moment_text(now_utc), receipt.provider_id),
        )

    def mark_failed(
        self, row: OutboxRow, reason: str, next_try_utc: datetime | None, *, kind: str
    ) -> None:
        """Record a failure; no next try means that the row is dead."""
        is_unknown = kind == Refusal.UNKNOWN_OUTCOME.value
        if next_try_utc is None:
            state = OutboxState.UNKNOWN if is_unknown else OutboxState.DEAD
        else:
            # Still "sending": whether the last try arrived is not known, and the
            # next one must say that it may be a repeat.
            state = OutboxState.SENDING if is_unknown else OutboxState.DUE
        next_try = next_try_utc or row.next_try_utc
        self._update(
            row,
            "state = ?, last_error = ?, next_try_utc = ?, unknowns = unknowns + ?",
            (state.value, reason, moment_text(next_try), int(is_unknown)),
        )

    def delivery_problems(self, now_utc: datetime) -> dict[str, str]:
        """Return what could not be delivered of late, by channel, in words."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT channel, last_error FROM outbox "
                "WHERE queued_utc >= ? AND subject_kind != 'operator' "
                "AND last_error IS NOT NULL AND last_error != ? AND "
                "(state IN ('dead', 'unknown') OR (state IN (?, ?) AND attempts >= 2)) "
                "ORDER BY last_try_utc",
                (moment_text(now_utc - _DAY), OVERTAKEN, *_OPEN),
            ).fetchall()
        errors: dict[str, list[str]] = {}
        for row in rows:
            errors.setdefault(row["channel"], []).append(row["last_error"])
        return {
            channel: f"messages by {channel} that did not arrive for certain: "
            f"{len(found)}; the last answer was: {found[-1]}"
            for channel, found in errors.items()
        }

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
                f"UPDATE outbox SET {assignments} WHERE row_id = ?",  # noqa: S608 - constants of this module
                (*values, row.row_id),
            )


def insert_messages(
    connection: sqlite3.Connection, messages: list[Message], now_utc: datetime
) -> int:
    """Queue messages inside a transaction; return how many were not there before."""
    added = 0
    for message in messages:
        cursor = connection.execute(
            "INSERT INTO outbox (message_key, subject_kind, message_class, night, "
            "person, channel, address, subject, body, html, message_id, queued_utc, "
            "deadline_utc, state, next_try_utc) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) "
            "ON CONFLICT (message_key) DO NOTHING",
            (
                message.key,
                message.subject_kind.value,
                message.message_class.value,
                message.night.isoformat() if message.night else None,
                message.person,
                message.channel.value,
                message.address,
                message.subject,
                message.text,
                message.html,
                message.message_id,
                moment_text(now_utc),
                moment_text(message.deadline_utc),
                OutboxState.DUE.value,
                moment_text(now_utc),
            ),
        )
        added += cursor.rowcount
    return added


def drop_overtaken(connection: sqlite3.Connection, night: date) -> None:
    """Give up what still waits about a night of which something newer is said."""
    connection.execute(
        "UPDATE outbox SET state = ?, last_error = ? "
        "WHERE night = ? AND state IN (?, ?)",
        (OutboxState.DEAD.value, OVERTAKEN, night.isoformat(), *_OPEN),
    )


def _row(row: sqlite3.Row) -> OutboxRow:
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
    )
