"""What the weather service said last, kept for the next message."""

import json
from datetime import datetime
from typing import Any

from frostalert.model.official import OfficialAlert, OfficialWord, StationReport
from frostalert.store.codec import moment_text, read_moment
from frostalert.store.connection import Database

_MARK = "official"


class OfficialStore:
    """One word, the newest."""

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
