"""What a plan comes to: whether to start now, what first, and what must go on."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import NamedTuple

from frostalert.agronomy.methods import LOW_PLANT_M
from frostalert.alarms.starts import CALLED_WITH
from frostalert.messages.brief_words import reading_c
from frostalert.messages.wording import Wording, counted
from frostalert.model.assessment import NightAssessment
from frostalert.model.method import Agent
from frostalert.model.plan import (
    Option,
    Plan,
    Resource,
    Task,
    TaskKind,
    UnprotectedReason,
    WaterFacts,
)
from frostalert.model.site import Farm
from frostalert.model.start import StartKey

_EVEN = 0.5
_A_LOOK = timedelta(minutes=15)
"""A call may come this long after its minute: nobody is late by that. Our own."""


class ActionState(StrEnum):
    """What a call to act begins with."""

    START = "start"
    EARLY = "early"
    LATE_COVERS = "late covers"
    KEEP = "keep"
    COVERED = "covered"
    LAY = "lay covers"
    BY_HAND = "by hand"
    SET_UP = "set up"
    KEPT_BACK = "kept back"
    UNSURE = "unsure"
    NOTHING = "nothing"


NO_START = frozenset({ActionState.NOTHING, ActionState.UNSURE, ActionState.KEPT_BACK})
"""Where people can do nothing that is sure to help."""


def action_state(plan: Plan, *, was_called: bool) -> ActionState:
    """Return what a plan leaves people to do at its moment."""
    first = first_start_utc(plan)
    late = [i for i in plan.left_out if Resource.DAYLIGHT.value in i.short]
    if first and first - plan.made_utc <= CALLED_WITH:
        return ActionState.START
    if late and plan.is_dark and not plan.is_after_sunrise:
        return ActionState.LATE_COVERS
    return ActionState.EARLY if first else _without_starts(plan, was_called=was_called)


def _without_starts(plan: Plan, *, was_called: bool) -> ActionState:
    """Return what a plan leaves people to do where nothing is to be started."""
    may_run = bool(plan.begun or plan.beyond) or any(
        item.may_run for item in plan.refused
    )
    running = [i for i in plan.chosen if not i.method.is_before_dark]
    if running or (may_run and was_called):
        return ActionState.KEEP
    if plan.kept_ready:
        return ActionState.SET_UP
    if to_be_laid(plan):
        return ActionState.LAY
    if plan.household is not None and not plan.household.is_laid:
        return ActionState.BY_HAND
    is_covered = bool(
        plan.chosen or plan.listed or plan.taken_as_done or plan.household
    )
    if is_covered:
        return ActionState.COVERED
    return _hopeless(plan)


def _hopeless(plan: Plan) -> ActionState:
    """Return how it is that nothing is to be done."""
    if any(item.why is UnprotectedReason.KEPT_BACK for item in plan.left_out):
        return ActionState.KEPT_BACK
    is_close = any(map(_may_well_hold, plan.refused))
    return ActionState.UNSURE if is_close else ActionState.NOTHING


def to_be_laid(plan: Plan) -> list[Option]:
    """Return the covers still to be laid: they do not stay on before that.

    By the plan's jobs alone: what lies by now is no job, for mail and text alike.
    """
    set_up = {task.equipment for task in plan.tasks if task.kind is TaskKind.SET_UP}
    return [
        item
        for item in plan.chosen
        if item.method.is_before_dark and item.equipment in set_up
    ]


def _may_well_hold(item: Option) -> bool:
    """Return whether refused water is likelier to hold than not."""
    facts = item.facts
    is_likely = isinstance(facts, WaterFacts) and facts.hold_chance >= _EVEN
    return is_likely and item.is_by_chance_alone


def first_job(plan: Plan, wording: Wording) -> str:
    """Return the hour of a plan's first job, or "now".

    How long it takes to ready what is only listed nobody has told: that is now.
    """
    if plan.listed:
        return "now"
    first = min((task.start_utc for task in plan.tasks), default=plan.made_utc)
    return "now" if first <= plan.made_utc else wording.clock(first)


def by_when(plan: Plan, wording: Wording) -> str:
    """Return by when what is laid by day must lie: before dark, or an earlier harm.

    Once that harm's hour has come it is now: nobody can keep an hour that has gone by.
    """
    harm = plan.first_harm_utc
    if harm is None or not plan.is_harm_by_day:
        return "before dark"
    return "now" if harm <= plan.made_utc else f"before {wording.clock(harm)}"


def first_start_utc(plan: Plan) -> datetime | None:
    """Return when people must be ready to begin what is started in the night."""
    return min(map(plan.begin_utc, plan.starts), default=None)


def ready_by_utc(plan: Plan, night: NightAssessment) -> datetime | None:
    """Return the hour to be ready by: never one that lies after the first harm."""
    ready = first_start_utc(plan) or plan.sunset_utc
    harm = [b.danger_start_utc for b in night.at_risk if b.danger_start_utc]
    first_harm = max(min(harm, default=plan.made_utc), plan.made_utc)
    return first_harm if ready is None else min(ready, first_harm)


@dataclass(frozen=True, slots=True, kw_only=True)
class StartWords:
    """One start: what, how many, where, by when, at which reading [degC], how late."""

    method: str
    equipment: str
    units: int
    block: str
    when: str
    limit: str
    reading_c: float | None

    @property
    def what(self) -> str:
        """Its equipment, with how many of it where they are counted."""
        return counted(self.equipment, self.units)


def first_starts(
    plan: Plan, wording: Wording, due: Collection[StartKey] = ()
) -> tuple[StartWords, ...]:
    """Return what must be started first in the night, for a text message."""
    starts = sorted(plan.starts, key=lambda task: task.deadline_utc)
    # In the order of the call: where room is short the last is left out.
    order = {key: place for place, key in enumerate(due)}
    called = [task for task in starts if task.pair in order]
    named = sorted(called, key=lambda task: order[task.pair]) or starts[:1]
    done = _by_pair(plan)
    return tuple(_start_words(done[task.pair], task, plan, wording) for task in named)


def is_late_start(task: Task, plan: Plan) -> bool:
    """Return whether a job is a start whose hour has gone by: it is begun at once."""
    if task.kind is not TaskKind.START:
        return False
    return _is_late(_by_pair(plan)[task.pair], task, plan)


def _by_pair(plan: Plan) -> dict[StartKey, Option]:
    """Return what is done or listed, by its equipment and block."""
    return {item.pair: item for item in (*plan.listed, *plan.chosen)}


def _start_words(
    option: Option, task: Task, plan: Plan, wording: Wording
) -> StartWords:
    """Return what is to be started by when."""
    is_late = _is_late(option, task, plan)
    when = "at once" if is_late else f"by {wording.clock(task.deadline_utc)}"
    latest, limit = option.last_dry_start_utc, ""
    if latest is not None and latest <= plan.made_utc:
        # It may still be begun only because buds drip from rain.
        limit = "; ONLY if buds drip, dry ones would freeze"
    elif latest is not None:
        limit = f", NOT on dry buds after {wording.clock(latest)}"
    return StartWords(
        method=option.method.name,
        equipment=option.equipment,
        units=option.units,
        block=option.block,
        when=when,
        limit=limit,
        # Whoever is late does not wait for a reading that has gone by.
        reading_c=None if is_late else reading_c(option),
    )


def _is_late(option: Option, task: Task, plan: Plan) -> bool:
    """Return whether a start's hour has gone by: the hour left grows with each look."""
    wanted = option.start_utc
    begins = plan.begin_utc(task) <= plan.made_utc
    return begins and wanted is not None and task.deadline_utc - wanted > _A_LOOK


class MayRun(NamedTuple):
    """What may be running, or lying on the plants, after a night."""

    water: bool
    heat: bool
    covers: bool
    sheets: bool

    @property
    def must_be_stopped(self) -> bool:
        """Whether somebody must stop something by what is measured."""
        return self.water or self.heat


def what_may_run(
    called: Collection[StartKey], told_blocks: Collection[str], farm: Farm
) -> MayRun:
    """Return what may run and lie, by what was called for and what there is.

    Where nothing was called for by name, whatever is there may have been begun all the
    same; what is called for and no longer known may be either.
    """
    there = {item.name: item.method for item in farm.equipment}
    own = [*there.values(), *(m for block in farm.blocks for m in block.methods)]
    agents = {item.agent for item in own}
    known = [there.get(equipment) for equipment, _ in called]
    if called:
        agents = {item.agent for item in known if item is not None}
        agents |= {Agent.WATER, Agent.FLAME} if None in known else set()
    told = [block for block in farm.blocks if block.name in told_blocks]
    laid = [item for item in known if item is not None and item.is_before_dark]
    served = {block for _, block in called}
    return MayRun(
        water=Agent.WATER in agents,
        heat=Agent.FLAME in agents,
        covers=bool(laid) or any(block.has_cover for block in told),
        sheets=any(
            block.height_m <= LOW_PLANT_M
            and block.name not in served
            and not block.has_cover
            for block in told
        ),
    )


def if_it_still_runs(wording: Wording) -> str:
    """Return what holds for water and heat once nothing is at risk any more."""
    freezing = wording.temperature(0.0)
    return (
        f"If water still runs: stop it only with a measured wet bulb above {freezing} "
        "and ice melting freely, then drain the lines. If heat still burns: put it out "
        f"once the air among the buds has stayed above {freezing}."
    )
