"""A warning's text message: ranked parts, of which the least is left out for room.

What is never left out is what to do, when, where, how cold, and how old that is.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial

from frostalert.messages.brief_words import (
    is_blown_off,
    is_forbidden,
)
from frostalert.messages.lead_words import (
    ActionState,
    StartWords,
    by_when,
    first_job,
    first_starts,
    to_be_laid,
)
from frostalert.messages.option_words import TakenBackView, brief_ground, each_once
from frostalert.messages.parts import Part, Short, answer_part, fit
from frostalert.messages.sms import ONE_SEGMENT, TWO_SEGMENTS
from frostalert.messages.views import harm_hours, least_chance
from frostalert.messages.warning_letter import NightFacts, rest_words
from frostalert.messages.wording import capital, chance, counted
from frostalert.model.notice import Subject
from frostalert.model.plan import Option, Resource, Task
from frostalert.model.site import Person
from frostalert.model.start import StartKey

_ALWAYS = {
    ActionState.KEPT_BACK: "FROST {name}: WATER SAVED FOR NEXT NIGHT: START NONE.",
    ActionState.UNSURE: "FROST {name}: NOTHING HERE IS SURE TO HOLD.",
    ActionState.NOTHING: "FROST {name}: NOTHING HERE CAN STOP IT. {rest}",
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
    is_asking = facts.subject is not Subject.OUTLOOK
    answer = answer_part(link if is_asking else "")
    jobs = _jobs(facts, person, has_link=answer.rank == 1 and bool(link))
    return [
        *_back(facts, words, short),
        Part(0, _lead(facts, words)),
        *(Part(job.rank, job.words(facts, short)) for job in jobs),
        *_order(facts),
        *_cold(facts, words, short, {i.block for i in jobs if not i.rank}),
        *_without(facts, words, short),
        Part(5, f"Changed: {words.change}." if words.change else ""),
        Part(2, "Nobody answered: your turn." if words.is_passed_on else ""),
        Part(5, f"Also {words.also}." if words.also else ""),
        answer,
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
    name = facts.wording.short_night(facts.night.night)
    if facts.is_taken_back:
        return f"STILL FROST {name}."
    if facts.subject is Subject.OUTLOOK:
        return f"FROST POSSIBLE {name}:"
    again = "AFTER ALL: " if words.is_again else ""
    if facts.lead in _ALWAYS:
        when = "NOW"
        if facts.plan is not None and not facts.plan.is_dark:
            when = _laid_when(facts)
        return again + _ALWAYS[facts.lead].format(
            name=name, when=when, rest=rest_words(facts.plan)
        )
    if facts.subject is Subject.PREPARE:
        hour = "now"
        if facts.plan is not None:
            hour = first_job(facts.plan, facts.wording)
        when = "NOW" if hour == "now" else f"from {hour}"
        return f"FROST {name}: GET READY {when}."
    verbs = {
        ActionState.START: f"START NOW {name}:",
        ActionState.EARLY: f"BE READY TO START {facts.ready_by}, {name}:",
        ActionState.KEEP: f"LEAVE ON WHAT IS ON, START NOTHING NEW, {name}:",
        ActionState.LAY: f"LAY COVERS {_laid_when(facts)}, {name}:",
        ActionState.SET_UP: f"SET UP, START NOTHING YET, {name}:",
        ActionState.COVERED: f"COVERS STAY ON, NOTHING TO START, {name}:",
    }
    return again + verbs[facts.lead]


def _laid_when(facts: NightFacts) -> str:
    """Return by when what is laid by day must lie; an hour in its own letters."""
    when = "before dark"
    if facts.plan is not None:
        when = by_when(facts.plan, facts.wording)
    before, _, hour = when.partition(" ")
    hour = hour if hour[:1].isdigit() else hour.upper()
    return f"{before.upper()} {hour}".rstrip()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """What is laid before dark, or one start; of lower rank what stays longer."""

    rank: int
    start: StartWords | None = None
    laid: tuple[Option, ...] = ()

    @property
    def block(self) -> str:
        """Its block; empty where it is of several."""
        blocks = {item.block for item in self.laid}
        if self.start is not None:
            blocks = {self.start.block}
        return blocks.pop() if len(blocks) == 1 else ""

    def words(self, facts: NightFacts, short: Short) -> str:
        """Return what is done, where, by when and at which reading."""
        if self.start is not None:
            return _start(self.start, facts, short)
        assert facts.plan is not None  # noqa: S101 - it is of the plan
        laid = ", ".join(f"{short(i.equipment)} {short(i.block)}" for i in self.laid)
        when = by_when(facts.plan, facts.wording).replace("before", "by")
        return f"{capital(when)}: {laid}."


def _jobs(facts: NightFacts, person: Person, *, has_link: bool) -> list[_Job]:
    """Return what is laid before dark and what is started; own jobs first.

    Beside what is laid a start of the night stands on the page behind the link.
    """
    plan = facts.plan
    if facts.subject is Subject.OUTLOOK or plan is None or facts.is_taken_back:
        return []
    dusk = to_be_laid(plan)
    starts = first_starts(plan, facts.wording, facts.due)
    if facts.subject is Subject.PREPARE:
        starts = _all_starts(facts)
    own = _own_pairs(plan.tasks, person)
    ordered = sorted(starts, key=lambda item: _pair(item) not in own)
    first, later = (2, 3) if dusk and has_link else (0, 2)
    if facts.subject is Subject.ACT:
        first = later = 0
    laid = [_Job(rank=0, laid=tuple(dusk))] if dusk else []
    return [
        *laid,
        *(_Job(rank=later if n else first, start=i) for n, i in enumerate(ordered)),
    ]


def _start(item: StartWords, facts: NightFacts, short: Short) -> str:
    """Return one start in words."""
    is_act = facts.subject is Subject.ACT
    within = "in " * is_act
    what = counted(short(item.equipment), item.units * is_act)
    words = f"{what} {within}{short(item.block)} {item.when}"
    if item.reading_c is not None and is_act:
        words += f", sooner at {facts.wording.temperature(item.reading_c)}"
    words += item.limit * is_act
    return f"{words}."


def _order(facts: NightFacts) -> list[Part]:
    """Return in which order blocks need their start, for a night without a plan."""
    is_outlook = facts.subject is Subject.OUTLOOK
    if facts.plan is not None or is_outlook or not facts.night.at_risk:
        return []
    return [] if facts.is_taken_back else [Part(1, f"Start order: {facts.order}.")]


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


def _cold(
    facts: NightFacts, words: TextWords, short: Short, named: set[str]
) -> list[Part]:
    """Return how cold it gets where, when that does harm, and how sure it is.

    `named` are the blocks that stand before it in any case: the only one is not named
    again where room is short.
    """
    worst = facts.night.likeliest
    if worst is None:
        return []
    air = facts.wording.temperature(worst.site_low_c)
    harm = harm_hours(facts.night, facts.wording)
    known = ", maybe longer" if words.has_gap else ""
    if facts.night.missing:
        known = ", maybe colder and longer"
    harm = f"harm {harm}" if harm[:1].isdigit() else harm
    there = f"{air} in {short(worst.block)}, {harm}{known}."
    brief = f"{air}, {harm}{known}." if named == {worst.block} else there
    parts = [Part(0, there, brief)]
    if facts.subject is Subject.OUTLOOK and worst.probability is not None:
        odds = least_chance(facts.night, chance(worst.probability))
        parts.append(Part(1, f"Chance {odds}."))
    if words.error != "unknown":
        parts.append(Part(4, f"Give or take {words.error}."))
    return parts


def _not_to_use(items: Iterable[Option], short: Short) -> list[str]:
    """Return what not to do: what may run already must not be stopped by a "not".

    What is forbidden in one block for one reason is told together.
    """
    alike: dict[tuple[str, str, bool], list[Option]] = {}
    for item in items:
        is_on = item.may_run and not item.method.burns
        why = brief_ground(item.grounds[0])
        alike.setdefault((item.block, why, is_on), []).append(item)
    told = []
    for (block, why, is_on), same in alike.items():
        names = ", ".join(short(item.equipment) for item in same)
        what = f"{names} in {short(block)}: {why}."
        on = f"DON'T START {what} If on, KEEP ON."
        told.append(on if is_on else f"DO NOT USE {what}")
    return told


def _without(facts: NightFacts, words: TextWords, short: Short) -> list[Part]:
    """Return what must not be used, and what is given up."""
    plan = facts.plan
    if plan is None or facts.subject is Subject.OUTLOOK:
        return []
    told = set(words.back.pairs) if words.back is not None else set()
    forbidden = (
        item
        for item in each_once(filter(is_forbidden, plan.refused))
        if item.pair not in told and not item.is_kept_ready
    )
    parts = [Part(2, words) for words in _not_to_use(forbidden, short)]
    parts += [
        Part(
            1,
            f"Set up {short(item.equipment)} {short(item.block)}, start only if told.",
        )
        for item in plan.kept_ready
    ]
    off = () if plan.is_dark else each_once(filter(is_blown_off, plan.refused))
    parts += [Part(2, f"Leave {short(i.equipment)} off: too windy.") for i in off]
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
