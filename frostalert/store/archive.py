"""Answers of archives, kept so that nobody is asked twice for what does not change."""

import zlib
from datetime import datetime

from frostalert.store.codec import moment_text
from frostalert.store.connection import Database


class ArchiveStore:
    """What archives answered."""

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
