"""Named changes of the database's form, each in one transaction with its own record."""

from frostalert.errors import StoreVersionError
from frostalert.store.connection import Database

MIGRATIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "0001-first-form",
        (
            """
            CREATE TABLE forecast_run (
                run_id INTEGER PRIMARY KEY,
                source TEXT NOT NULL,
                place TEXT NOT NULL,
                updated_utc TEXT NOT NULL,
                fetched_utc TEXT NOT NULL,
                content TEXT NOT NULL,
                UNIQUE (source, place, updated_utc)
            ) STRICT
            """,
            """
            CREATE TABLE source_memory (
                source TEXT PRIMARY KEY,
                content TEXT NOT NULL,
                checked_utc TEXT NOT NULL
            ) STRICT
            """,
            """
            CREATE TABLE night_history (
                night TEXT PRIMARY KEY,
                content TEXT NOT NULL
            ) STRICT
            """,
            """
            CREATE TABLE decision (
                decision_id INTEGER PRIMARY KEY,
                decided_utc TEXT NOT NULL,
                night TEXT NOT NULL,
                said TEXT,
                why TEXT NOT NULL,
                detail TEXT NOT NULL
            ) STRICT
            """,
            """
            CREATE TABLE outbox (
                row_id INTEGER PRIMARY KEY,
                message_key TEXT NOT NULL UNIQUE,
                subject_kind TEXT NOT NULL,
                message_class TEXT NOT NULL,
                night TEXT,
                person TEXT NOT NULL,
                channel TEXT NOT NULL,
                address TEXT NOT NULL,
                subject TEXT NOT NULL,
                body TEXT NOT NULL,
                html TEXT,
                message_id TEXT NOT NULL,
                queued_utc TEXT NOT NULL,
                deadline_utc TEXT NOT NULL,
                state TEXT NOT NULL,
                attempts INTEGER NOT NULL DEFAULT 0,
                next_try_utc TEXT NOT NULL,
                last_try_utc TEXT,
                sent_utc TEXT,
                last_error TEXT,
                provider_id TEXT
            ) STRICT
            """,
            "CREATE INDEX outbox_by_state ON outbox (state, next_try_utc)",
            """
            CREATE TABLE fault (
                fault_key TEXT PRIMARY KEY,
                detail TEXT NOT NULL,
                since_utc TEXT NOT NULL,
                told_utc TEXT
            ) STRICT
            """,
            """
            CREATE TABLE mark (
                name TEXT PRIMARY KEY,
                content TEXT NOT NULL
            ) STRICT
            """,
        ),
    ),
    (
        "0002-unknown-outcomes-and-told-blocks",
        (
            "ALTER TABLE outbox ADD COLUMN unknowns INTEGER NOT NULL DEFAULT 0",
            # Which blocks were told, and by when they had to start, was not kept: an
            # open night is told once more rather than once too little.
            """
            UPDATE night_history SET content = json_remove(
                json_set(
                    content,
                    '$.said', json_extract(content, '$.told'),
                    '$.told_blocks', json('[]'),
                    '$.told_running_by_utc', NULL,
                    '$.stop_utc', NULL
                ),
                '$.told_danger_utc'
            )
            """,
        ),
    ),
)


def migrate(database: Database) -> list[str]:
    """Bring a database to the present form; return the names of what was done.

    Raises
    ------
    StoreVersionError
        If the database was written by a newer version of the program.
    StoreError
        If it cannot be written.
    """
    with database.writing() as connection:
        connection.execute(
            "CREATE TABLE IF NOT EXISTS migration (name TEXT PRIMARY KEY) STRICT"
        )
        applied = {
            row["name"] for row in connection.execute("SELECT name FROM migration")
        }
    unknown = applied - {name for name, _ in MIGRATIONS}
    if unknown:
        message = (
            f"{database.path} was written by a newer frostalert "
            f"({', '.join(sorted(unknown))}); install that version, or start with "
            "another [storage] directory"
        )
        raise StoreVersionError(message)
    done = []
    for name, statements in MIGRATIONS:
        if name in applied:
            continue
        with database.writing() as connection:
            for statement in statements:
                connection.execute(statement)
            connection.execute("INSERT INTO migration (name) VALUES (?)", (name,))
        done.append(name)
    return done
