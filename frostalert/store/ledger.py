"""What was sent and counted, night by night, for a season's ledger."""

from datetime import date, datetime

from frostalert.model.assessment import Tier
from frostalert.model.ledger import BudCount, NightCalls
from frostalert.model.notice import Subject
from frostalert.store.codec import read_optional
from frostalert.store.connection import Database

# A message may speak of several nights: a call for the first is none for the others.
_CALLS = """
SELECT n.night AS night, count(*) AS messages,
    min(CASE WHEN o.subject_kind IN ('prepare', 'act') AND o.queued_utc >= (
        SELECT min(decided_utc) FROM decision d
        WHERE d.night = n.night AND d.said IN ('prepare', 'act')
    ) THEN o.sent_utc END) AS first
FROM outbox o JOIN outbox_night n USING (row_id)
WHERE o.sent_utc IS NOT NULL AND n.night BETWEEN ? AND ?
GROUP BY n.night
"""


class LedgerStore:
    """Counts of buds, and the calls of past nights."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def save_bud_count(self, count: BudCount) -> None:
        """Keep a count, over an earlier one of the same block and night."""
        with self.database.writing() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO bud_count VALUES (?, ?, ?, ?)",
                (count.block, count.night.isoformat(), count.dead, count.counted),
            )

    def bud_counts(self) -> tuple[BudCount, ...]:
        """Return all counts, the oldest night first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM bud_count ORDER BY night, block"
            ).fetchall()
        return tuple(
            BudCount(
                block=row["block"],
                night=date.fromisoformat(row["night"]),
                dead=row["dead"],
                counted=row["counted"],
            )
            for row in rows
        )

    def calls(self, first: date, last: date) -> dict[date, NightCalls]:
        """Return what was sent about each night between two dates."""
        span = (first.isoformat(), last.isoformat())
        with self.database.reading() as connection:
            sent = connection.execute(_CALLS, span).fetchall()
            said = connection.execute(
                "SELECT night, said FROM decision "
                "WHERE said IS NOT NULL AND night BETWEEN ? AND ? ORDER BY decision_id",
                span,
            ).fetchall()
            answered = connection.execute(
                "SELECT DISTINCT night, person, kind FROM answer "
                "WHERE night BETWEEN ? AND ? ORDER BY answer_id",
                span,
            ).fetchall()
        firsts: dict[str, datetime | None] = {
            row["night"]: read_optional(row["first"]) for row in sent
        }
        numbers = {row["night"]: int(row["messages"]) for row in sent}
        nights = {row["night"] for rows in (sent, said, answered) for row in rows}
        return {
            date.fromisoformat(night): NightCalls(
                highest=_highest([r["said"] for r in said if r["night"] == night]),
                is_withdrawn=_is_withdrawn(
                    [r["said"] for r in said if r["night"] == night]
                ),
                first_call_utc=firsts.get(night),
                messages=numbers.get(night, 0),
                answers=tuple(
                    f"{row['person']}: {row['kind']}"
                    for row in answered
                    if row["night"] == night
                ),
            )
            for night in nights
        }


def _is_withdrawn(said: list[str]) -> bool:
    """Return whether the last word about a night was that it was withdrawn."""
    return bool(said) and said[-1] == Subject.WITHDRAWN


def _highest(said: list[str]) -> Tier:
    """Return the highest tier among the kinds of messages about a night."""
    tiers = [Tier(kind) for kind in said if kind in ("outlook", "prepare", "act")]
    if not tiers and "cannot-judge" in said:
        return Tier.CANNOT_JUDGE
    return max(tiers, key=lambda tier: tier.rank, default=Tier.NONE)
