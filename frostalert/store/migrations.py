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
    (
        "0003-answers-holds-and-fallbacks",
        (
            "ALTER TABLE outbox ADD COLUMN thread TEXT",
            "ALTER TABLE outbox ADD COLUMN held_until_utc TEXT",
            "ALTER TABLE outbox ADD COLUMN held_reason TEXT",
            "ALTER TABLE outbox ADD COLUMN fallback TEXT",
            "ALTER TABLE outbox ADD COLUMN delivered_utc TEXT",
            """
            CREATE TABLE outbox_night (
                row_id INTEGER NOT NULL REFERENCES outbox (row_id) ON DELETE CASCADE,
                night TEXT NOT NULL,
                PRIMARY KEY (row_id, night)
            ) STRICT
            """,
            "INSERT INTO outbox_night (row_id, night) "
            "SELECT row_id, night FROM outbox WHERE night IS NOT NULL",
            "CREATE INDEX outbox_night_by_night ON outbox_night (night)",
            """
            CREATE TABLE answer (
                answer_id INTEGER PRIMARY KEY,
                person TEXT NOT NULL,
                night TEXT NOT NULL,
                tier TEXT NOT NULL,
                revision INTEGER NOT NULL,
                kind TEXT NOT NULL,
                given_utc TEXT NOT NULL,
                until_utc TEXT
            ) STRICT
            """,
            "CREATE INDEX answer_by_time ON answer (given_utc)",
            "CREATE INDEX forecast_run_by_time ON forecast_run (updated_utc)",
            "CREATE INDEX outbox_by_sent ON outbox (sent_utc)",
            "CREATE INDEX outbox_by_queued ON outbox (queued_utc)",
        ),
    ),
    (
        "0004-attachments",
        ("ALTER TABLE outbox ADD COLUMN attachments TEXT",),
    ),
    (
        "0005-readings",
        (
            """
            CREATE TABLE reading (
                sensor TEXT NOT NULL,
                at_utc TEXT NOT NULL,
                air_c REAL NOT NULL,
                problem TEXT,
                PRIMARY KEY (sensor, at_utc)
            ) STRICT
            """,
            "CREATE INDEX reading_by_time ON reading (at_utc)",
        ),
    ),
    (
        "0006-night-pairs",
        (
            """
            CREATE TABLE night_pair (
                night TEXT NOT NULL,
                source TEXT NOT NULL,
                kind TEXT NOT NULL,
                forecast_low_c REAL NOT NULL,
                observed_low_c REAL NOT NULL,
                version INTEGER NOT NULL,
                PRIMARY KEY (night, source)
            ) STRICT
            """,
        ),
    ),
    (
        "0007-warmth",
        (
            """
            CREATE TABLE day_air (
                day TEXT PRIMARY KEY,
                low_c REAL NOT NULL,
                high_c REAL NOT NULL,
                is_measured INTEGER NOT NULL
            ) STRICT
            """,
            """
            CREATE TABLE sighting (
                block TEXT NOT NULL,
                crop TEXT NOT NULL,
                stage TEXT NOT NULL,
                seen TEXT NOT NULL,
                PRIMARY KEY (block, stage, seen)
            ) STRICT
            """,
        ),
    ),
    (
        "0008-bud-counts",
        (
            """
            CREATE TABLE bud_count (
                block TEXT NOT NULL,
                night TEXT NOT NULL,
                dead INTEGER NOT NULL,
                counted INTEGER NOT NULL,
                PRIMARY KEY (block, night)
            ) STRICT
            """,
        ),
    ),
    (
        "0009-gain-nights",
        (
            """
            CREATE TABLE gain_night (
                equipment TEXT NOT NULL,
                night TEXT NOT NULL,
                delta_c REAL NOT NULL,
                PRIMARY KEY (equipment, night)
            ) STRICT
            """,
        ),
    ),
    (
        "0010-pairs-by-lead",
        (
            """
            CREATE TABLE pair_by_lead (
                night TEXT NOT NULL,
                source TEXT NOT NULL,
                lead TEXT NOT NULL,
                kind TEXT NOT NULL,
                forecast_low_c REAL NOT NULL,
                observed_low_c REAL NOT NULL,
                version INTEGER NOT NULL,
                PRIMARY KEY (night, source, lead)
            ) STRICT
            """,
            """
            INSERT INTO pair_by_lead SELECT night, source, 'tonight', kind,
                forecast_low_c, observed_low_c, version FROM night_pair
            """,
            "DROP TABLE night_pair",
            "ALTER TABLE pair_by_lead RENAME TO night_pair",
        ),
    ),
    (
        "0011-nowcast-pairs",
        (
            """
            CREATE TABLE nowcast_pair (
                night TEXT PRIMARY KEY,
                guess_c REAL NOT NULL,
                low_c REAL NOT NULL,
                version INTEGER NOT NULL
            ) STRICT
            """,
        ),
    ),
    (
        "0012-tickets",
        (
            """
            CREATE TABLE ticket (
                token TEXT PRIMARY KEY,
                person TEXT NOT NULL,
                said TEXT NOT NULL,
                expires_utc TEXT NOT NULL
            ) STRICT
            """,
        ),
    ),
    (
        "0013-by-phone",
        (
            """
            CREATE TABLE phone_look (
                block TEXT PRIMARY KEY,
                crop TEXT NOT NULL,
                stage TEXT NOT NULL,
                seen TEXT NOT NULL,
                person TEXT NOT NULL,
                file_stage TEXT NOT NULL,
                file_seen TEXT NOT NULL
            ) STRICT
            """,
            """
            CREATE TABLE tick (
                night TEXT NOT NULL,
                job TEXT NOT NULL,
                person TEXT NOT NULL,
                done_utc TEXT NOT NULL,
                PRIMARY KEY (night, job)
            ) STRICT
            """,
        ),
    ),
    (
        "0014-archives",
        (
            "ALTER TABLE night_pair ADD COLUMN origin TEXT NOT NULL DEFAULT 'own'",
            """
            CREATE TABLE archive_answer (
                name TEXT PRIMARY KEY,
                fetched_utc TEXT NOT NULL,
                content BLOB NOT NULL
            ) STRICT
            """,
        ),
    ),
    (
        "0015-refusals-and-one-answer",
        (
            "ALTER TABLE outbox ADD COLUMN refusals INTEGER NOT NULL DEFAULT 0",
            """
            DELETE FROM answer WHERE answer_id NOT IN (
                SELECT max(answer_id) FROM answer
                GROUP BY person, night, tier, revision, kind
            )
            """,
            """
            CREATE UNIQUE INDEX answer_once
            ON answer (person, night, tier, revision, kind)
            """,
        ),
    ),
    (
        "0016-what-stations-teach",
        (
            "ALTER TABLE night_pair ADD COLUMN station TEXT NOT NULL DEFAULT ''",
            "ALTER TABLE night_pair ADD COLUMN distance_km REAL NOT NULL DEFAULT 0.0",
            """
            CREATE TABLE station_report (
                station TEXT NOT NULL,
                at_utc TEXT NOT NULL,
                name TEXT NOT NULL,
                distance_km REAL NOT NULL,
                air_c REAL NOT NULL,
                PRIMARY KEY (station, at_utc)
            ) STRICT
            """,
        ),
    ),
)


def require_present_form(database: Database) -> None:
    """Raise unless a database has exactly the form that this program uses.

    Raises
    ------
    StoreVersionError
        If it was written by another version.
    StoreError
        If it cannot be read.
    """
    with database.reading() as connection:
        rows = connection.execute("SELECT name FROM migration").fetchall()
    if {row["name"] for row in rows} != {name for name, _ in MIGRATIONS}:
        message = (
            f"{database.path} was written by another version of frostalert; restart "
            "the service with this one"
        )
        raise StoreVersionError(message)


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
