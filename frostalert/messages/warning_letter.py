"""What a warning's mail says on two phone screens: the answer, your jobs, the blocks.

Everything else, every number with its reason, stands on the page that goes with it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from frostalert.messages.brief_words import (
    brief_cautions,
    brief_task,
    brief_task_name,
    chance_in_words,
    done_words,
    refused_words,
)
from frostalert.messages.household_words import household_head, household_lines
from frostalert.messages.lead_words import (
    ActionState,
    by_when,
    first_job,
    first_starts,
    if_it_still_runs,
    is_late_start,
)
from frostalert.messages.letter import Letter, lines_of
from frostalert.messages.option_words import each_once
from frostalert.messages.views import harm_hours, least_chance
from frostalert.messages.water_words import (
    keep_water_on,
    snow_line,
    start_table,
    tank_words,
)
from frostalert.messages.wording import Wording, capital, chance
from frostalert.model.assessment import BlockNight, NightAssessment, Tier
from frostalert.model.forecast import HOUR
from frostalert.model.notice import Subject
from frostalert.model.plan import (
    Plan,
    Resource,
    Task,
    TaskKind,
    UnprotectedBlock,
    UnprotectedReason,
)
from frostalert.model.site import Person
from frostalert.model.start import StartKey

MOST_ROWS = 6
"""Blocks that have a line of their own; more are put together by what is done."""
MOST_WORDS = 350
"""What two screens of a phone hold."""
_MOST_AHEAD = 2
_ENDINGS = {
    TaskKind.HEAT_OUT: "heat off",
    TaskKind.COVERS_OFF: "covers off",
}
ALWAYS = {
    ActionState.LATE_COVERS: "Lay covers now, in the dark: frost {name}.",
    ActionState.BY_HAND: "{by_hand}: frost {name}.",
    ActionState.KEPT_BACK: "The water is saved for the next night, where it does "
    "more: nothing to start in the frost {name}.",
    ActionState.UNSURE: "Nothing you have is sure to hold in the frost {name}. What "
    "fails half-way can cost more than it saves.",
    ActionState.NOTHING: "Nothing you have can stop the frost {name}. {rest}",
}
"""What is to be done, whether people are to get ready or to act."""
IN_PAIRS = (
    "Work in pairs; do not drive exhausted. Local rules and the fire department come "
    "first."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class NightFacts:
    """What a warning's mail is made of.

    Attributes
    ----------
    lead : ActionState
        What the plan leaves people to do.
    ready_by : str
        The hour to be ready by, as people read it.
    due : tuple of StartKey
        The starts that it calls for.
    urgent : tuple of str
        What must be said before all else: what must not be started any more.
    news : tuple of str
        What is old, late, worse or passed on.
    order : str
        In which order blocks need their start, for a night without a plan.
    doubts : tuple of str
        What is not known, or not sure, about the numbers.
    ahead : tuple of NightAssessment
        The further nights at risk.
    """

    subject: Subject
    night: NightAssessment
    plan: Plan | None
    wording: Wording
    lead: ActionState
    ready_by: str
    due: tuple[StartKey, ...]
    is_taken_back: bool
    is_old: bool
    urgent: tuple[str, ...]
    news: tuple[str, ...]
    order: str
    doubts: tuple[str, ...]
    source: str
    ahead: tuple[NightAssessment, ...] = ()


def letter_of(facts: NightFacts, person: Person, answer_link: str) -> Letter:
    """Return the mail of a warning to one person."""
    own, others = _jobs(facts, person)
    letter = Letter(
        urgent=facts.urgent,
        answer=_answer(facts),
        news=facts.news,
        answering=_answering(facts, person, answer_link),
        answer_link=answer_link if facts.subject is not Subject.OUTLOOK else "",
        jobs_title="YOUR JOBS" if others else "JOBS",
        jobs=own,
        others=others,
        rows=_rows(facts),
        rules=(*_rules(facts), *_snow(facts)),
        doubts=(*facts.doubts, *_ahead(facts)),
        source=facts.source,
    )
    full = replace(letter, rules=(*_start_table(facts), *letter.rules))
    # The page holds it in any case: here it stands where there is room.
    words = sum(len(line.split()) for line in lines_of(full))
    return full if words <= MOST_WORDS else letter


def _start_table(facts: NightFacts) -> tuple[str, ...]:
    """Return the readings at which water starts, by dew point, where any does."""
    if facts.plan is None or facts.subject is Subject.OUTLOOK:
        return ()
    table = start_table(facts.plan, facts.wording)
    return (table,) if table else ()


def _answer(facts: NightFacts) -> str:
    """Return the answer: what to do, from when, how cold, and when it does harm."""
    return " ".join(part for part in (verb_of(facts), cold_of(facts)) if part)


def verb_of(facts: NightFacts) -> str:
    """Return what is to be done, in one sentence."""
    name = facts.wording.night(facts.night.night)
    if facts.is_taken_back:
        return f"Frost is still expected {name}."
    if facts.subject is Subject.OUTLOOK:
        return f"Frost may harm buds {name}."
    lead = facts.lead
    if lead in ALWAYS:
        by_hand = (
            "" if facts.plan is None else household_head(facts.plan, facts.wording)
        )
        rest = rest_words(facts.plan)
        return ALWAYS[lead].format(name=name, by_hand=by_hand, rest=rest)
    if facts.subject is Subject.PREPARE:
        return f"{get_ready(facts)}: frost {name}."
    return {
        ActionState.START: f"Start now{_first_starts(facts)}. Frost {name}.",
        ActionState.EARLY: f"Be ready to start at {facts.ready_by}: frost {name}.",
        ActionState.KEEP: f"Leave on what is on, start nothing new: frost {name}.",
        ActionState.LAY: f"Lay covers {_by_when(facts)}: frost {name}.",
        ActionState.SET_UP: f"Set up as listed, start nothing yet: frost {name}.",
        ActionState.COVERED: f"Nothing to start, covers stay on: frost {name}.",
    }[lead]


def rest_words(plan: Plan | None) -> str:
    """Return that people may sleep, unless water may run: that must go on."""
    may_run = () if plan is None else (i for i in plan.refused if i.may_run)
    begun = () if plan is None else plan.begun
    if any(item.method.wets_buds for item in (*may_run, *begun)):
        return "If water is on, KEEP IT ON."
    return "No need to get up."


def _by_when(facts: NightFacts) -> str:
    """Return by when what is laid by day must lie."""
    return "before dark" if facts.plan is None else by_when(facts.plan, facts.wording)


def get_ready(facts: NightFacts) -> str:
    """Return from when to get ready."""
    hour = "now" if facts.plan is None else first_job(facts.plan, facts.wording)
    return "Get ready now" if hour == "now" else f"Get ready from {hour}"


def _first_starts(facts: NightFacts) -> str:
    """Return what is started first, where and by when."""
    if facts.plan is None:
        return ""
    starts = "; ".join(
        f"{item.what} in {item.block}, running {item.when}{item.limit}"
        for item in first_starts(facts.plan, facts.wording, facts.due)
    )
    return f": {starts}" if starts else ""


def cold_of(facts: NightFacts) -> str:
    """Return how cold it gets in the forecast and in the worst block, and the harm."""
    worst = facts.night.likeliest
    if worst is None:
        return ""
    low = facts.wording.temperature(facts.night.low_c)
    there = facts.wording.temperature(worst.site_low_c)
    harm = harm_hours(facts.night, facts.wording)
    colder = ", maybe colder" * bool(facts.night.missing)
    cold = f"{low} in the forecast, {there} in {worst.block}{colder}"
    return f"{cold}; harm {harm}." if harm[:1].isdigit() else f"{cold}; {harm}."


def _answering(facts: NightFacts, person: Person, answer_link: str) -> str:
    """Return how to say who acts."""
    if facts.subject is Subject.OUTLOOK:
        return ""
    # Whoever can do nothing is not on it.
    is_nothing = facts.lead is ActionState.NOTHING
    tell = "Tell us you saw this" if is_nothing else "Tell us you are on it"
    if answer_link:
        return f"{tell}: {answer_link}"
    return f'{tell}, on the home server: frostalert ack --by "{person.name}"'


def _jobs(facts: NightFacts, person: Person) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return a person's jobs by hour, and the others' in a line each."""
    plan = facts.plan
    if facts.subject is Subject.OUTLOOK:
        return (_days_ahead(facts),), ()
    if plan is None:
        order = f"Start order: {facts.order}."
        return ((order,) if facts.night.at_risk else ()), ()
    own = [task for task in plan.tasks if not task.who or person.name in task.who]
    others = [task for task in plan.tasks if task.who and person.name not in task.who]
    names = dict.fromkeys(name for task in others for name in task.who)
    lines = tuple(
        f"{name}: "
        + "; ".join(_brief(task, facts) for task in others if name in task.who)
        for name in names
    )
    named = [task for task in own if _is_named(task)]
    night = [_line(task, facts) for task in named if not _is_ending(task)]
    jobs = (*_household(plan, facts.wording), *night)
    return (*jobs, *_morning(filter(_is_ending, named), facts)), lines


def _is_ending(task: Task) -> bool:
    """Return whether a job ends what ran through the night, by what is measured."""
    return task.kind in _ENDINGS and not (task.is_if_begun or task.is_before_wind)


def _morning(endings: Iterable[Task], facts: NightFacts) -> tuple[str, ...]:
    """Return what ends in the morning, in one line: none of it by the clock alone.

    No hour is named where the forecast freezes on: it would still freeze then.
    """
    tasks = list(endings)
    if not tasks:
        return ()
    freezing = facts.wording.temperature(0.0)
    if facts.night.heat_out_utc is None:
        words = "; ".join(_ENDINGS[task.kind] for task in tasks)
        return (
            f"Once the air stays above {freezing}, which this forecast does not show "
            f"yet: {words}.",
        )
    words = "; ".join(
        f"{_ENDINGS[task.kind]} from {facts.wording.clock(task.start_utc)}"
        for task in tasks
    )
    return (f"Morning, once the air stays above {freezing}: {words}.",)


def _household(plan: Plan, wording: Wording) -> tuple[str, ...]:
    """Return what a house has as jobs, under where they are done."""
    lines = household_lines(plan)
    return (f"{household_head(plan, wording)}:", *lines) if lines else ()


def _is_named(task: Task) -> bool:
    """Return whether a job belongs into the short list."""
    return task.kind not in (TaskKind.COUNT, TaskKind.DRAIN)


def _line(task: Task, facts: NightFacts) -> str:
    """Return one job with its hour."""
    hour = capital(_hour(task, facts))
    hour += ":" * hour.startswith("Now")
    is_late = facts.plan is not None and is_late_start(task, facts.plan)
    return f"{hour} {brief_task(task, facts.wording, is_late=is_late)}"


def _brief(task: Task, facts: NightFacts) -> str:
    """Return another's job: its hour and what it is about."""
    return f"{_hour(task, facts)} {brief_task_name(task)}"


def _hour(task: Task, facts: NightFacts) -> str:
    """Return a job's hour; whose hour has come is done now."""
    wording = facts.wording
    is_now = task.start_utc <= wording.now_utc
    return "now" if is_now else wording.clock(task.start_utc)


def _days_ahead(facts: NightFacts) -> str:
    """Return what a far night asks for."""
    words = "Nothing to start yet. Check pump, water, fuel and covers in daylight."
    send, wording = facts.night.send_by_utc, facts.wording
    if send is None or send <= wording.now_utc:
        return words
    when = f"about {wording.weekday(send)} {wording.clock(send)}"
    if send - wording.now_utc <= HOUR:
        when = "within the hour"
    return f"{words} Next word {when}; silence is no all-clear."


def _rows(facts: NightFacts) -> tuple[str, ...]:
    """Return a line a block at risk; more than six are put together."""
    at_risk = sorted(facts.night.at_risk, key=lambda item: -(item.probability or 0.0))
    rows = [_row(record, facts) for record in at_risk[:MOST_ROWS]]
    more = at_risk[MOST_ROWS:]
    if more:
        rows.append(f"{len(more)} more: {_names(more)}.")
    beside = [
        record
        for record in facts.night.blocks
        if not record.tier.rank and record.tier is not Tier.CANNOT_JUDGE
    ]
    if beside:
        rows.append(f"Not at risk: {_names(beside)}.")
    return tuple(rows)


def _names(records: Iterable[BlockNight]) -> str:
    """Return the names of some blocks."""
    return ", ".join(record.block for record in records)


def _row(record: BlockNight, facts: NightFacts) -> str:
    """Return one block's night: low, limit, chance, and what is done."""
    wording, threshold = facts.wording, record.stage.threshold
    low = wording.temperature(record.site_low_c)
    alarm = wording.temperature(threshold.alarm_c if threshold else None)
    odds = "chance not known"
    if record.probability is not None:
        odds = f"{chance_in_words(record.probability)} ({chance(record.probability)})"
        odds = least_chance(facts.night, odds)
    assumed = " assumed" if record.stage.is_assumed else ""
    stage = f"{record.stage.stage}{assumed}"
    done = _done(record, facts)
    return f"{record.block} ({stage}): {low}, harm at {alarm}, {odds}.{done}"


def _done(record: BlockNight, facts: NightFacts) -> str:
    """Return what is done in a block, and what must not be."""
    plan = facts.plan
    if plan is None:
        return ""
    done = (*plan.chosen, *plan.listed)
    own = [item for item in done if item.block == record.block]
    words = [done_words(item, facts.wording) for item in own]
    if not own:
        left = [
            item
            for item in plan.left_out
            if item.block == record.block
            # What may not hold says so itself.
            and item.why is not UnprotectedReason.JUDGED_AGAIN
        ]
        words += [f"{_given_up(item, plan, facts.wording)}." for item in left]
    refused = each_once(i for i in plan.refused if i.block == record.block)
    told = (refused_words(item, is_dark=plan.is_dark) for item in refused)
    words += filter(None, told)
    return "".join(f" {word}" for word in words)


def _given_up(item: UnprotectedBlock, plan: Plan, wording: Wording) -> str:
    """Return why a block gets nothing; what a house has is something."""
    if plan.household is not None and item.block in plan.household.blocks:
        return "Use what you have at home"
    is_late = Resource.DAYLIGHT.value in item.short
    if is_late and plan.is_dark and not plan.is_after_sunrise:
        return "Laid late, covers help less: the coldest spots first"
    short = [
        f"{wording.amount(budget.short, budget.unit)} of {budget.what}"
        for budget in item.budgets
        if budget.short and item.why is UnprotectedReason.NOT_ENOUGH
    ]
    why = f"short by {' and '.join(short)}" if short else item.why.value
    return f"Unprotected: {why}"


def _rules(facts: NightFacts) -> tuple[str, ...]:
    """Return the stop rule of water, and one caution a method that is used."""
    plan = facts.plan
    if plan is None and not facts.night.at_risk:
        return (if_it_still_runs(facts.wording),)
    if plan is None or facts.subject is Subject.OUTLOOK:
        return ()
    running = (*plan.chosen, *plan.begun, *plan.listed)
    rules = [keep_water_on(plan, facts.wording)]
    rules += brief_cautions([item.method.kind for item in running])
    rules += [i.together.caution for i in running if i.together is not None]
    rules = list(dict.fromkeys(filter(None, rules)))
    if rules:
        rules.append(IN_PAIRS)
    if plan.tank is not None and not plan.tank.lasts:
        rules.append(tank_words(plan, facts.wording))
    return tuple(rules)


def _snow(facts: NightFacts) -> tuple[str, ...]:
    """Return what holds for blossom on a night that snows."""
    line = snow_line(facts.night.snowed_blossom)
    return (line,) if line else ()


def _ahead(facts: NightFacts) -> tuple[str, ...]:
    """Return the further nights at risk, a few words each."""
    if not facts.ahead:
        return ()
    words = []
    for night in facts.ahead[:_MOST_AHEAD]:
        worst = night.likeliest
        odds = chance(worst.probability) if worst else "not known"
        words.append(f"{facts.wording.night(night.night)} ({odds})")
    return ("Also at risk: " + ", ".join(words) + ".",)
