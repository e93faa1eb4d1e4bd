"""Days' air and stages seen, kept for as long as the state lives: years teach."""

from datetime import date

from frostalert.model.warmth import DayAir, Sighting
from frostalert.store.connection import Database

PUT_DAY_AIR = (
    "INSERT INTO day_air (day, low_c, high_c, is_measured) VALUES (?, ?, ?, ?) "
    "ON CONFLICT (day) DO UPDATE SET low_c = excluded.low_c, "
    "high_c = excluded.high_c, is_measured = excluded.is_measured "
    "WHERE excluded.is_measured >= day_air.is_measured"
)
"""Writes a day's air: what was measured stands before what was forecast."""


class WarmthStore:
    """What buds went through, and how far they were seen to come."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def save_day_air(self, days: list[DayAir]) -> None:
        """Keep days; what was measured is not written over by what was forecast."""
        if not days:
            return
        with self.database.writing() as connection:
            connection.executemany(
                PUT_DAY_AIR,
                [
                    (item.day.isoformat(), item.low_c, item.high_c, item.is_measured)
                    for item in days
                ],
            )

    def days_air(self) -> tuple[DayAir, ...]:
        """Return all days, the oldest first."""
        with self.database.reading() as connection:
            rows = connection.execute("SELECT * FROM day_air ORDER BY day").fetchall()
        return tuple(
            DayAir(
                day=date.fromisoformat(row["day"]),
                low_c=row["low_c"],
                high_c=row["high_c"],
                is_measured=bool(row["is_measured"]),
            )
            for row in rows
        )

    def note_sightings(self, sightings: list[Sighting]) -> int:
        """Keep what was seen; return how much of it was new.

        What was put right on the same day goes: it teaches nothing.
        """
        with self.database.writing() as connection:
            connection.executemany(
                "DELETE FROM sighting WHERE block = ? AND seen = ? AND stage != ?",
                [(item.block, item.seen.isoformat(), item.stage) for item in sightings],
            )
            before = connection.total_changes
            connection.executemany(
                "INSERT OR IGNORE INTO sighting VALUES (?, ?, ?, ?)",
                [
                    (item.block, item.crop, item.stage, item.seen.isoformat())
                    for item in sightings
                ],
            )
            return connection.total_changes - before

    def sightings(self) -> tuple[Sighting, ...]:
        """Return everything that was seen, the oldest first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM sighting ORDER BY seen, block"
            ).fetchall()
        return tuple(
            Sighting(
                block=row["block"],
                crop=row["crop"],
                stage=row["stage"],
                seen=date.fromisoformat(row["seen"]),
            )
            for row in rows
        )
