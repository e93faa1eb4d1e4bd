"""Forecast and guessed lows against observed lows, kept as long as the state lives."""

import sqlite3
from datetime import date

from frostalert.model.assessment import NightKind
from frostalert.model.learned import (
    ForecastObservation,
    GainNight,
    LeadClass,
    NowcastPair,
    PairOrigin,
)
from frostalert.store.connection import Database

_PUT_PAIR = (
    "INSERT INTO night_pair VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) "
    "ON CONFLICT (night, source, lead) DO UPDATE SET kind = excluded.kind, "
    "forecast_low_c = excluded.forecast_low_c, "
    "observed_low_c = excluded.observed_low_c, version = excluded.version, "
    "origin = excluded.origin, station = excluded.station, "
    "distance_km = excluded.distance_km "
    "WHERE excluded.origin = 'own' OR night_pair.origin != 'own'"
)


class PairStore:
    """What the site's nights taught."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def save_pairs(self, pairs: list[ForecastObservation], version: int) -> None:
        """Keep pairs, over what stands there for the same night, source and lead.

        What an archive says stands behind what the program saw itself.
        """
        if not pairs:
            return
        with self.database.writing() as connection:
            _put(connection, pairs, version)

    def keep_archive_pairs(
        self,
        pairs: list[ForecastObservation],
        version: int,
        spans: list[tuple[date, date]],
    ) -> None:
        """Keep what archives say of some spans of nights, instead of what they said."""
        with self.database.writing() as connection:
            connection.executemany(
                "DELETE FROM night_pair "
                "WHERE origin != 'own' AND night BETWEEN ? AND ?",
                [(first.isoformat(), last.isoformat()) for first, last in spans],
            )
            _put(connection, pairs, version)

    def save_nowcasts(self, pairs: list[NowcastPair]) -> None:
        """Keep nights' guesses beside their lows, over what stands there."""
        if not pairs:
            return
        with self.database.writing() as connection:
            connection.executemany(
                "INSERT OR REPLACE INTO nowcast_pair VALUES (?, ?, ?, ?)",
                [
                    (pair.night.isoformat(), pair.guess_c, pair.low_c, pair.version)
                    for pair in pairs
                ],
            )

    def nowcasts(self) -> tuple[NowcastPair, ...]:
        """Return what was guessed of each night and came, the oldest night first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM nowcast_pair ORDER BY night"
            ).fetchall()
        return tuple(
            NowcastPair(
                night=date.fromisoformat(row["night"]),
                guess_c=row["guess_c"],
                low_c=row["low_c"],
                version=row["version"],
            )
            for row in rows
        )

    def save_gain_nights(self, nights: list[GainNight]) -> None:
        """Keep what equipment gained, over what stands there for the same night."""
        if not nights:
            return
        with self.database.writing() as connection:
            connection.executemany(
                "INSERT OR REPLACE INTO gain_night VALUES (?, ?, ?)",
                [
                    (item.equipment, item.night.isoformat(), item.delta_c)
                    for item in nights
                ],
            )

    def gain_nights(self) -> tuple[GainNight, ...]:
        """Return what equipment gained, the oldest night first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM gain_night ORDER BY night, equipment"
            ).fetchall()
        return tuple(
            GainNight(
                equipment=row["equipment"],
                night=date.fromisoformat(row["night"]),
                delta_c=row["delta_c"],
            )
            for row in rows
        )

    def night_pairs(self) -> tuple[ForecastObservation, ...]:
        """Return all pairs, the oldest night first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM night_pair ORDER BY night, source, lead"
            ).fetchall()
        return tuple(
            ForecastObservation(
                night=date.fromisoformat(row["night"]),
                source=row["source"],
                lead=LeadClass(row["lead"]),
                kind=NightKind(row["kind"]),
                forecast_low_c=row["forecast_low_c"],
                observed_low_c=row["observed_low_c"],
                origin=PairOrigin(row["origin"]),
                station=row["station"],
                distance_km=row["distance_km"],
            )
            for row in rows
        )


def _put(
    connection: sqlite3.Connection, pairs: list[ForecastObservation], version: int
) -> None:
    """Write pairs, an archive's never over a night of one's own."""
    connection.executemany(
        _PUT_PAIR,
        [
            (
                pair.night.isoformat(),
                pair.source,
                pair.lead.value,
                pair.kind.value,
                pair.forecast_low_c,
                pair.observed_low_c,
                version,
                pair.origin.value,
                pair.station,
                pair.distance_km,
            )
            for pair in pairs
        ],
    )
