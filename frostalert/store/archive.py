"""Answers of archives, kept so that nobody is asked twice for what does not change."""

import json
import zlib
from base64 import b64decode, b64encode
from datetime import datetime

from frostalert.model.past_record import PastRecord
from frostalert.store.codec import moment_text, read_moment
from frostalert.store.connection import Database

_MARK = "past springs"


class ArchiveStore:
    """What archives answered, and what came of it."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def archive_answer(self, name: str) -> str | None:
        """Return an answer by what was asked, if it is kept and whole."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT content FROM archive_answer WHERE name = ?", (name,)
            ).fetchone()
        try:
            return None if row is None else zlib.decompress(row["content"]).decode()
        except (zlib.error, UnicodeDecodeError):
            # It is asked for again.
            return None

    def keep_archive_answer(self, name: str, text: str, now_utc: datetime) -> None:
        """Keep an answer under what was asked."""
        with self.database.writing() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO archive_answer VALUES (?, ?, ?)",
                (name, moment_text(now_utc), zlib.compress(text.encode())),
            )

    def keep_past(self, record: PastRecord) -> None:
        """Keep what page and weekly mail show of past springs."""
        content = {
            "made_utc": moment_text(record.made_utc),
            "lines": list(record.lines),
            "picture_words": record.picture_words,
            "png": b64encode(record.png).decode("ascii"),
        }
        with self.database.writing() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO mark VALUES (?, ?)",
                (_MARK, json.dumps(content)),
            )

    def past_record(self) -> PastRecord | None:
        """Return what page and weekly mail show of past springs, if it can be read."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT content FROM mark WHERE name = ?", (_MARK,)
            ).fetchone()
        try:
            content = json.loads(row["content"] if row is not None else "")
            return PastRecord(
                made_utc=read_moment(content["made_utc"]),
                lines=tuple(map(str, content["lines"])),
                picture_words=str(content["picture_words"]),
                png=b64decode(content["png"]),
            )
        except (ValueError, KeyError, TypeError):
            return None
