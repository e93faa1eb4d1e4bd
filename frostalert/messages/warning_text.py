"""A warning's text message: ranked parts, of which the least is left out for room.

What is never left out is what to do, when, where, how cold, and how old that is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import partial

from frostalert.messages.brief_words import (
    is_forbidden,
    reading_c,
)
from frostalert.messages.lead_words import (
    ActionState,
    StartWords,
    by_when,
    first_job,
    first_starts,
)
from frostalert.messages.option_words import TakenBackView, brief_ground, each_once
from frostalert.messages.parts import Part, Short, fit
from frostalert.messages.sms import ONE_SEGMENT, TWO_SEGMENTS
from frostalert.messages.views import harm_hours
from frostalert.messages.warning_letter import NightFacts
from frostalert.messages.wording import chance
from frostalert.model.notice import Subject
from frostalert.model.plan import Option, Resource, Task
from frostalert.model.site import Person
from frostalert.model.start import StartKey

_NOON_HOUR = 12
_ALWAYS = {
    ActionState.NOTHING: "FROST {name}: NOTHING HERE CAN STOP IT. No need to get up.",
    ActionState.LATE_COVERS: "LAY COVERS NOW, IN THE DARK, {name}:",
    ActionState.BY_HAND: "FROST {name}: COVER LOW PLANTS {when}.",
}
"""What is to be done, whether people are to get ready or to act."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TextWords:
    """What a text says beside the facts of its night.

    Attributes
    ----------
    back : TakenBackView or None
        What must not be started any more.
    is_again : bool
        Whether something may be started after all.
    change, also : str
        What changed since people were told; the further nights.
    error, source : str
        How far off the low may be; where it comes from, and when it was made.
    """

    back: TakenBackView | None
    is_again: bool
    change: str
    also: str
    error: str
    source: str
    is_passed_on: bool
    has_gap: bool


def text_of(
    facts: NightFacts, words: TextWords, person: Person, link: str, mark: str
) -> str:
    """Return the text message of a warning to one person.

    One segment; two for a call to act alone.
    """
    limit = TWO_SEGMENTS if facts.subject is Subject.ACT else ONE_SEGMENT
    parts_with = partial(_parts, facts, words, person, link)
    return fit(parts_with, mark, tail=words.source, limit=limit)


def _parts(
    facts: NightFacts, words: TextWords, person: Person, link: str, short: Short
) -> list[Part]:
    """Return a text's parts in the order in which they are read."""
    is_answerable = link and facts.subject is not Subject.OUTLOOK
    return [
        *_back(facts, words, short),
        Part(0, _lead(facts, words)),
        *([] if facts.is_taken_back else _work(facts, person, short)),
        *_cold(facts, words, short),
        *_without(facts, words, short),
        Part(5, f"Changed: {words.change}." if words.change else ""),
        Part(2, "Now it is your turn." if words.is_passed_on else ""),
        Part(5, f"Also {words.also}." if words.also else ""),
        Part(2, f"Answer: {link}" if is_answerable else ""),
        Part(0, words.source),
    ]


def _back(facts: NightFacts, words: TextWords, short: Short) -> list[Part]:
    """Return what must not be started any more, and what holds if it was."""
    back = words.back
    if back is None:
        return []
    pairs = "; ".join(f"{short(item)} in {short(block)}" for item, block in back.pairs)
    if_begun = f"{back.if_begun}." if back.if_begun else ""
    return [Part(0, f"DO NOT START {pairs}: {back.why}."), Part(0, if_begun)]


def _lead(facts: NightFacts, words: TextWords) -> str:
    """Return the verb, and the night; after midnight the morning's date."""
    name = _date(facts)
    if facts.is_taken_back:
        return f"STILL FROST {name}."
    if facts.subject is Subject.OUTLOOK:
        return f"FROST POSSIBLE {name}:"
    again = "AFTER ALL: " if words.is_again else ""
    if facts.lead in _ALWAYS:
        when = "NOW"
        if facts.plan is not None and not facts.plan.is_dark:
            when = f"BEFORE {by_when(facts.plan, facts.wording).upper()}"
        return again + _ALWAYS[facts.lead].format(name=name, when=when)
    if facts.subject is Subject.PREPARE:
        hour = "now"
        if facts.plan is not None:
            hour = first_job(facts.plan, facts.wording)
        when = "NOW" if hour == "now" else f"from {hour}"
        return f"FROST {name}: GET READY {when}."
    verbs = {
        ActionState.START: f"START NOW {name}:",
        ActionState.EARLY: f"BE READY TO START {facts.ready_by}, {name}:",
        ActionState.KEEP: f"KEEP WHAT RUNS, START NOTHING NEW, {name}:",
        ActionState.COVERED: f"COVERS STAY ON, NOTHING TO START, {name}:",
    }
    return again + verbs[facts.lead]


def _date(facts: NightFacts) -> str:
    """Return the night's date, or the morning's once it is after midnight."""
    local = facts.wording.now_utc.astimezone(facts.wording.zone)
    is_morning = local.hour < _NOON_HOUR and local.date() > facts.night.night
    night = facts.night.night + timedelta(days=1) * is_morning
    return facts.wording.day(night)


def _work(facts: NightFacts, person: Person, short: Short) -> list[Part]:
    """Return what is started, where, by when and at which reading; own jobs first."""
    plan = facts.plan
    if facts.subject is Subject.OUTLOOK:
        return []
    if plan is None:
        return [Part(1, f"Start order: {facts.order}.")]
    parts = []
    dusk = [item for item in plan.chosen if item.method.is_before_dark]
    if dusk and not plan.is_dark:
        names = ", ".join(f"{short(i.equipment)} {short(i.block)}" for i in dusk)
        by = by_when(plan, facts.wording)
        parts.append(Part(0, f"By {by}: {names}."))
    starts = first_starts(plan, facts.wording, facts.due)
    if facts.subject is Subject.PREPARE:
        starts = _all_starts(facts)
    own = _own_pairs(plan.tasks, person)
    ordered = sorted(
        enumerate(starts), key=lambda item: (_pair(item[1]) not in own, item[0])
    )
    for place, (_, item) in enumerate(ordered):
        option = next(o for o in plan.chosen if o.pair == _pair(item))
        within = "in " * (facts.subject is Subject.ACT)
        words = f"{short(item.equipment)} {within}{short(item.block)} {item.when}"
        reading = reading_c(option)
        if reading is not None and facts.subject is Subject.ACT:
            words += f" or at {facts.wording.temperature(reading)}"
        is_kept = place == 0 or facts.subject is Subject.ACT
        parts.append(Part(0 if is_kept else 2, words + "."))
    return parts


def _all_starts(facts: NightFacts) -> tuple[StartWords, ...]:
    """Return every start of the night, the earliest first."""
    plan = facts.plan
    assert plan is not None  # noqa: S101 - asked for before
    tasks = sorted(plan.starts, key=lambda task: task.deadline_utc)
    return first_starts(plan, facts.wording, [task.pair for task in tasks])


def _pair(item: StartWords) -> StartKey:
    """Return a start's equipment and block."""
    return item.equipment, item.block


def _own_pairs(tasks: Sequence[Task], person: Person) -> set[tuple[str, str]]:
    """Return the starts that are a person's own jobs."""
    return {
        (task.equipment, block)
        for task in tasks
        for block in task.blocks
        if person.name in task.who
    }


def _cold(facts: NightFacts, words: TextWords, short: Short) -> list[Part]:
    """Return how cold it gets where, when that does harm, and how sure it is."""
    worst = facts.night.likeliest
    if worst is None:
        return []
    air = facts.wording.temperature(worst.site_low_c)
    harm = harm_hours(facts.night, facts.wording)
    known = ", maybe longer" if words.has_gap else ""
    cold = f"{air} in {short(worst.block)}"
    harm = f"harm {harm}" if harm[:1].isdigit() else harm
    parts = [Part(0, f"{cold}, {harm}{known}.")]
    if facts.subject is Subject.OUTLOOK and worst.probability is not None:
        parts.append(Part(1, f"Chance {chance(worst.probability)}."))
    if words.error != "unknown":
        parts.append(Part(4, f"Give or take {words.error}."))
    return parts


def _not_to_use(item: Option) -> str:
    """Return what not to do: what may run already must not be stopped by a "not"."""
    if item.may_run and not item.method.burns:
        return "START NO MORE, STOP NOTHING:"
    return "DO NOT USE"


def _without(facts: NightFacts, words: TextWords, short: Short) -> list[Part]:
    """Return what must not be used, and what is given up."""
    plan = facts.plan
    if plan is None or facts.subject is Subject.OUTLOOK:
        return []
    told = set(words.back.pairs) if words.back is not None else set()
    parts = [
        Part(
            2,
            f"{_not_to_use(item)} {short(item.equipment)} in {short(item.block)}: "
            f"{brief_ground(item.grounds[0])}.",
        )
        for item in each_once(filter(is_forbidden, plan.refused))
        if item.pair not in told
    ]
    by_hand = plan.household.blocks if plan.household is not None else ()
    is_late = facts.lead is ActionState.LATE_COVERS
    left = [
        item.block
        for item in plan.left_out
        if item.block not in by_hand
        and not (is_late and Resource.DAYLIGHT.value in item.short)
    ]
    if plan.household is not None and not plan.household.is_laid:
        names = ", ".join(map(short, by_hand))
        parts.append(Part(2, f"Sheets, buckets: {names}."))
    if left:
        names = ", ".join(map(short, left))
        parts.append(Part(3, f"Unprotected: {names}."))
    return parts
