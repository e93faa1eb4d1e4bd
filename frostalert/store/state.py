"""The state as the pipeline's ports ask for it."""

import logging
import sqlite3
from collections.abc import Container, Sequence
from datetime import date, datetime, timedelta

from frostalert.model.forecast import CLOCK_SLACK, ForecastRun
from frostalert.model.notice import (
    ENDINGS,
    TO_OTHERS,
    Decision,
    Message,
    NightHistory,
    Subject,
)
from frostalert.ports import LINE, Fault, Fetched, SourceMemory
from frostalert.store.answers import AnswerStore
from frostalert.store.archive import ArchiveStore
from frostalert.store.by_phone import PhoneStore
from frostalert.store.codec import (
    history_text,
    memory_text,
    moment_text,
    read_history,
    read_memory,
    read_moment,
    read_optional,
    read_run,
    run_text,
)
from frostalert.store.connection import Database
from frostalert.store.delivery import DeliveryStore
from frostalert.store.early import EarlyStore
from frostalert.store.ledger import LedgerStore
from frostalert.store.legible import legible
from frostalert.store.official import OfficialStore
from frostalert.store.outbox import (
    OVERTAKEN,
    OutboxStore,
    drop_overtaken,
    insert_messages,
    told_people,
)
from frostalert.store.pairs import PairStore
from frostalert.store.readings import ReadingStore
from frostalert.store.tickets import TicketStore
from frostalert.store.warmth import WarmthStore

_RECENT_NIGHTS = 21
_AGING = (("reading", "at_utc"), ("archive_answer", "fetched_utc"))
"""What grows old beside the runs, and by which column."""
_AHEAD = timedelta(days=10)
_LOG = logging.getLogger(__name__)


class StateStore(
    OutboxStore,
    DeliveryStore,
    AnswerStore,
    ReadingStore,
    PairStore,
    OfficialStore,
    WarmthStore,
    LedgerStore,
    TicketStore,
    PhoneStore,
    EarlyStore,
    ArchiveStore,
):
    """Forecast runs, histories, faults, answers and the queue.

    Parameters
    ----------
    database : Database
        A migrated database.
    keeps_history : bool
        False in a rehearsal: then only the forecast given last is looked at.
    """

    def __init__(self, database: Database, *, keeps_history: bool = True) -> None:
        super().__init__(database)
        self._keeps_history = keeps_history

    def unreadable_rows(self) -> int:
        """Return how many stored rows could not be read since the start."""
        return len(self.database.unreadable)

    def _readable(self, rows: list[sqlite3.Row]) -> list[ForecastRun]:
        """Return the runs that can be read."""
        return legible(self.database, rows, read_run, "run_id")

    def source_memory(self, source: str) -> SourceMemory:
        """Return what a source is to be reminded of."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT content FROM source_memory WHERE source = ?", (source,)
            ).fetchone()
        return SourceMemory() if row is None else read_memory(row["content"])

    def save_run(self, fetched: Fetched, source: str, checked_utc: datetime) -> bool:
        """Keep a fetched run; return whether it was newer than the last."""
        with self.database.writing() as connection:
            connection.execute(
                "INSERT INTO source_memory VALUES (?, ?, ?) ON CONFLICT (source) "
                "DO UPDATE SET content = excluded.content, "
                "checked_utc = excluded.checked_utc",
                (source, memory_text(fetched.memory), moment_text(checked_utc)),
            )
            if fetched.run is None:
                return False
            if not self._keeps_history:
                connection.execute(
                    "DELETE FROM forecast_run WHERE source = ?", (fetched.run.source,)
                )
            if not _is_newer(connection, fetched.run, checked_utc):
                return False
            _insert_run(connection, fetched.run)
        return True

    def recent_runs(self, since_utc: datetime, now_utc: datetime) -> list[ForecastRun]:
        """Return the runs made since a moment, newest first, and always the newest.

        What claims to be made in the time to come was kept by a clock that was ahead.
        """
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM forecast_run WHERE updated_utc <= :latest AND "
                "(updated_utc >= :since OR run_id = (SELECT run_id FROM forecast_run "
                "WHERE updated_utc <= :latest ORDER BY updated_utc DESC LIMIT 1)) "
                "ORDER BY updated_utc DESC, run_id DESC",
                {
                    "since": moment_text(since_utc),
                    "latest": moment_text(now_utc + CLOCK_SLACK),
                },
            ).fetchall()
        return self._readable(rows)

    def runs_between(self, start_utc: datetime, end_utc: datetime) -> list[ForecastRun]:
        """Return the runs that were got from a day before a moment to another."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM forecast_run WHERE fetched_utc >= ? AND fetched_utc < ? "
                "ORDER BY fetched_utc",
                (moment_text(start_utc - timedelta(days=1)), moment_text(end_utc)),
            ).fetchall()
        return self._readable(rows)

    def runs_at(self, moment_utc: datetime) -> list[ForecastRun]:
        """Return the newest run of each source that was there at a moment."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT *, max(updated_utc) FROM forecast_run "
                "WHERE fetched_utc <= ? AND updated_utc >= ? GROUP BY source",
                (moment_text(moment_utc), moment_text(moment_utc - timedelta(days=1))),
            ).fetchall()
        return self._readable(rows)

    def newest_run_utc(self, now_utc: datetime) -> datetime | None:
        """Return when the newest forecast was made; None if there never was one."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT max(updated_utc) AS newest FROM forecast_run "
                "WHERE updated_utc <= ?",
                (moment_text(now_utc + CLOCK_SLACK),),
            ).fetchone()
        return read_optional(row["newest"])

    def night_histories(self, now_utc: datetime) -> dict[date, NightHistory]:
        """Return what was said about each recent night.

        Nights far ahead were told by a clock that was ahead: they hide no others.
        """
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT night, content FROM night_history WHERE night <= ? "
                "ORDER BY night DESC LIMIT ?",
                ((now_utc.date() + _AHEAD).isoformat(), _RECENT_NIGHTS),
            ).fetchall()
        histories = legible(
            self.database,
            rows,
            lambda row: read_history(row["night"], row["content"]),
            "night",
        )
        return {history.night: history for history in histories}

    def record_decision(
        self, decision: Decision, messages: list[Message], now_utc: datetime
    ) -> int:
        """Keep a decision and queue its messages in one transaction.

        What ends something goes only to those whom its beginning may have reached.
        """
        with self.database.writing() as connection:
            messages = _for_the_told(connection, messages)
            announced = {item.night for item in decision.announced}
            for night in decision.nights:
                said = night.say.value if night.say else None
                connection.execute(
                    "INSERT INTO night_history VALUES (?, ?) ON CONFLICT (night) "
                    "DO UPDATE SET content = excluded.content "
                    # What did not change costs no write: cards wear out.
                    "WHERE content != excluded.content",
                    (night.night.isoformat(), history_text(night.remember)),
                )
                if said is None:
                    continue
                connection.execute(
                    "INSERT INTO decision (decided_utc, night, said, why, detail) "
                    "VALUES (?, ?, ?, ?, ?)",
                    (
                        moment_text(now_utc),
                        night.night.isoformat(),
                        said,
                        night.why.value,
                        night.detail,
                    ),
                )
                # What is passed on to others says nothing newer to the first ones.
                # That a night cannot be judged calls nobody back who is to act.
                is_to_others = night.why in TO_OTHERS
                if is_to_others or said == Subject.CANNOT_JUDGE:
                    continue
                is_ending = said in ENDINGS
                hearing = _heard_at(messages, night.night, now_utc)
                told = None if is_ending else hearing
                drop_overtaken(connection, night.night, announced, told, now_utc)
            return insert_messages(connection, messages, now_utc)

    def open_faults(self) -> dict[str, Fault]:
        """Return the open faults by key."""
        with self.database.reading() as connection:
            rows = connection.execute("SELECT * FROM fault").fetchall()
        return {
            row["fault_key"]: Fault(
                key=row["fault_key"],
                detail=row["detail"],
                since_utc=read_moment(row["since_utc"]),
                told_utc=read_moment(row["told_utc"]) if row["told_utc"] else None,
            )
            for row in rows
        }

    def save_faults(
        self,
        faults: dict[str, Fault],
        messages: Sequence[Message],
        now_utc: datetime,
    ) -> int:
        """Replace the open faults, and queue the word of them with that.

        Returns how many messages were new.
        """
        with self.database.writing() as connection:
            _drop_words_of_old(connection, faults)
            connection.execute("DELETE FROM fault")
            connection.executemany(
                "INSERT INTO fault VALUES (?, ?, ?, ?)",
                [
                    (
                        fault.key,
                        fault.detail,
                        moment_text(fault.since_utc),
                        moment_text(fault.told_utc) if fault.told_utc else None,
                    )
                    for fault in faults.values()
                ],
            )
            return insert_messages(connection, messages, now_utc)

    def read_mark(self, name: str) -> str | None:
        """Return a small fact kept under a name."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT content FROM mark WHERE name = ?", (name,)
            ).fetchone()
        return None if row is None else str(row["content"])

    def write_mark(self, name: str, content: str) -> None:
        """Keep a small fact under a name."""
        with self.database.writing() as connection:
            connection.execute(
                "INSERT INTO mark VALUES (?, ?) ON CONFLICT (name) "
                "DO UPDATE SET content = excluded.content",
                (name, content),
            )

    def forget_runs_before(self, moment_utc: datetime) -> int:
        """Delete runs, readings and archives' answers before a moment.

        Returns how many runs there were.
        """
        with self.database.writing() as connection:
            for table, column in _AGING:
                connection.execute(
                    f"DELETE FROM {table} WHERE {column} < ?",  # noqa: S608 - our own names
                    (moment_text(moment_utc),),
                )
            cursor = connection.execute(
                "DELETE FROM forecast_run WHERE updated_utc < ?",
                (moment_text(moment_utc),),
            )
        return cursor.rowcount


def _for_the_told(
    connection: sqlite3.Connection, messages: list[Message]
) -> list[Message]:
    """Leave out the endings for people whom no warning of that night reached."""
    ending = {m.night for m in messages if m.subject_kind in ENDINGS and m.night}
    if not ending:
        return messages
    told = told_people(connection, ending)
    return [
        message
        for message in messages
        if message.subject_kind not in ENDINGS
        or {f"{message.night}|{who}" for who in (message.person, message.address)}
        & told
    ]


def _heard_at(
    messages: Sequence[Message], night: date, now_utc: datetime
) -> dict[str, datetime]:
    """Return when each person hears of a night by some messages, the first of them."""
    heard: dict[str, datetime] = {}
    for message in messages:
        if night in message.nights:
            at_utc = max(now_utc, message.held_until_utc or now_utc)
            heard[message.person] = min(at_utc, heard.get(message.person, at_utc))
    return heard


def _drop_words_of_old(connection: sqlite3.Connection, faults: Container[str]) -> None:
    """Give up what waits to say that something is not delivered, and was since."""
    gone = [
        row["fault_key"]
        for row in connection.execute("SELECT fault_key FROM fault")
        if row["fault_key"] not in faults
        and row["fault_key"].startswith(("delivery-", LINE))
    ]
    connection.executemany(
        "UPDATE outbox SET state = 'dead', last_error = ? WHERE state = 'due' "
        "AND subject_kind = 'operator' AND instr(message_key, ?) > 0",
        [(OVERTAKEN, f"|operator|{key}|") for key in gone],
    )


KEEP_RUNS = timedelta(days=2 * 366)
"""Two seasons: replay and learning need them."""


def _is_newer(
    connection: sqlite3.Connection, run: ForecastRun, now_utc: datetime
) -> bool:
    """Return whether a run is newer than what is kept for its cell.

    A fresh answer has been seen to hold an older forecast than the one before.
    """
    row = connection.execute(
        "SELECT max(updated_utc) AS newest FROM forecast_run "
        "WHERE source = ? AND place = ? AND updated_utc <= ?",
        (run.source, run.place, moment_text(now_utc + CLOCK_SLACK)),
    ).fetchone()
    return row["newest"] is None or moment_text(run.updated_utc) > row["newest"]


def _insert_run(connection: sqlite3.Connection, run: ForecastRun) -> None:
    """Add a run."""
    connection.execute(
        "INSERT INTO forecast_run (source, place, updated_utc, fetched_utc, content) "
        "VALUES (?, ?, ?, ?, ?)",
        (
            run.source,
            run.place,
            moment_text(run.updated_utc),
            moment_text(run.fetched_utc),
            run_text(run),
        ),
    )
