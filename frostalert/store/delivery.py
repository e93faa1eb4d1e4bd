"""What became of the messages: proofs awaited, failures, budgets, last arrivals."""

import json
import sqlite3
from collections.abc import Collection
from collections.abc import Set as AbstractSet
from datetime import date, datetime, timedelta

from frostalert.model.channel import CHANNELS, ChannelKind, Form
from frostalert.model.notice import LastArrival, OutboxRow
from frostalert.model.tier_words import SUBJECT_WORDS
from frostalert.ports import UNCONFIRMED, UNPROVEN, UNREACHED
from frostalert.store.codec import moment_text, read_moment
from frostalert.store.connection import Database
from frostalert.store.legible import legible
from frostalert.store.outbox import LONGEST_HOLD, OPEN, OVERTAKEN, SELECT_ROWS, read_row

_DAY = timedelta(days=1)
_PROOF_AWAITED = timedelta(hours=1)
_HALF_A_DAY = timedelta(hours=12)
_TRYING = timedelta(minutes=15)
"""How long a message is tried before people are to hear that it did not arrive."""
# Given up, or tried in vain for a while; not where something newer was said.
_FAILED = (
    "o.last_error IS NOT NULL AND o.last_error != :overtaken AND ("
    "o.state IN ('dead', 'unknown') OR (o.state IN ('due', 'sending') "
    "AND o.attempts >= 2 AND o.queued_utc <= :tried))"
)
_TAKEN_SINCE = (
    "EXISTS (SELECT 1 FROM outbox r WHERE r.person = o.person "
    "AND r.queued_utc >= o.queued_utc AND r.state IN ('sent', 'delivered'))"
)
# By another channel, or by what was said since; or that is still under way.
_REACHED = (
    "EXISTS (SELECT 1 FROM outbox r WHERE r.person = o.person AND r.night = o.night "
    "AND r.queued_utc >= o.queued_utc AND (r.state IN ('sent', 'delivered') "
    "OR (r.state IN ('due', 'sending') AND r.attempts < 2)))"
)
_TOLD = {kind.value: words for kind, words in SUBJECT_WORDS.items()}
"""What people read in place of a message's kind."""


def _night_words(night: str) -> str:
    """Return a night by its date, as people write it wherever they live."""
    evening = date.fromisoformat(night)
    return f"the night of {evening:%a %b} {evening.day}"


class DeliveryStore:
    """Questions about what was sent."""

    database: Database

    def delivery_problems(
        self, now_utc: datetime, proving: Collection[ChannelKind] = ()
    ) -> dict[str, str]:
        """Return what could not be delivered of late, in words.

        By channel, and for each person and night whom no warning reached, or whose
        text is not proven on a channel that can prove it.
        """
        unproven = self._unconfirmed_nights(now_utc, proving) if proving else {}
        return self._failed(now_utc) | unproven

    def _unconfirmed_nights(
        self, now_utc: datetime, proving: Collection[ChannelKind]
    ) -> dict[str, str]:
        """Return whose waking text nobody has confirmed in time, nor answered."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT o.person, o.night, max(o.sent_utc) FROM outbox o "
                "INDEXED BY outbox_by_sent WHERE o.state = 'sent' "
                "AND o.sent_utc >= ? AND o.sent_utc <= ? "
                "AND o.message_class = 'waking' AND o.night IS NOT NULL "
                "AND o.provider_id IS NOT NULL AND o.deadline_utc >= ? "
                "AND o.channel IN (SELECT value FROM json_each(?)) "
                "AND NOT EXISTS (SELECT 1 FROM outbox r WHERE r.person = o.person "
                "AND r.state = 'delivered' AND r.delivered_utc >= o.sent_utc) "
                "AND NOT EXISTS (SELECT 1 FROM answer a WHERE a.person = o.person "
                "AND a.given_utc >= o.sent_utc) GROUP BY o.person, o.night",
                (
                    moment_text(now_utc - _HALF_A_DAY),
                    moment_text(now_utc - UNCONFIRMED),
                    moment_text(now_utc),
                    json.dumps([kind.value for kind in proving]),
                ),
            ).fetchall()
        return {
            f"{UNPROVEN}{row['person']} {row['night']}": f"the text to {row['person']} "
            f"about {_night_words(row['night'])} was sent but not confirmed in ten "
            f"minutes: phone {row['person']}"
            for row in rows
        }

    def _failed(self, now_utc: datetime) -> dict[str, str]:
        """Return what was not taken, or not for certain."""
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
        if not rows:
            # Looked for every few seconds; who was not reached is among them.
            return {}
        errors: dict[str, list[sqlite3.Row]] = {}
        for row in rows:
            errors.setdefault(row["channel"], []).append(row)
        by_channel = {
            channel: f"{len(found)} of our messages by {channel} may not have "
            f"arrived; the last answer was: {found[-1]['last_error']}"
            for channel, found in errors.items()
        }
        return by_channel | self._unreached_nights(now_utc)

    def _unreached_nights(self, now_utc: datetime) -> dict[str, str]:
        """Return whom no warning of a night reached, so that somebody calls."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT o.person, o.night, o.subject_kind, max(o.row_id) FROM outbox o "  # noqa: S608 - constants of this module
                "WHERE o.queued_utc >= :since AND o.night IS NOT NULL AND "
                "o.subject_kind IN ('prepare', 'act', 'cannot-judge') AND "
                f"{_FAILED} AND NOT {_REACHED} GROUP BY o.person, o.night",
                _failing_since(now_utc, _DAY),
            ).fetchall()
        return {
            f"{UNREACHED}{row['person']} {row['night']}": f"{row['person']} did not "
            f'get "{_TOLD.get(row["subject_kind"], row["subject_kind"])}" for '
            f"{_night_words(row['night'])}: phone {row['person']}"
            for row in rows
        }

    def unreached_people(self, now_utc: datetime) -> frozenset[str]:
        """Return whom nothing of the last half day has reached that was tried."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT DISTINCT o.person FROM outbox o WHERE o.queued_utc >= :since "  # noqa: S608 - constants of this module
                f"AND {_FAILED} AND NOT {_TAKEN_SINCE}",
                _failing_since(now_utc, _HALF_A_DAY),
            ).fetchall()
        return frozenset(row["person"] for row in rows)

    def addressed(self, nights: AbstractSet[date]) -> frozenset[tuple[date, str]]:
        """Return night and address of every message about some nights."""
        if not nights:
            return frozenset()
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT DISTINCT n.night, o.address FROM outbox o "
                "JOIN outbox_night n USING (row_id) "
                "WHERE n.night IN (SELECT value FROM json_each(?))",
                (json.dumps([night.isoformat() for night in nights]),),
            ).fetchall()
        return frozenset(
            (date.fromisoformat(row["night"]), row["address"]) for row in rows
        )

    def operator_heard_utc(self) -> datetime | None:
        """Return when a message about the service itself was last taken."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT max(sent_utc) AS at FROM outbox WHERE subject_kind = 'operator'"
            ).fetchone()
        return None if row["at"] is None else read_moment(row["at"])

    def last_messages(self, count: int) -> tuple[OutboxRow, ...]:
        """Return the last messages that were queued, newest first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                f"{SELECT_ROWS} WHERE coalesce(last_error, '') != ? "
                "ORDER BY row_id DESC LIMIT ?",
                (OVERTAKEN, count),
            ).fetchall()
        return tuple(legible(self.database, rows, read_row, "row_id"))

    def awaiting_proof(self, now_utc: datetime) -> list[OutboxRow]:
        """Return the texts of the last hour that a service took and nobody proved."""
        texts = [row.kind for row in CHANNELS if row.form is Form.TEXT]
        places = ", ".join("?" * len(texts))
        with self.database.reading() as connection:
            rows = connection.execute(
                # By the last hour's, not by all of a season's that were sent.
                f"{SELECT_ROWS} INDEXED BY outbox_by_sent "
                f"WHERE state = 'sent' AND channel IN ({places}) "
                "AND provider_id IS NOT NULL AND sent_utc >= ? ORDER BY row_id",
                (*texts, moment_text(now_utc - _PROOF_AWAITED)),
            ).fetchall()
        return legible(self.database, rows, read_row, "row_id")

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
                "WHERE message_class = 'warning' AND queued_utc >= ? "
                "AND coalesce(held_until_utc, queued_utc) >= ? "
                "AND coalesce(held_until_utc, queued_utc) < ? "
                "AND coalesce(last_error, '') != ? GROUP BY person",
                (
                    # Nothing is held for longer: a season's earlier rows stay unread.
                    moment_text(since_utc - LONGEST_HOLD),
                    moment_text(since_utc),
                    moment_text(until_utc),
                    OVERTAKEN,
                ),
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
                is_confirmed=bool(row["proven"]),
            )
            for row in rows
            if row["at"] is not None
        ]


def _failing_since(now_utc: datetime, window: timedelta) -> dict[str, str]:
    """Return the values for finding what failed within a window."""
    return {
        "since": moment_text(now_utc - window),
        "tried": moment_text(now_utc - _TRYING),
        "overtaken": OVERTAKEN,
    }
