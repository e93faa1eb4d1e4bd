"""What the weather service said last, and what its station read in the last nights."""

import json
import sqlite3
from datetime import datetime, timedelta
from typing import Any

from frostalert.model.official import OfficialAlert, OfficialWord, StationReport
from frostalert.store.codec import moment_text, read_moment
from frostalert.store.connection import Database

_MARK = "official"
_REPORTS_KEPT = timedelta(days=7)
"""Nights are learned within three days."""


class OfficialStore:
    """One word, the newest; and the station's reports of a week."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def save_official(self, word: OfficialWord) -> None:
        """Keep what was said."""
        content = {
            "asked_utc": None
            if word.asked_utc is None
            else moment_text(word.asked_utc),
            "alerts": [_plain(item) for item in word.alerts],
            "report": None if word.report is None else _plain(word.report),
        }
        with self.database.writing() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO mark (name, content) VALUES (?, ?)",
                (_MARK, json.dumps(content)),
            )
            if word.report is not None:
                _keep_report(connection, word.report)

    def station_reports_since(self, since_utc: datetime) -> tuple[StationReport, ...]:
        """Return what stations read since a moment, oldest first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM station_report WHERE at_utc >= ? ORDER BY at_utc",
                (moment_text(since_utc),),
            ).fetchall()
        return tuple(
            StationReport(
                station=row["station"],
                name=row["name"],
                distance_km=row["distance_km"],
                at_utc=read_moment(row["at_utc"]),
                air_c=row["air_c"],
            )
            for row in rows
        )

    def official_word(self) -> OfficialWord | None:
        """Return what was said last; None if nobody ever asked."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT content FROM mark WHERE name = ?", (_MARK,)
            ).fetchone()
        if row is None:
            return None
        content = json.loads(row["content"])
        asked, report = content["asked_utc"], content["report"]
        return OfficialWord(
            asked_utc=None if asked is None else read_moment(asked),
            alerts=tuple(OfficialAlert(**_read(item)) for item in content["alerts"]),
            report=None if report is None else StationReport(**_read(report)),
        )


def _keep_report(connection: sqlite3.Connection, report: StationReport) -> None:
    """Keep a report, over the same one asked for before, and forget old ones."""
    connection.execute(
        "INSERT OR REPLACE INTO station_report VALUES (?, ?, ?, ?, ?)",
        (
            report.station,
            moment_text(report.at_utc),
            report.name,
            report.distance_km,
            report.air_c,
        ),
    )
    connection.execute(
        "DELETE FROM station_report WHERE at_utc < ?",
        (moment_text(report.at_utc - _REPORTS_KEPT),),
    )


def _plain(item: OfficialAlert | StationReport) -> dict[str, Any]:
    """Return fields as plain values."""
    return {
        name: moment_text(value) if isinstance(value, datetime) else value
        for name in item.__slots__
        for value in (getattr(item, name),)
    }


def _read(content: dict[str, Any]) -> dict[str, Any]:
    """Return plain values as fields."""
    return {
        name: read_moment(value) if name.endswith("_utc") else value
        for name, value in content.items()
    }
