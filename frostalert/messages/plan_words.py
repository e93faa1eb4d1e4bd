"""A plan in words: what the mail, the terminal and the what-if show."""

from dataclasses import dataclass
from datetime import timedelta

from frostalert.messages.household_words import household_text
from frostalert.messages.lead_words import if_it_still_runs
from frostalert.messages.option_words import (
    ChoiceView,
    choice_view,
    each_once,
    passed_over_words,
    refusal_words,
)
from frostalert.messages.render import render_plan
from frostalert.messages.task_words import task_lines
from frostalert.messages.water_words import (
    keep_water_on,
    snow_line,
    start_table,
    tank_words,
)
from frostalert.messages.wording import Wording, counted
from frostalert.model.heat_side import HeatPlacement, HeatSide
from frostalert.model.plan import (
    Budget,
    Plan,
    Resource,
    UnprotectedBlock,
)
from frostalert.model.site import Farm

_READY_WORDS = {
    "pump": "Dry run of pump, pipes and every nozzle: not noted this season. Do one by "
    "daylight, then set pump_tried under [readiness].",
    "thermometers": "Thermometers in ice water (they must read 32 F, 0 C): not noted "
    "this season. Check them, then set thermometers_checked.",
    "wake-up": "A message that wakes you at night: not noted this season. Send "
    "frostalert test-message to yourself, then set wake_up_tried.",
}
_NEXT_NIGHT = timedelta(hours=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanView:
    """A plan in words; each part may be empty."""

    title: str
    choices: tuple[ChoiceView, ...]
    nothing: str
    not_tonight: tuple[str, ...]
    passed_over: tuple[str, ...]
    left_out: tuple[str, ...]
    budgets: tuple[str, ...]
    tasks: tuple[str, ...]
    dropped: tuple[str, ...]
    done: tuple[str, ...]
    where: str
    ready: tuple[str, ...]
    ahead: tuple[str, ...]
    start: str
    stop: str
    beyond: str
    household: tuple[str, ...]
    snow: str


def plan_view(plan: Plan, farm: Farm, wording: Wording) -> PlanView:
    """Return a plan in words."""
    blocks = {block.name: block for block in farm.blocks}
    return PlanView(
        title=_title(plan),
        choices=tuple(
            choice_view(option, blocks[option.block], wording)
            for option in (*plan.chosen, *plan.listed)
        ),
        nothing="" if plan.chosen or plan.listed else _nothing(plan),
        not_tonight=tuple(
            f"{item.equipment} in {item.block}: {refusal_words(item, wording)}"
            for item in each_once(plan.refused)
        ),
        passed_over=tuple(map(passed_over_words, plan.passed_over)),
        left_out=tuple(_left_out(item, plan, wording) for item in plan.left_out),
        budgets=_supplies(plan, wording),
        tasks=task_lines(plan.tasks, wording),
        dropped=task_lines(plan.dropped, wording, with_hours=False),
        done=task_lines(plan.taken_as_done, wording, with_hours=False),
        where=_where(plan.where, wording) if plan.where else "",
        ready=tuple(_READY_WORDS[name] for name in plan.unready),
        ahead=plan.measures_ahead,
        start=start_table(plan, wording),
        stop=stop_words(plan, wording),
        beyond=beyond_words(plan, wording),
        household=household_text(plan, wording),
        snow=snow_line(plan.snowed_blossom),
    )


def plan_text(plan: Plan, farm: Farm, wording: Wording) -> str:
    """Return a whole plan as plain text."""
    view = plan_view(plan, farm, wording)
    return render_plan(view)


def compared_lines(plan: Plan, other: Plan, wording: Wording) -> tuple[str, ...]:
    """Return what another plan does otherwise, block by block."""
    blocks = dict.fromkeys(item.block for item in (*plan.chosen, *other.chosen))
    lines = [f"{name}: {_done(plan, name)} -> {_done(other, name)}" for name in blocks]
    lost = sum(item.worth for item in plan.chosen)
    kept = sum(item.worth for item in other.chosen)
    if lost > 0.0:
        share = f"{100 * kept / lost:.0f} %"
        is_less = kept <= lost
        lines.append(
            f"It saves {share} of what your own plan saves."
            if is_less
            else f"It saves {share} of what the plan saves."
        )
    lines += [_budget(item, wording) for item in other.budgets]
    lines += [f"Left out: {_left_out(item, other, wording)}" for item in other.left_out]
    lines += [
        f"No longer fits: {line}"
        for line in task_lines(other.dropped, wording, with_hours=False)
    ]
    return tuple(lines)


def _done(plan: Plan, block: str) -> str:
    """Return what is done in a block, in few words."""
    done = []
    for option in plan.chosen:
        if option.block == block:
            what = counted(option.equipment, option.units)
            done.append(f"{what}, {option.verdict.value}")
    return " and ".join(done) or "nothing"


def _title(plan: Plan) -> str:
    """Return whom the plan counts with and how it weighs blocks."""
    people = "1 person" if plan.hands == 1 else f"{plan.hands} people"
    assumed = " (assumed: set hands under [supplies])" if plan.are_hands_assumed else ""
    by = "value and priority" if plan.is_by_value else "priority alone"
    return f"Planned for {people}{assumed}; blocks ranked by {by}."


def _nothing(plan: Plan) -> str:
    """Return that nothing works, or that nothing does by this forecast."""
    if plan.kept_ready:
        return "Nothing is to be started by this forecast; set up what may be."
    return "Nothing you have can work tonight."


def _left_out(item: UnprotectedBlock, plan: Plan, wording: Wording) -> str:
    """Return which block gets nothing, and why."""
    return f"{item.block}: {unprotected_words(item, plan, wording)}"


def unprotected_words(item: UnprotectedBlock, plan: Plan, wording: Wording) -> str:
    """Return why a block gets nothing."""
    if plan.is_dark and item.short == (Resource.DAYLIGHT.value,):
        if plan.is_after_sunrise:
            return "covers were due before dark."
        return (
            "covers were due before dark. Laid now, in the dark, they help less, and "
            "nobody has published how much: lay them if hands are free, the coldest "
            "spots first."
        )
    short = f" ({', '.join(item.short)} would run short)" if item.short else ""
    if Resource.DAYLIGHT.value in item.short:
        short += "; what is begun already is worth finishing before dark"
    budgets = "".join(f" {_budget(budget, wording)}" for budget in item.budgets)
    return f"{item.why.value}{short}.{budgets}"


def _supplies(plan: Plan, wording: Wording) -> tuple[str, ...]:
    """Return whether supplies last, and which night gets a tank that two ask for."""
    tank = tank_words(plan, wording)
    # What the next night needs is said once.
    is_told = plan.tank is not None
    lines = [_budget(item, wording, is_next_told=is_told) for item in plan.budgets]
    return (*lines, tank) if tank else tuple(lines)


def _budget(item: Budget, wording: Wording, *, is_next_told: bool = False) -> str:
    """Return whether a supply lasts."""
    needed = wording.amount(item.needed, item.unit)
    until = wording.clock(item.needed_until_utc)
    what = item.what[0].upper() + item.what[1:]
    cold = " on the coldest night in ten"
    if item.at_hand is None:
        return (
            f"{what}: {needed} to {until}{cold}. You have not said how much there is "
            "(water under [supplies])."
        )
    at_hand = wording.amount(item.at_hand, item.unit)
    if item.lasts_until_utc is not None:
        short = wording.amount(item.short, item.unit)
        return (
            f"{what}: lasts until {wording.clock(item.lasts_until_utc)}, needed until "
            f"{until}: short by {short}."
        )
    text = f"{what}: {needed} to {until}{cold}; {at_hand} on hand: enough"
    if item.is_drawn_on:
        text += " if it was refilled"
    if item.short_for_next and not is_next_told:
        more = wording.amount(item.short_for_next, item.unit)
        text += f", but not for the next night, which is at risk too: {more} short"
    if item.is_drawn_on:
        text += "; what the night before used is not taken off"
    elif item.needed_until_utc - wording.now_utc > _NEXT_NIGHT:
        text += "; what nights before it use is not taken off"
    return text + "."


def _where(where: HeatPlacement, wording: Wording) -> str:
    """Return where heat goes."""
    if where.side is None:
        return (
            "Where heat goes: it is not known where the air comes from. Watch smoke, "
            "put heat on that side, and set drift_from under [site]."
        )
    text = f"Heat on the {where.side.value} side: {where.why.value}"
    if where.why is not HeatSide.MEASURED:
        text += " (watch smoke)"
    if where.turns_utc is not None and where.turns_to is not None:
        text += (
            f"; about {wording.clock(where.turns_utc)} it turns to "
            f"{where.turns_to.value}"
        )
    coldest = ", ".join(where.coldest_first)
    return (
        f"{text}. Many small fires around what you protect, no big one, the "
        f"coldest spots first: {coldest}."
    )


def beyond_words(plan: Plan, wording: Wording) -> str:
    """Return what holds for work in blocks that are at risk no longer."""
    if not plan.beyond:
        return ""
    names = ", ".join(f"{equipment} in {block}" for equipment, block in plan.beyond)
    return f"Called for, though no longer at risk: {names}. {if_it_still_runs(wording)}"


def stop_words(plan: Plan, wording: Wording) -> str:
    """Return when water may stop, and what is done then."""
    words = keep_water_on(plan, wording)
    drain = " Then drain the lines: they freeze when the flow stops."
    return words and words + drain
