"""What was said by a clock that was ahead: found again, and put right."""

from collections.abc import Sequence
from datetime import date, datetime

from frostalert.model.notice import ENDINGS, Message, NightHistory, Subject
from frostalert.ports import EarlyWords
from frostalert.store.codec import history_text, moment_text
from frostalert.store.connection import Database
from frostalert.store.outbox import OPEN, insert_messages

_TOO_EARLY = "not sent: it was written by a clock that was ahead"


class EarlyStore:
    """Messages and histories from the time to come."""

    database: Database

    def early_words(self, since_utc: datetime) -> EarlyWords | None:
        """Return what bears a moment later than one; None if nothing does."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT person, subject_kind, state, night FROM outbox "
                "WHERE queued_utc > ?",
                (moment_text(since_utc),),
            ).fetchall()
        if not rows:
            return None
        endings = {subject.value for subject in ENDINGS}
        out = [row for row in rows if row["state"] not in ("due", "dead")]
        ends = [row for row in out if row["subject_kind"] in endings]
        acts = [row for row in out if row["subject_kind"] == Subject.ACT.value]
        return EarlyWords(
            called=frozenset(row["person"] for row in acts),
            ended=frozenset(row["person"] for row in ends),
            ended_nights=frozenset(
                date.fromisoformat(row["night"])
                for row in rows
                if row["subject_kind"] in endings and row["night"]
            ),
        )

    def put_right(
        self,
        histories: Sequence[NightHistory],
        messages: list[Message],
        since_utc: datetime,
        now_utc: datetime,
    ) -> int:
        """Give up what waits from the time to come, and date the rest by now.

        Histories are replaced and messages queued with that, or nothing of it is done.
        Returns how many messages were new.
        """
        now, since = moment_text(now_utc), moment_text(since_utc)
        with self.database.writing() as connection:
            connection.execute(
                "UPDATE outbox SET state = 'dead', last_error = ? "
                "WHERE queued_utc > ? AND state IN (?, ?)",
                (_TOO_EARLY, since, *OPEN),
            )
            for name in ("queued_utc", "sent_utc", "delivered_utc", "last_try_utc"):
                connection.execute(
                    f"UPDATE outbox SET {name} = ? WHERE {name} > ?",  # noqa: S608 - constants
                    (now, since),
                )
            connection.execute(
                "UPDATE answer SET given_utc = ? WHERE given_utc > ?", (now, since)
            )
            connection.executemany(
                "UPDATE night_history SET content = ? WHERE night = ?",
                [(history_text(item), item.night.isoformat()) for item in histories],
            )
            return insert_messages(connection, messages, now_utc)
