"""What people need and leave by phone: jobs, ticks, and stages that they saw."""

import json
from datetime import date, datetime, timedelta

from frostalert.model.job_sheet import BlockLimit, Job, JobSheet, Tick
from frostalert.model.warmth import PhoneLook, Sighting
from frostalert.store.codec import moment_text, read_moment
from frostalert.store.connection import Database

_SHEET = "job sheet"
_TICKS_KEPT = timedelta(days=14)


class PhoneStore:
    """Looks by block, ticks by night and job, and the newest job sheet."""

    database: Database

    def note_phone_look(self, look: PhoneLook) -> None:
        """Keep what somebody saw in a block, instead of the look before."""
        seen = look.sighting
        with self.database.writing() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO phone_look VALUES (?, ?, ?, ?, ?, ?, ?)",
                (
                    seen.block,
                    seen.crop,
                    seen.stage,
                    seen.seen.isoformat(),
                    look.person,
                    look.file_stage,
                    look.file_seen.isoformat(),
                ),
            )

    def drop_phone_looks(self, blocks: tuple[str, ...]) -> None:
        """Take looks back, or away once the file was written."""
        with self.database.writing() as connection:
            connection.executemany(
                "DELETE FROM phone_look WHERE block = ?", [(name,) for name in blocks]
            )

    def phone_looks(self) -> tuple[PhoneLook, ...]:
        """Return the newest look by phone at each block."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM phone_look ORDER BY block"
            ).fetchall()
        return tuple(
            PhoneLook(
                sighting=Sighting(
                    block=row["block"],
                    crop=row["crop"],
                    stage=row["stage"],
                    seen=date.fromisoformat(row["seen"]),
                ),
                person=row["person"],
                file_stage=row["file_stage"],
                file_seen=date.fromisoformat(row["file_seen"]),
            )
            for row in rows
        )

    def tick(self, tick: Tick) -> None:
        """Keep that a job is done; who did it first stays named."""
        with self.database.writing() as connection:
            connection.execute(
                "INSERT OR IGNORE INTO tick VALUES (?, ?, ?, ?)",
                (
                    tick.night.isoformat(),
                    tick.job,
                    tick.person,
                    moment_text(tick.done_utc),
                ),
            )

    def untick(self, night: date, job: str) -> None:
        """Take back that a job is done."""
        with self.database.writing() as connection:
            connection.execute(
                "DELETE FROM tick WHERE night = ? AND job = ?", (night.isoformat(), job)
            )

    def ticks(self, night: date) -> tuple[Tick, ...]:
        """Return what is done of a night's jobs."""
        with self.database.reading() as connection:
            rows = connection.execute(
                "SELECT * FROM tick WHERE night = ? ORDER BY done_utc",
                (night.isoformat(),),
            ).fetchall()
        return tuple(
            Tick(
                night=night,
                job=row["job"],
                person=row["person"],
                done_utc=read_moment(row["done_utc"]),
            )
            for row in rows
        )

    def forget_ticks(self, now_utc: datetime) -> None:
        """Delete who did what on nights that are long over."""
        oldest = (now_utc - _TICKS_KEPT).date().isoformat()
        with self.database.writing() as connection:
            connection.execute("DELETE FROM tick WHERE night < ?", (oldest,))

    def save_job_sheet(self, sheet: JobSheet) -> None:
        """Keep tonight's jobs and limits, instead of what was kept before."""
        content = {
            "night": sheet.night.isoformat(),
            "made_utc": moment_text(sheet.made_utc),
            "jobs": [
                [job.night.isoformat(), job.key, list(job.who), job.words]
                for job in sheet.jobs
            ],
            "limits": [[item.block, item.stage, item.limit_c] for item in sheet.limits],
        }
        with self.database.writing() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO mark (name, content) VALUES (?, ?)",
                (_SHEET, json.dumps(content)),
            )

    def job_sheet(self) -> JobSheet | None:
        """Return tonight's jobs and limits; None before the first decision."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT content FROM mark WHERE name = ?", (_SHEET,)
            ).fetchone()
        if row is None:
            return None
        content = json.loads(row["content"])
        return JobSheet(
            night=date.fromisoformat(content["night"]),
            made_utc=read_moment(content["made_utc"]),
            jobs=tuple(
                Job(
                    night=date.fromisoformat(night),
                    key=key,
                    who=tuple(who),
                    words=words,
                )
                for night, key, who, words in content["jobs"]
            ),
            limits=tuple(
                BlockLimit(block=block, stage=stage, limit_c=limit_c)
                for block, stage, limit_c in content["limits"]
            ),
        )
