"""What thermometers read, believed or not."""

import json
import sqlite3
from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache

from frostalert.model.reading import TAKEN_BACK, ExpectedAir, Reading
from frostalert.store.codec import moment_text, read_moment
from frostalert.store.connection import Database

_EXPECTED = "expected air"


class ReadingStore:
    """Readings by sensor and time."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def add_readings(self, readings: list[Reading]) -> int:
        """Keep readings; return how many were new."""
        if not readings:
            return 0
        with self.database.writing() as connection:
            before = connection.total_changes
            connection.executemany(
                "INSERT OR IGNORE INTO reading (sensor, at_utc, air_c, problem) "
                "VALUES (?, ?, ?, ?)",
                [
                    (item.sensor, moment_text(item.at_utc), item.air_c, item.problem)
                    for item in readings
                ],
            )
            return connection.total_changes - before

    def take_back(self, sensor: str, at_utc: datetime | None = None) -> Reading | None:
        """Take back a sensor's reading of a moment, or the one kept last; return it.

        The one kept last is not the newest where somebody writes down an earlier one.
        It is kept, and not believed any more. One that was never believed stays as it
        is: the one before it is not what its sender meant.
        """
        moment = None if at_utc is None else moment_text(at_utc)
        with self.database.writing() as connection:
            row = connection.execute(
                "SELECT at_utc, air_c, problem FROM reading WHERE sensor = ? "
                "AND problem IS NOT ? AND at_utc = coalesce(?, at_utc) "
                "ORDER BY rowid DESC LIMIT 1",
                (sensor, TAKEN_BACK, moment),
            ).fetchone()
            if row is None:
                return None
            problem = row["problem"] or TAKEN_BACK
            connection.execute(
                "UPDATE reading SET problem = ? WHERE sensor = ? AND at_utc = ?",
                (problem, sensor, row["at_utc"]),
            )
        return Reading(
            sensor=sensor,
            at_utc=read_moment(row["at_utc"]),
            air_c=row["air_c"],
            problem=problem,
        )

    def save_expected_air(self, expected: Sequence[ExpectedAir]) -> None:
        """Keep what each thermometer should read, instead of what was kept before."""
        content = json.dumps(
            [
                {
                    "sensor": item.sensor,
                    "first_utc": moment_text(item.first_utc),
                    "air_c": item.air_c,
                }
                for item in expected
            ]
        )
        with self.database.writing() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO mark (name, content) VALUES (?, ?)",
                (_EXPECTED, content),
            )

    def expected_air(self) -> tuple[ExpectedAir, ...]:
        """Return what each thermometer should read, as it was worked out last."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT content FROM mark WHERE name = ?", (_EXPECTED,)
            ).fetchone()
        return tuple(
            ExpectedAir(
                sensor=item["sensor"],
                first_utc=read_moment(item["first_utc"]),
                air_c=tuple(item["air_c"]),
            )
            for item in (json.loads(row["content"]) if row else ())
        )

    def readings_since(self, since_utc: datetime) -> tuple[Reading, ...]:
        """Return the readings since a moment, oldest first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT sensor, at_utc, air_c, problem FROM reading "
                "WHERE at_utc >= ? ORDER BY at_utc",
                (moment_text(since_utc),),
            ).fetchall()
        return tuple(map(_reading, rows))


@lru_cache(maxsize=1024)
def _reading(row: sqlite3.Row) -> Reading:
    """Return a reading from its row; each look asks for the same ones."""
    return Reading(
        sensor=row["sensor"],
        at_utc=read_moment(row["at_utc"]),
        air_c=row["air_c"],
        problem=row["problem"],
    )
