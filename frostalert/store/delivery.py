"""What became of the messages: proofs awaited, failures, budgets, last arrivals."""

import sqlite3
from datetime import datetime, timedelta

from frostalert.model.notice import LastArrival, OutboxRow
from frostalert.store.codec import moment_text, read_moment
from frostalert.store.connection import Database
from frostalert.store.outbox import OPEN, OVERTAKEN, SELECT_ROWS, read_row

_DAY = timedelta(days=1)
_PROOF_AWAITED = timedelta(hours=1)


class DeliveryStore:
    """Questions about what was sent."""

    database: Database

    def delivery_problems(self, now_utc: datetime) -> dict[str, str]:
        """Return what could not be delivered of late, by channel, in words."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT channel, last_error, state, message_class, subject_kind, "
                "person, night FROM outbox "
                "WHERE queued_utc >= ? AND subject_kind != 'operator' "
                "AND last_error IS NOT NULL AND last_error != ? AND "
                "(state IN ('dead', 'unknown') OR (state IN (?, ?) AND attempts >= 2)) "
                "ORDER BY last_try_utc",
                (moment_text(now_utc - _DAY), OVERTAKEN, *OPEN),
            ).fetchall()
        errors: dict[str, list[sqlite3.Row]] = {}
        for row in rows:
            errors.setdefault(row["channel"], []).append(row)
        return {
            channel: f"messages by {channel} that did not arrive for certain: "
            f"{len(found)}; the last answer was: {found[-1]['last_error']}"
            + _undelivered(found)
            for channel, found in errors.items()
        }

    def last_messages(self, count: int) -> tuple[OutboxRow, ...]:
        """Return the last messages that were queued, newest first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                f"{SELECT_ROWS} WHERE coalesce(last_error, '') != ? "
                "ORDER BY row_id DESC LIMIT ?",
                (OVERTAKEN, count),
            ).fetchall()
        return tuple(read_row(row) for row in rows)

    def awaiting_proof(self, now_utc: datetime) -> list[OutboxRow]:
        """Return the texts of the last hour that a service took and nobody proved."""
        with self.database.reading() as connection:
            rows = connection.execute(
                f"{SELECT_ROWS} WHERE state = 'sent' AND channel = 'sms' "
                "AND provider_id IS NOT NULL AND sent_utc >= ? ORDER BY row_id",
                (moment_text(now_utc - _PROOF_AWAITED),),
            ).fetchall()
        return [read_row(row) for row in rows]

    def warnings_between(
        self, since_utc: datetime, until_utc: datetime
    ) -> dict[str, int]:
        """Return how many warnings reach each person between two moments.

        Two channels of one occasion count once; what wakes has a budget of its own.
        """
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT person, count(DISTINCT queued_utc || subject_kind || "
                "coalesce(night, '')) AS n FROM outbox "
                "WHERE message_class = 'warning' "
                "AND coalesce(held_until_utc, queued_utc) >= ? "
                "AND coalesce(held_until_utc, queued_utc) < ? "
                "AND coalesce(last_error, '') != ? GROUP BY person",
                (moment_text(since_utc), moment_text(until_utc), OVERTAKEN),
            ).fetchall()
        return {row["person"]: row["n"] for row in rows}

    def oldest_due_utc(self, now_utc: datetime) -> datetime | None:
        """Return since when the oldest message waits that should have been tried."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT min(next_try_utc) AS oldest FROM outbox WHERE state IN (?, ?) "
                "AND next_try_utc <= ?",
                (*OPEN, moment_text(now_utc)),
            ).fetchone()
        return None if row["oldest"] is None else read_moment(row["oldest"])

    def last_arrivals(self) -> list[LastArrival]:
        """Return the last message to each person and channel that was taken."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT person, channel, max(coalesce(delivered_utc, sent_utc)) AS at, "
                "max(state = 'delivered') AS proven FROM outbox "
                "WHERE state IN ('sent', 'delivered') GROUP BY person, channel "
                "ORDER BY person, channel"
            ).fetchall()
        return [
            LastArrival(
                person=row["person"],
                channel=row["channel"],
                at_utc=read_moment(row["at"]),
                is_proven=bool(row["proven"]),
            )
            for row in rows
            if row["at"] is not None
        ]


def _undelivered(rows: list[sqlite3.Row]) -> str:
    """Return which warnings will not be tried any more, so that somebody calls."""
    given_up = [
        f"{row['subject_kind']} for {row['person']}, night of {row['night']}"
        for row in rows
        if row["state"] == "dead" and row["night"] is not None
    ]
    if not given_up:
        return ""
    return ". Given up, so tell them yourself: " + "; ".join(given_up[-3:])
