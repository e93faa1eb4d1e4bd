"""What the status page says, part by part: who acts, jobs, blocks, messages."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from frostalert.alarms.answers import acknowledges, calls_for_hands, is_unjudged_open
from frostalert.cycle.job_sheet import job_key
from frostalert.messages.brief_words import verdict_words
from frostalert.messages.option_words import (
    each_once,
    ground_words,
    passed_over_why,
    refusal_words,
)
from frostalert.messages.plan_words import unprotected_words
from frostalert.messages.task_words import task_hours, task_text
from frostalert.messages.views import tier_words
from frostalert.messages.wording import Wording, capital, chance
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import BlockNight, NightAssessment, Tier
from frostalert.model.job_sheet import Tick
from frostalert.model.nights import Nights
from frostalert.model.notice import NightHistory, OutboxRow, OutboxState
from frostalert.model.plan import Option, Plan, Resource
from frostalert.model.reading import Reading
from frostalert.model.site import Block
from frostalert.model.tier_words import SUBJECT_WORDS, TIER_WORDS
from frostalert.risk.reading_checks import beside_expected_c
from frostalert.risk.readings import OLD, expected_air

_ALIKE_C = 0.5
_MOST_ARRIVALS = 8
_NAMED = 8
_ARRIVED = {
    OutboxState.DUE: "waits",
    OutboxState.SENDING: "being sent",
    OutboxState.SENT: "handed over, not confirmed",
    OutboxState.DELIVERED: "arrived",
    OutboxState.UNKNOWN: "NOT KNOWN whether it arrived",
    OutboxState.DEAD: "DID NOT ARRIVE",
}
_FAILED = (OutboxState.UNKNOWN, OutboxState.DEAD)


def answer_lines(
    told: Mapping[date, NightHistory],
    answers: Sequence[Answer],
    nights: Iterable[NightAssessment],
    wording: Wording,
) -> tuple[str, ...]:
    """Return who acts on each night that calls for somebody."""
    lines = []
    for night in nights:
        history = told.get(night.night)
        if history is not None:
            lines += _answers_about(history, answers, wording)
    return tuple(lines)


def _answers_about(
    history: NightHistory, answers: Sequence[Answer], wording: Wording
) -> list[str]:
    """Return who acts on one night."""
    name = wording.night(history.night)
    if is_unjudged_open(history, answers):
        return [f"Nobody has confirmed yet: frost risk unknown {name}."]
    if not calls_for_hands(history):
        return []
    said = (history.night, history.said, history.said_revision)
    found = next((item for item in answers if acknowledges(item, *said)), None)
    if found is None:
        return [f"Nobody has answered yet for {name}."]
    verb = "is acting" if found.kind is AnswerKind.ACTING else "says: not needed here"
    return [f"{found.person} {verb} ({name}; since {wording.clock(found.given_utc)})."]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """One job: when, who, what, and when it was done."""

    hours: str
    who: str
    words: str
    done: str


def job_lines(
    plan: Plan, ticks: Sequence[Tick], wording: Wording
) -> tuple[JobLine, ...]:
    """Return a plan's jobs by hour, with what was ticked as done."""
    done = {
        tick.job: f"done {wording.clock(tick.done_utc)}, {tick.person}"
        for tick in ticks
        if tick.night == plan.night
    }
    return tuple(
        JobLine(
            hours=hours,
            who=", ".join(task.who),
            words=task_text(task, wording),
            done=done.get(job_key(task), ""),
        )
        for task, hours in zip(plan.tasks, task_hours(plan.tasks, wording), strict=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Grounds:
    """One reason, and all that it holds for."""

    what: str
    why: str
    blocks: tuple[str, ...]

    @property
    def is_long(self) -> bool:
        """Whether the names would fill the screen."""
        return len(self.blocks) > _NAMED


def refused_lines(plan: Plan, wording: Wording) -> tuple[Grounds, ...]:
    """Return what must not be used, each reason once with all its blocks."""
    found: dict[tuple[str, str], list[Option]] = {}
    for item in each_once(plan.refused):
        key = item.equipment, ground_words(item, wording)
        found.setdefault(key, []).append(item)
    return tuple(
        Grounds(
            what=f"{equipment}: ",
            # Numbers that differ from block to block would hold for one alone.
            why=refusal_words(items[0], wording) if len(items) == 1 else why,
            blocks=tuple(item.block for item in items),
        )
        for (equipment, why), items in found.items()
    )


def passed_over_lines(plan: Plan) -> tuple[Grounds, ...]:
    """Return what could be done as well and is not, each reason with its blocks."""
    found: dict[tuple[str, str], list[str]] = {}
    for item in plan.passed_over:
        key = item.option.equipment, passed_over_why(item)
        found.setdefault(key, []).append(item.option.block)
    return tuple(
        Grounds(what=f"{equipment}: ", why=why, blocks=tuple(blocks))
        for (equipment, why), blocks in found.items()
    )


def left_lines(plan: Plan, wording: Wording) -> tuple[Grounds, ...]:
    """Return which blocks get nothing, each reason once."""
    found: dict[str, list[str]] = {}
    for item in plan.left_out:
        why = unprotected_words(item, plan, wording)
        found.setdefault(why, []).append(item.block)
    return tuple(
        Grounds(what="", why=capital(why), blocks=tuple(blocks))
        for why, blocks in found.items()
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockGroup:
    """Blocks of one crop at one stage, which bear the same."""

    title: str
    limit: str
    rows: tuple[BlockNight, ...]


def block_groups(
    night: NightAssessment, blocks: Sequence[Block], wording: Wording
) -> tuple[BlockGroup, ...]:
    """Return the blocks by crop and stage, the likeliest to be harmed first."""
    pairs = sorted(
        zip(night.blocks, blocks, strict=True),
        key=lambda pair: (-pair[0].tier.rank, -(pair[0].probability or 0.0)),
    )
    found: dict[tuple[str, str], list[BlockNight]] = {}
    for record, block in pairs:
        title = _stage_words(record, block), _limit_words(record, block, wording)
        found.setdefault(title, []).append(record)
    return tuple(
        BlockGroup(title=title, limit=limit, rows=tuple(rows))
        for (title, limit), rows in found.items()
    )


def _stage_words(record: BlockNight, block: Block) -> str:
    """Return crop and stage."""
    assumed = " (assumed)" if record.stage.is_assumed else ""
    return f"{capital(block.crop.title)}, {record.stage.stage}{assumed}"


def _limit_words(record: BlockNight, block: Block, wording: Wording) -> str:
    """Return what a stage bears, and when somebody looked at the buds."""
    seen = f"seen {_seen(block.stage_seen, wording.today)}"
    threshold = record.stage.threshold
    if threshold is None:
        return seen
    return f"harm at {wording.temperature(threshold.alarm_c)}, {seen}"


def _seen(seen: date, today: date) -> str:
    """Return how long ago a block was looked at."""
    days = (today - seen).days
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def unjudged(record: BlockNight) -> str:
    """Return why a block has no numbers that count; empty where it has."""
    if record.stage.is_muted:
        return f"not watched: {record.stage.reason}"
    if record.tier is Tier.CANNOT_JUDGE or record.probability is None:
        return f"{TIER_WORDS[Tier.CANNOT_JUDGE]}: {record.reason}"
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NightLine:
    """A night in a table; `why` stands in the place of numbers that it has not."""

    tier: Tier
    name: str
    words: str
    air: str
    chance: str
    block: str
    why: str


def night_line(
    night: NightAssessment, now_utc: datetime, wording: Wording
) -> NightLine:
    """Return one line about a night: its worst block, or why nobody can judge it."""
    worst = night.likeliest
    why = ""
    if night.tier in (Tier.CANNOT_JUDGE, Tier.NOT_COVERED_YET):
        why = f"{tier_words(night, now_utc)}: {night.missing or night.reason}"
    elif worst is None:
        why = night.reason
    return NightLine(
        tier=night.tier,
        name=wording.day(night.night),
        words=tier_words(night, now_utc),
        air=wording.temperature(worst.site_low_c if worst else None),
        chance=chance(worst.probability if worst else None),
        block=worst.block if worst else "",
        why=why,
    )


def done_in(block: str, plan: Plan | None) -> str:
    """Return what is done in a block tonight, in few words."""
    if plan is None:
        return ""
    chosen = [item for item in plan.chosen if item.block == block]
    if chosen:
        return "; ".join(f"{item.equipment}: {verdict_words(item)}" for item in chosen)
    listed = [item.equipment for item in plan.listed if item.block == block]
    if listed:
        return f"{', '.join(listed)}: not estimated"
    left = next((item for item in plan.left_out if item.block == block), None)
    if left is None:
        return ""
    is_late = Resource.DAYLIGHT.value in left.short and plan.is_dark
    return "covers, late" if is_late and not plan.is_after_sunrise else "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLine:
    """A thermometer's newest reading against what the forecast has there."""

    sensor: str
    air: str
    at: str
    beside: str


def reading_lines(
    nights: Nights, now_utc: datetime, wording: Wording
) -> tuple[ReadingLine, ...]:
    """Return the newest reading of each thermometer against the forecast."""
    expected = expected_air(nights)
    newest: dict[str, Reading] = {}
    for item in sorted(nights.facts.readings, key=lambda item: item.at_utc):
        if now_utc - item.at_utc <= OLD:
            newest[item.sensor] = item
    return tuple(
        ReadingLine(
            sensor=item.sensor,
            air=wording.temperature(item.air_c),
            at=wording.clock(item.at_utc),
            beside=f"not believed: {item.problem}"
            if item.problem is not None
            else _beside(beside_expected_c(item, expected), wording),
        )
        for item in newest.values()
    )


def _beside(difference_c: float | None, wording: Wording) -> str:
    """Return how far a reading lies from the forecast."""
    if difference_c is None:
        return "the forecast has nothing to compare"
    if abs(difference_c) < _ALIKE_C:
        return "as forecast"
    way = "colder" if difference_c < 0.0 else "warmer"
    return f"{wording.difference(abs(difference_c))} {way} than forecast"


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrivalLine:
    """Messages of one kind and fate."""

    when: str
    what: str
    who: str
    became: str
    is_bad: bool


def arrival_lines(
    rows: Sequence[OutboxRow], wording: Wording
) -> tuple[ArrivalLine, ...]:
    """Return the last messages with what became of them; their texts stay private."""
    found: dict[tuple[str, date, OutboxState], list[OutboxRow]] = {}
    for row in rows:
        night = row.message.night
        about = f", {wording.day(night)}" if night is not None else ""
        tried = (row.last_try_utc or row.next_try_utc).astimezone(wording.zone)
        what = SUBJECT_WORDS[row.message.subject_kind]
        key = f"{what}{about}", tried.date(), row.state
        found.setdefault(key, []).append(row)
    lines = [
        ArrivalLine(
            when=_when(some[0].last_try_utc or some[0].next_try_utc, wording),
            what=what,
            who=", ".join(dict.fromkeys(map(_to_whom, some))),
            became=_ARRIVED[state],
            is_bad=state in _FAILED,
        )
        for (what, _, state), some in found.items()
    ]
    # What failed stands first: it must not fall off the end.
    lines.sort(key=lambda line: not line.is_bad)
    return tuple(lines[:_MOST_ARRIVALS])


def _when(moment: datetime, wording: Wording) -> str:
    """Return when something was, with its date unless that is today's."""
    is_today = moment.astimezone(wording.zone).date() == wording.today
    return wording.clock(moment) if is_today else wording.short_moment(moment)


def _to_whom(row: OutboxRow) -> str:
    """Return whom a message went to, and by what."""
    return f"{row.message.person} by {row.message.channel}"
