"""What thermometers read, believed or not."""

from datetime import datetime

from frostalert.model.reading import Reading
from frostalert.store.codec import moment_text, read_moment
from frostalert.store.connection import Database


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

    def readings_since(self, since_utc: datetime) -> tuple[Reading, ...]:
        """Return the readings since a moment, oldest first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT sensor, at_utc, air_c, problem FROM reading "
                "WHERE at_utc >= ? ORDER BY at_utc",
                (moment_text(since_utc),),
            ).fetchall()
        return tuple(
            Reading(
                sensor=row["sensor"],
                at_utc=read_moment(row["at_utc"]),
                air_c=row["air_c"],
                problem=row["problem"],
            )
            for row in rows
        )
