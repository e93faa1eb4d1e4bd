"""The status page: tonight, the coming nights, blocks, messages, health. Static files.

It needs no server of its own, no script and nothing from outside; with a script allowed
it also notices by itself that it has grown old.
"""

import json
from base64 import b64encode
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from hashlib import sha256
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined

from frostalert.cycle.document import assessment_document
from frostalert.cycle.health import Health
from frostalert.messages.lead_words import if_it_still_runs
from frostalert.messages.picture import NightPicture
from frostalert.messages.plan_words import PlanView
from frostalert.messages.views import night_view, source_view
from frostalert.messages.wording import Wording, day
from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.notice import OutboxRow
from frostalert.model.past import PastRecord
from frostalert.model.site import Block, Farm

VALID_FOR = timedelta(hours=2)
"""Age from which the page calls itself old. Common practice, no source."""
PAGE, DATA, METRICS, STYLE = "index.html", "status.json", "metrics.txt", "status.css"
PICTURE, PAST_PICTURE = "night.png", "past-springs.png"
# Shows the warning once the hour that the page itself names has passed, and looks for a
# newer page every five minutes.
_SCRIPT = (
    "const end=Date.parse(document.documentElement.dataset.validUntil);"
    "const look=()=>{if(Date.now()>end)document.documentElement.className='old'};"
    "look();setInterval(look,30000);setTimeout(()=>location.reload(),300000);"
)
_ARRIVED = {
    "due": "waits",
    "sending": "being sent",
    "sent": "taken by the service, not proved",
    "delivered": "arrived",
    "unknown": "NOT KNOWN whether it arrived",
    "dead": "DID NOT ARRIVE",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """Everything that the page shows.

    Attributes
    ----------
    meant : tuple of date
        The nights that are meant by "tonight": the coming one last, before it one that
        lasts.
    rows : tuple of OutboxRow
        The last messages, newest first.
    plan : PlanView or None
        What to do tonight.
    past : PastRecord or None
        What would have been said in past springs.
    """

    assessment: Assessment
    meant: tuple[date, ...]
    farm: Farm
    health: Health
    rows: tuple[OutboxRow, ...]
    now_utc: datetime
    plan: PlanView | None = None
    picture: NightPicture | None = None
    past: PastRecord | None = None

    @property
    def night(self) -> NightAssessment:
        """The coming night, or the present one while it lasts."""
        nights = self.assessment.nights
        return next(item for item in nights if item.night == self.meant[-1])


def render_status(status: Status) -> dict[str, bytes]:
    """Return the files of the status page by name.

    Parameters
    ----------
    status : Status
        What is shown.

    Returns
    -------
    dict of str to bytes
        Page, data, metrics, style, and the picture if there is one.
    """
    wording = Wording(status.farm.site, status.now_utc)
    valid_until = status.now_utc + VALID_FOR
    nights = [
        night_view(night, status.farm, wording) for night in status.assessment.nights
    ]
    style = files("frostalert.report").joinpath("static", STYLE).read_bytes()
    page = (
        _environment()
        .get_template("status.html.j2")
        .render(
            site=status.farm.site,
            nights=nights,
            head=next(view for view in nights if view.date == status.meant[-1]),
            lasting=[view for view in nights if view.date in status.meant[:-1]],
            if_it_runs=if_it_still_runs(wording),
            source=source_view(status.assessment, wording),
            health=status.health,
            blocks=_blocks(status, wording),
            messages=[_message(row, wording) for row in status.rows],
            plan=status.plan,
            picture=PICTURE if status.picture is not None else "",
            picture_alt=status.picture.alt(wording) if status.picture else "",
            past=status.past,
            past_lines=_past_lines(status.past),
            past_picture=PAST_PICTURE,
            written=wording.moment(status.now_utc),
            valid_until=valid_until.isoformat(),
            valid_words=wording.moment(valid_until),
            script=_SCRIPT,
            script_hash=b64encode(sha256(_SCRIPT.encode()).digest()).decode(),
        )
    )
    found = {
        STYLE: style,
        DATA: _data(status, valid_until),
        METRICS: _metrics(status).encode(),
        PAGE: page.encode(),
    }
    if status.picture is not None:
        found = {PICTURE: status.picture.png, **found}
    if status.past is not None:
        found = {PAST_PICTURE: status.past.png, **found}
    return found


def _past_lines(past: PastRecord | None) -> list[str]:
    """Return what would have been said in past springs, one line a spring."""
    return [] if past is None else [line.removeprefix("- ") for line in past.lines]


def _blocks(status: Status, wording: Wording) -> list[dict[str, str]]:
    """Return each block with its stage and how long ago it was looked at."""
    today = status.now_utc.astimezone(wording.zone).date()
    found = []
    records = status.night.blocks
    if not records:
        # Without any forecast nothing can be said of a block.
        return [_unjudged(block, today) for block in status.farm.blocks]
    for block, record in zip(status.farm.blocks, records, strict=True):
        assumed = " (assumed)" if record.stage.is_assumed else ""
        found.append(
            {
                "name": block.name,
                "stage": f"{record.stage.stage}{assumed}",
                "seen": _days_ago(block, today),
                "tier": record.tier.value,
                "reason": record.reason,
            }
        )
    return found


def _days_ago(block: Block, today: date) -> str:
    """Return how long ago a block was looked at."""
    days = (today - block.stage_seen).days
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def _unjudged(block: Block, today: date) -> dict[str, str]:
    """Return a block of which nothing can be said."""
    return {
        "name": block.name,
        "stage": block.stage,
        "seen": _days_ago(block, today),
        "tier": Tier.CANNOT_JUDGE.value,
        "reason": "",
    }


def _message(row: OutboxRow, wording: Wording) -> dict[str, str]:
    """Return a message with what became of it; its text stays private."""
    moment = row.last_try_utc or row.next_try_utc
    night = f", night of {day(row.message.night)}" if row.message.night else ""
    return {
        "when": wording.moment(moment),
        "who": f"{row.message.person} by {row.message.channel}",
        "what": f"{row.message.subject_kind}{night}",
        "became": _ARRIVED[row.state.value],
        "is_bad": "yes" if row.state.value in ("unknown", "dead") else "",
    }


def _data(status: Status, valid_until: datetime) -> bytes:
    """Return the status as JSON: the assessment's document and the health."""
    document = assessment_document(status.assessment, status.farm, [], status.meant)
    document["valid_until_utc"] = valid_until.isoformat()
    document["health"] = {
        "light": status.health.light.value,
        "findings": [
            {"light": item.light.value, "words": item.words}
            for item in status.health.findings
        ],
    }
    return json.dumps(document, indent=1, allow_nan=False).encode()


def _metrics(status: Status) -> str:
    """Return figures for a monitor, in the text form of OpenMetrics."""
    facts = status.assessment.forecast
    made = None if facts is None else facts.updated_utc
    lights = {"good": 0, "look": 1, "bad": 2}
    tiers = {Tier.NONE: 0, Tier.OUTLOOK: 1, Tier.PREPARE: 2, Tier.ACT: 3}
    tonight = status.night.tier
    rows = [
        ("frostalert_written_timestamp_seconds", status.now_utc.timestamp()),
        ("frostalert_health_light", lights[status.health.light.value]),
        ("frostalert_tonight_tier", tiers.get(tonight, -1)),
    ]
    if made is not None:
        rows.append(("frostalert_forecast_timestamp_seconds", made.timestamp()))
    undelivered = sum(row.state.value in ("dead", "unknown") for row in status.rows)
    rows.append(("frostalert_recent_undelivered_messages", undelivered))
    lines = [f"# TYPE {name} gauge\n{name} {value:.0f}" for name, value in rows]
    return "\n".join([*lines, "# EOF", ""])


@cache
def _environment() -> Environment:
    """Return the templates; everything that is filled in is escaped."""
    return Environment(
        loader=PackageLoader("frostalert.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
