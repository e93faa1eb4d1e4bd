"""A person's own page: answer, tonight's jobs, a reading, a look at the blocks."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from frostalert.alarms.answering import longest_silence
from frostalert.messages.wording import Wording
from frostalert.model.job_sheet import JobSheet
from frostalert.model.site import Farm
from frostalert.model.ticket import Ticket
from frostalert.model.tier_words import TIER_WORDS
from frostalert.web.block_list import Blocks
from frostalert.web.desk import Desk

_PUT_OFF = timedelta(hours=1)
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """Somebody who opened a link, and when."""

    desk: Desk
    farm: Farm
    token: str
    ticket: Ticket
    now_utc: datetime

    @property
    def wording(self) -> Wording:
        """Words for this moment."""
        return Wording(self.farm.site, self.now_utc)


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """What is said of what was just sent, at its own place of the page.

    Attributes
    ----------
    place : str
        Section of the page, or the block.
    lines : tuple of str
        What is said.
    ask : mapping of str to str
        What is sent if the person confirms it, or takes it back.
    button : str
        How that is called.
    typed : mapping of str to str
        What was typed and could not be taken.
    """

    place: str = ""
    lines: tuple[str, ...] = ()
    ask: Mapping[str, str] = field(default_factory=dict)
    button: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)


def page_values(visit: Visit, notes: Notes) -> dict[str, object]:
    """Return what the personal page shows.

    Raises
    ------
    StoreError
        If the state cannot be read.
    """
    desk, ticket, farm = visit.desk, visit.ticket, visit.farm
    sheet = desk.phone.job_sheet()
    until = put_off_until(visit)
    return {
        "site": farm.site.name,
        "person": ticket.person,
        "ticket": visit.token,
        "nights": told_nights(visit),
        "answered_by": desk.answers.answered_by(ticket.said, visit.now_utc),
        "put_off_until": visit.wording.clock(until),
        "jobs": _jobs(visit, sheet),
        "jobs_made": _made(visit, sheet),
        "sensors": [sensor.name for sensor in farm.sensors],
        "unit": "F" if visit.wording.temperature(0.0).endswith("F") else "C",
        "blocks": Blocks.known(farm, desk.phone, visit.wording, sheet).rows(),
        "notes": notes,
    }


def told_nights(visit: Visit) -> list[str]:
    """Return the nights that a ticket speaks of, in words."""
    return [
        f"{visit.wording.night(night)}: {TIER_WORDS[tier]}"
        for night, tier, _ in visit.ticket.said
    ]


def put_off_until(visit: Visit) -> datetime:
    """Return until when "not now" holds."""
    now_utc = visit.now_utc
    zone = ZoneInfo(visit.farm.site.time_zone)
    return min(now_utc + _PUT_OFF, longest_silence(now_utc.astimezone(zone)))


def _jobs(visit: Visit, sheet: JobSheet | None) -> list[dict[str, object]]:
    """Return the person's jobs with what is done of them."""
    oldest = visit.wording.today - _DAY
    own = [
        job
        for job in (sheet.jobs if sheet is not None else ())
        if job.is_for(visit.ticket.person) and job.night >= oldest
    ]
    done = {
        (tick.night, tick.job): f"{visit.wording.clock(tick.done_utc)}, {tick.person}"
        for night in sorted({job.night for job in own})
        for tick in visit.desk.phone.ticks(night)
    }
    return [
        {
            "night": job.night.isoformat(),
            "key": job.key,
            "words": job.words,
            "done": done.get((job.night, job.key), ""),
        }
        for job in own
    ]


def _made(visit: Visit, sheet: JobSheet | None) -> str:
    """Return when the list of jobs was made; empty if there is none of tonight."""
    if sheet is None or sheet.night < visit.wording.today - _DAY:
        return ""
    return visit.wording.moment(sheet.made_utc)
