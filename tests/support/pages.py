"""The status page as the service makes it of nights that a test judges."""

from collections.abc import Mapping
from datetime import date, datetime

from frostalert.cycle.deciding import decide_nights
from frostalert.cycle.health import Finding, Health
from frostalert.messages.picture import NightPicture
from frostalert.model.alarm import Answer
from frostalert.model.job_sheet import Tick
from frostalert.model.nights import Nights
from frostalert.model.notice import NightHistory, OutboxRow
from frostalert.report.status_page import Status


def status_of(
    nights: Nights,
    now_utc: datetime,
    *,
    told: Mapping[date, NightHistory] | None = None,
    answers: tuple[Answer, ...] = (),
    ticks: tuple[Tick, ...] = (),
    findings: tuple[Finding, ...] = (),
    rows: tuple[OutboxRow, ...] = (),
    picture: NightPicture | None = None,
) -> Status:
    """What is shown once these nights are decided about."""
    decided = decide_nights(
        nights, nights.farm, told or {}, lambda _: frozenset(), answers
    )
    meant = decided.meant
    return Status(
        nights=nights,
        meant=tuple(record.night for record in meant),
        health=Health(findings=findings),
        rows=rows,
        now_utc=now_utc,
        plan=decided.plans.of(meant[-1].night),
        told=decided.told,
        answers=answers,
        ticks=ticks,
        picture=picture,
    )
