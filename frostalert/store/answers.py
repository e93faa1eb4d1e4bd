"""What people answered: short writes of other processes, read by the service."""

import sqlite3
from datetime import date, datetime, timedelta
from functools import lru_cache

from frostalert.alarms.answers import acknowledges
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.store.codec import moment_text, read_moment, read_optional
from frostalert.store.connection import Database
from frostalert.store.legible import legible

_RECENT = timedelta(days=14)


class AnswerStore:
    """Acknowledgements and requests for silence."""

    database: Database

    def record_answer(self, answer: Answer) -> None:
        """Keep an answer; the same one given again takes the place of the first."""
        with self.database.writing() as connection:
            connection.execute(
                "INSERT INTO answer (person, night, tier, revision, kind, given_utc, "
                "until_utc) VALUES (?, ?, ?, ?, ?, ?, ?) "
                "ON CONFLICT (person, night, tier, revision, kind) DO UPDATE SET "
                "given_utc = excluded.given_utc, until_utc = excluded.until_utc",
                (
                    answer.person,
                    answer.night.isoformat(),
                    answer.tier.value,
                    answer.revision,
                    answer.kind.value,
                    moment_text(answer.given_utc),
                    moment_text(answer.until_utc) if answer.until_utc else None,
                ),
            )

    def answered_by(
        self, said: tuple[tuple[date, Tier, int], ...], now_utc: datetime
    ) -> str | None:
        """Return who has acknowledged a message already, by its nights' revisions."""
        return next(
            (
                answer.person
                for answer in self.recent_answers(now_utc)
                if any(acknowledges(answer, *words) for words in said)
            ),
            None,
        )

    def recent_answers(self, now_utc: datetime) -> tuple[Answer, ...]:
        """Return the answers of the last two weeks, oldest first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM answer WHERE given_utc >= ? "
                "ORDER BY given_utc, answer_id",
                (moment_text(now_utc - _RECENT),),
            ).fetchall()
        return tuple(legible(self.database, rows, _answer, "answer_id"))


@lru_cache(maxsize=256)
def _answer(row: sqlite3.Row) -> Answer:
    """Return an answer from its row; the same few are asked for at every look."""
    return Answer(
        person=row["person"],
        night=date.fromisoformat(row["night"]),
        tier=Tier(row["tier"]),
        revision=row["revision"],
        kind=AnswerKind(row["kind"]),
        given_utc=read_moment(row["given_utc"]),
        until_utc=read_optional(row["until_utc"]),
    )
