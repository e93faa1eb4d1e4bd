"""Few words for what a plan does in a block, what it forbids, and a chance."""

from bisect import bisect_right
from collections.abc import Sequence

from frostalert.messages.option_words import brief_ground
from frostalert.messages.wording import Wording, counted, span
from frostalert.model.method import Agent, MethodKind, RefusalReason
from frostalert.model.plan import Option, Task, TaskKind, Verdict, WaterFacts

_CHANCES = (
    (0.0, "very unlikely"),
    (0.04, "about one in twenty"),
    (0.075, "about one in ten"),
    (0.14, "about one in six"),
    (0.18, "about one in five"),
    (0.225, "about one in four"),
    (0.29, "about one in three"),
    (0.38, "two in five"),
    (0.45, "an even chance"),
    (0.55, "three in five"),
    (0.63, "two in three"),
    (0.71, "three in four"),
    (0.78, "four in five"),
    (0.85, "nine in ten"),
    (0.95, "almost certain"),
)
_TASKS = {
    TaskKind.SET_UP: "Set up {equipment} in {blocks}",
    TaskKind.THERMOMETERS: "Hang thermometers, one in the coldest spot; wick ready",
    TaskKind.READ: "Read air and wet bulb{expected}",
    TaskKind.START: "Start {equipment} in {blocks}, running {when}",
    TaskKind.ROUND: "{equipment}: go round every {every} until {deadline}",
    TaskKind.LOOK: "Check {equipment} every {every} until {deadline}",
    TaskKind.STOP: "Keep water ON to this hour at least; stop it only by what you "
    "measure",
    TaskKind.HEAT_OUT: "Heat off, if the air stays above {freezing}",
    TaskKind.COVERS_OFF: "Covers off, if it stays above {freezing}",
    TaskKind.DRAIN: "Once the water is off, drain lines and pump",
    TaskKind.COUNT: "Cut buds and count",
}
_CAUTIONS = {
    MethodKind.OVER_PLANT_WATER: "Ice breaks limbs: stay out from under them, keep "
    "power cords dry.",
    MethodKind.HAND_WATER: "Ice breaks limbs: stay out from under them.",
    MethodKind.FIRE: "Heat: only where local rules allow it, never alone or in wind, "
    "refuel cold; carbon monoxide kills under a roof.",
    MethodKind.COVER: "Covers: edges held down; no flame or lamp near the cloth.",
    MethodKind.FAN: "Fan: only in calm air that is warmer above; off in wind or "
    "freezing fog, when ice breaks blades.",
    MethodKind.UNDER_PLANT_WATER: "Water under plants: on until the ice melts; keep "
    "power cords dry.",
    MethodKind.LAMP: "Lamps: fixed, off the cloth, outdoor cords.",
}


def chance_in_words(probability: float) -> str:
    """Return a chance as people say it.

    Examples
    --------
    >>> chance_in_words(0.26), chance_in_words(0.49), chance_in_words(0.97)
    ('about one in four', 'an even chance', 'almost certain')
    >>> chance_in_words(0.0), chance_in_words(0.034)
    ('very unlikely', 'very unlikely')
    >>> chance_in_words(0.707), chance_in_words(0.949)
    ('three in four', 'almost certain')
    """
    # By the percent that stands beside it: words and figure must not part.
    shown = round(probability, 2)
    place = bisect_right([limit for limit, _ in _CHANCES], shown) - 1
    return _CHANCES[max(place, 0)][1]


def done_words(option: Option, wording: Wording) -> str:
    """Return what is done, how far it holds, and by when it must run."""
    beside = "" if option.together is None else f" with {option.together.partner}"
    what = counted(option.equipment, option.units)
    words = f"{what}{beside}: {verdict_words(option)}"
    if option.method.is_before_dark or option.start_utc is None:
        return f"{words}."
    if option.is_running:
        return f"{words}, running."
    if option.start_utc <= wording.now_utc:
        return f"{words}, start now."
    words += f", running by {wording.clock(option.start_utc)}"
    reading = reading_c(option)
    if reading is not None:
        words += f", sooner at {wording.temperature(reading)}"
    if option.not_dry_after_utc is not None:
        words += f", NOT on dry buds after {wording.clock(option.not_dry_after_utc)}"
    return f"{words}."


def reading_c(option: Option) -> float | None:
    """Return the thermometer's reading at which an option starts. [degC]"""
    if isinstance(option.facts, WaterFacts):
        return option.facts.start_air_c
    return option.start_air_c


def verdict_words(option: Option) -> str:
    """Return how far it holds."""
    verdict = option.verdict
    if option.together is not None:
        verdict = option.together.verdict
    if verdict in (Verdict.HOLDS, Verdict.ENOUGH):
        return "should hold"
    if verdict is Verdict.NOT_ESTIMATED:
        return "not estimated"
    return verdict.value


def brief_task(task: Task, wording: Wording, *, is_late: bool = False) -> str:
    """Return what is to be done, in one short line; at once, if its hour went by."""
    freezing = wording.temperature(0.0)
    words = _TASKS[task.kind]
    if task.is_kept_ready:
        words += "; start it only if we say so"
    elif task.is_before_wind:
        words = "Heat off by {deadline}, before the wind comes up"
    elif task.is_if_begun:
        words = "If it runs, " + words[0].lower() + words[1:]
    elif task.is_if_called:
        words += ", if we call"
    return words.format(
        equipment=counted(task.equipment, task.units),
        blocks=", ".join(task.blocks),
        deadline=wording.clock(task.deadline_utc),
        when="at once" if is_late else f"by {wording.clock(task.deadline_utc)}",
        every="" if task.every is None else span(task.every),
        expected=_expected(task, wording),
        freezing=freezing,
    )


def brief_task_name(task: Task) -> str:
    """Return what another's job is about, in a few words."""
    verb = {TaskKind.LOOK: "check", TaskKind.ROUND: "go round with"}.get(
        task.kind, task.kind.value
    )
    what = counted(task.equipment, task.units)
    return f"{verb} {what}".strip() + " if we call" * task.is_if_called


def _expected(task: Task, wording: Wording) -> str:
    """Return what the forecast has for a reading, and what to do if it is colder."""
    if task.expected_air_c is None:
        return ""
    air = f"; forecast air {wording.temperature(task.expected_air_c)}"
    return f"{air}: if colder, start sooner" if task.is_before_starts else air


def is_forbidden(option: Option) -> bool:
    """Return whether a refused option must not be used, and not only would not help."""
    harms = not option.method.harms_when.isdisjoint(option.grounds)
    burns = option.method.agent is Agent.FLAME and option.verdict is Verdict.NOT_TONIGHT
    return harms or burns or option.method.wets_buds


def is_blown_off(option: Option) -> bool:
    """Return whether it is a cover that wind would lift."""
    is_cover = option.method.kind is MethodKind.COVER
    return is_cover and RefusalReason.TOO_WINDY in option.grounds


def refused_words(option: Option, *, is_dark: bool) -> str:
    """Return what must not be done, and why; empty for what only would not help.

    After dark covers may lie already.
    """
    if is_blown_off(option):
        what = "if laid, weigh down" if is_dark else "leave them off, or weigh down"
        return f"{option.equipment}: too windy; {what} the edges all around."
    if not is_forbidden(option):
        return ""
    why = brief_ground(option.grounds[0])
    if option.method.burns:
        return f"Do not light {option.equipment}: {why}."
    if option.is_kept_ready:
        return f"Set up {option.equipment}, start it only if we say so: {why}."
    if option.is_by_chance_alone:
        chance = chance_in_words(_hold_chance(option))
        why = f"{why} ({chance} that it holds)"
    if option.may_run:
        return f"Do not start {option.equipment}: {why}. If it runs, KEEP IT ON."
    return f"Do not use {option.equipment}: {why}."


def _hold_chance(option: Option) -> float:
    """Return how likely refused water would hold."""
    return option.facts.hold_chance if isinstance(option.facts, WaterFacts) else 0.0


def brief_cautions(kinds: Sequence[MethodKind]) -> list[str]:
    """Return the cautions of some kinds of method, each in one line and once."""
    told = [_CAUTIONS[kind] for kind in kinds if kind in _CAUTIONS]
    if MethodKind.OVER_PLANT_WATER in kinds:
        # It says of ice what water by hand would say again.
        told = [item for item in told if item != _CAUTIONS[MethodKind.HAND_WATER]]
    return list(dict.fromkeys(told))
