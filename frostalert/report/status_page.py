"""The status page: answer, jobs, blocks, nights, health, messages. Static files.

It needs no server of its own, no script and nothing from outside, and looks for a newer
page by itself; with a script allowed it also notices that it has grown old.
"""

import json
from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from hashlib import sha256
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined

from frostalert.cycle.document import assessment_document
from frostalert.cycle.health import Health
from frostalert.messages.picture import NightPicture
from frostalert.messages.plan_words import beyond_words, stop_words
from frostalert.messages.views import source_view
from frostalert.messages.wording import Wording
from frostalert.model.alarm import Answer
from frostalert.model.assessment import NightAssessment, Tier
from frostalert.model.job_sheet import Tick
from frostalert.model.nights import Nights
from frostalert.model.notice import NightHistory, OutboxRow
from frostalert.model.past_record import PastRecord
from frostalert.model.plan import Plan
from frostalert.model.site import Farm
from frostalert.report import page_parts
from frostalert.report.answer import Answered, answered
from frostalert.report.light import page_light

VALID_FOR = timedelta(hours=2)
"""Age from which the page calls itself old. Common practice, no source."""
REFRESHED_S = 300
"""How often the page looks for a newer one. [s]"""
PAGE, DATA, METRICS = "index.html", "status.json", "metrics.txt"
STYLE, LIGHT, PICTURE = "status.css", "light.svg", "night.png"
PAST_PICTURE = "past-springs.png"
# Shows the warning once the hour that the page itself names has passed, and looks for a
# newer page as it does without a script.
_SCRIPT = (
    "const end=Date.parse(document.documentElement.dataset.validUntil);"
    "const look=()=>{if(Date.now()>end)document.documentElement.className='old'};"
    "look();setInterval(look,30000);"
    f"setTimeout(()=>location.reload(),{1000 * REFRESHED_S});"
)


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
    plan : Plan or None
        What to do tonight.
    told : mapping of date to NightHistory
        What people were told of each night.
    answers, ticks : tuple
        What people answered, and which jobs they have done.
    past : PastRecord or None
        What would have been said in past springs.
    """

    nights: Nights
    meant: tuple[date, ...]
    health: Health
    rows: tuple[OutboxRow, ...]
    now_utc: datetime
    plan: Plan | None = None
    told: Mapping[date, NightHistory]
    answers: tuple[Answer, ...] = ()
    ticks: tuple[Tick, ...] = ()
    picture: NightPicture | None = None
    past: PastRecord | None = None

    @property
    def farm(self) -> Farm:
        """The holding as it was judged."""
        return self.nights.farm

    @property
    def shown(self) -> tuple[NightAssessment, ...]:
        """The nights that are meant by "tonight"."""
        nights = self.nights.assessment.nights
        return tuple(item for item in nights if item.night in self.meant)

    @property
    def night(self) -> NightAssessment:
        """The coming night, or the present one while it lasts."""
        return self.shown[-1]

    @property
    def answered(self) -> Answered:
        """What the page begins with."""
        history = self.told.get(self.night.night)
        return answered(self.nights, self.shown, self.plan, history, self.now_utc)


def render_status(status: Status) -> dict[str, bytes]:
    """Return the files of the status page by name.

    Parameters
    ----------
    status : Status
        What is shown.

    Returns
    -------
    dict of str to bytes
        Page, data, metrics, style, light, and the picture if there is one.
    """
    light = page_light(status.shown, _coming(status), status.health)
    valid_until = status.now_utc + VALID_FOR
    values = {
        **_values(status),
        "light": light,
        "light_file": f"{LIGHT}?{light.name.lower()}",
        "refreshed_s": REFRESHED_S,
        "valid_until": valid_until,
        "script": _SCRIPT,
        "script_hash": b64encode(sha256(_SCRIPT.encode()).digest()).decode(),
    }
    page = _environment().get_template("status.html.j2").render(values)
    found = {
        STYLE: files("frostalert.report").joinpath("static", STYLE).read_bytes(),
        LIGHT: light.svg.encode(),
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


def _values(status: Status) -> dict[str, object]:
    """Return what the template fills in: facts, and the words for them."""
    words = Wording(status.farm.site, status.now_utc)
    plan, assessment = status.plan, status.nights.assessment
    blocks = status.farm.blocks
    has_records = bool(status.night.blocks)
    return {
        "w": words,
        "status": status,
        "part": page_parts,
        "site": status.farm.site,
        "head": status.answered,
        "acting": page_parts.answer_lines(
            status.told, status.answers, assessment.nights, words
        ),
        "readings": page_parts.reading_lines(status.nights, status.now_utc, words),
        "jobs": page_parts.job_lines(plan, status.ticks, words) if plan else (),
        "stopping": (stop_words(plan, words), beyond_words(plan, words))
        if plan
        else (),
        "refused": page_parts.refused_lines(plan, words) if plan else (),
        "passed_over": page_parts.passed_over_lines(plan) if plan else (),
        "left_out": page_parts.left_lines(plan, words) if plan else (),
        "groups": page_parts.block_groups(status.night, blocks, words)
        if has_records
        else (),
        "nights": [
            page_parts.night_line(night, status.now_utc, words)
            for night in assessment.nights
        ],
        "source": source_view(assessment, words),
        "arrivals": page_parts.arrival_lines(status.rows, words),
        "picture": PICTURE if status.picture is not None else "",
        "picture_alt": status.picture.alt(words) if status.picture else "",
        "past_lines": _past_lines(status.past),
        "past_picture": PAST_PICTURE,
    }


def _coming(status: Status) -> tuple[NightAssessment, ...]:
    """Return the nights after those that are meant by "tonight"."""
    nights = status.nights.assessment.nights
    return tuple(item for item in nights if item.night > status.night.night)


def _data(status: Status, valid_until: datetime) -> bytes:
    """Return the status as JSON: the assessment's document and the health."""
    document = assessment_document(
        status.nights.assessment, status.farm, [], status.meant
    )
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
    facts = status.nights.assessment.forecast
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
