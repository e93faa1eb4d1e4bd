"""Starts: each called at its hour, revoked where it would do harm, and remembered."""

from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from datetime import datetime, timedelta

from frostalert.alarms.answers import calls_for_hands, is_standing
from frostalert.alarms.calling import SUBJECTS
from frostalert.alarms.change import told_as_well
from frostalert.alarms.look import Look
from frostalert.model.assessment import NightAssessment, Tier
from frostalert.model.method import RefusalReason
from frostalert.model.notice import (
    TO_OTHERS,
    Decision,
    NightDecision,
    NightHistory,
    Reason,
    Subject,
)
from frostalert.model.plan import Option, Plan, Task
from frostalert.model.start import Start, StartKey, StartState, starts_by_key

DUE_WITHIN = timedelta(minutes=10)
"""How long before its hour a start is called. Common practice, no source."""
CALLED_WITH = timedelta(minutes=30)
"""A start that is no further away goes along with what is said anyway.

Of two starts a minute apart people hear in one message. A message that begins with
"start now" is told by the same span, so that it is a call. Our own rule.
"""
_NEW = frozenset(
    {Reason.TIER_ROSE, Reason.GOT_WORSE, Reason.CALLED_AGAIN, Reason.PLAN_FOLLOWS}
)


def revoke_starts(decision: Decision, look: Look) -> Decision:
    """Take back calls to start that would do harm, and give back what is good again.

    References
    ----------
    .. [1] Common practice, no source: who was told to light or to water in wind must
       hear of it before they do.
    """
    return replace(
        decision, nights=tuple(_revoked(item, look) for item in decision.nights)
    )


def _revoked(item: NightDecision, look: Look) -> NightDecision:
    """Return a night's decision with the calls to start that no longer hold."""
    is_silent = _was_called(item)
    is_said = item.say is Subject.ACT and item.why not in TO_OTHERS
    plan = look.plan_of(item.night) if is_silent or is_said else None
    if plan is None:
        return item
    past = item.remember
    back = _harmful_now(past, plan, is_news=is_said)
    again = _good_again(past, plan)
    if not back and not again:
        return item
    changed = [
        *(replace(start, state=StartState.REVOKED) for start, _ in back),
        *(_reinstated(start, past) for start, _ in (() if is_said else again)),
    ]
    told = replace(
        item,
        revoked=tuple(option for _, option in back),
        reinstated=tuple(option for _, option in again),
    )
    remember = _with(past, changed)
    if is_said:
        return replace(told, remember=remember)
    return replace(
        told,
        say=SUBJECTS[Tier.ACT],
        why=Reason.TAKEN_BACK if back else Reason.CALLED_AGAIN,
        # Nobody is asked anew: who acts on the night goes on acting on the rest.
        remember=replace(remember, revision=past.revision + 1),
        turns=past.turns,
    )


def _reinstated(start: Start, past: NightHistory) -> Start:
    """Return a start that is called for after all, by the night's next message."""
    was_called = start.called_utc is not None
    return replace(
        start,
        state=StartState.CALLED if was_called else StartState.ANNOUNCED,
        revision=past.revision + 1,
        was_reinstated=True,
    )


def _was_called(item: NightDecision) -> bool:
    """Return whether people were called to start something, and nothing is new.

    Old data take nothing back: what was called for was called for on better ones.
    """
    past = item.remember
    was_called = past.said is Tier.ACT and bool(past.told_starts)
    is_as_told = item.why in (Reason.ALREADY_TOLD, Reason.JUST_CALLED)
    return was_called and is_standing(item) and is_as_told


def _harmful_now(
    past: NightHistory, plan: Plan, *, is_news: bool
) -> list[tuple[Start, Option]]:
    """Return what people were called to start and would do harm by the plan.

    The last hour of water passes every night: it is spoken of only beside news, by
    which it may have moved before the hour that people were told.
    """
    starts = starts_by_key(past.starts)
    return [
        (starts[option.pair], option)
        for option in plan.refused
        if option.pair in past.told_starts
        and starts[option.pair].state is not StartState.REVOKED
        and (
            _does_harm(option) or (is_news and RefusalReason.TOO_LATE in option.grounds)
        )
    ]


def _good_again(past: NightHistory, plan: Plan) -> list[tuple[Start, Option]]:
    """Return what was revoked and is in the plan, called for again for the first."""
    starts = starts_by_key(past.starts)
    return [
        (starts[option.pair], option)
        for option in plan.chosen
        if option.pair in starts
        and starts[option.pair].state is StartState.REVOKED
        and not option.is_running
        # A forecast that swings must not send people back and forth.
        and not starts[option.pair].was_reinstated
    ]


def _does_harm(option: Option) -> bool:
    """Return whether beginning what the plan refuses would do more than no good."""
    return not option.method.harms_when.isdisjoint(option.grounds)


def call_starts(decision: Decision, look: Look) -> Decision:
    """Call for the starts whose hour has come.

    References
    ----------
    .. [1] Common practice, no source: who sleeps until his own start needs a call then.
    """
    nights = []
    for item in decision.nights:
        record = look.record(item.night)
        plan = look.plan_of(item.night) if _may_call(item, look) else None
        if record is not None and plan is not None:
            item = _called(item, plan, record, look)  # noqa: PLW2901 - a step further
        nights.append(item)
    return replace(decision, nights=tuple(nights))


def _may_call(item: NightDecision, look: Look) -> bool:
    """Return whether a night is one whose starts can be called, or said along."""
    is_news = item.why in _NEW and item.say in (Subject.PREPARE, Subject.ACT)
    return is_news or item.why in TO_OTHERS or is_standing(item)


def _called(
    item: NightDecision, plan: Plan, record: NightAssessment, look: Look
) -> NightDecision:
    """Return a night's decision with the starts that are due."""
    now = look.now_utc
    called = {start.key for start in item.remember.starts if start.called_utc}
    worth = _worth_calling(plan, record, called)
    named = _starts_within(worth, plan, now + CALLED_WITH, called)
    soon = _starts_within(worth, plan, now + DUE_WITHIN, called)
    due = {task.pair for task in soon}
    if item.why in _NEW:
        is_call = item.say is Subject.ACT
        is_call = is_call or any(task.pair in called for task in named)
        is_call = is_call or (item.say is Subject.PREPARE and bool(due))
        return _with_call(item, named, look) if is_call else item
    before = look.told.get(item.night)
    held = _before_others(item, before)
    if held is not None and not due <= called:
        return replace(
            _call_now(held, named, record, now),
            was_put_off=item.why if item.why in TO_OTHERS else None,
        )
    if item.say is Subject.ACT and item.why in TO_OTHERS:
        # A start that nobody answered travels with what is passed on.
        return replace(item, due_starts=tuple(task.pair for task in named))
    return item


def _worth_calling(
    plan: Plan, record: NightAssessment, called: AbstractSet[StartKey]
) -> tuple[Task, ...]:
    """Return the starts of blocks whose night is worth hands, and those called before.

    What people were told to start goes on: it is not called off by a few percent.
    """
    blocks = {block.block for block in record.blocks if block.calls_hands}
    return tuple(
        task
        for task in plan.starts
        if task.pair in called or blocks.intersection(task.blocks)
    )


def _starts_within(
    starts: Sequence[Task],
    plan: Plan,
    end_utc: datetime,
    called: AbstractSet[StartKey],
) -> tuple[Task, ...]:
    """Return what must begin before a moment, the first due of what is new first.

    A message takes the place of an earlier one about the night that still waits to be
    sent: it must carry that one's call. What runs is no start of the plan any more.
    """
    tasks = [task for task in starts if plan.begin_utc(task) <= end_utc]
    tasks.sort(key=lambda task: (task.pair in called, task.deadline_utc, task.pair))
    return tuple(tasks)


def _with_call(
    item: NightDecision, named: tuple[Task, ...], look: Look
) -> NightDecision:
    """Return news about a night together with the call for its starts.

    By its tier alone the night may only be one to prepare for, where a start needs
    long: said so, it would take the place of "start now" or be followed by it.
    """
    past, before = item.remember, look.told.get(item.night)
    was_told = before is not None and not before.is_closed and before.told is Tier.ACT
    is_raised = item.say is not Subject.ACT
    remember = _with_calls(past, named, look.now_utc)
    return replace(
        item,
        say=Subject.ACT,
        due_starts=tuple(task.pair for task in named),
        remember=replace(
            remember,
            told=Tier.ACT,
            said=Tier.ACT,
            start_since_utc=past.start_since_utc or look.now_utc,
        ),
        is_waking=not was_told if is_raised else item.is_waking,
    )


def _before_others(
    item: NightDecision, before: NightHistory | None
) -> NightDecision | None:
    """Return a night as it stands before others are told of it; None if there is news.

    A start is everybody's call and has its hour. What is passed on a minute after it
    names the start too, so that nobody has two calls in that minute.
    """
    if item.why not in TO_OTHERS or before is None:
        return item if is_standing(item) else None
    remember = replace(
        item.remember, called_turn=before.called_turn, called_utc=before.called_utc
    )
    is_called = calls_for_hands(remember)
    return replace(item, remember=remember, people=()) if is_called else None


def _call_now(
    item: NightDecision,
    named: tuple[Task, ...],
    record: NightAssessment,
    now_utc: datetime,
) -> NightDecision:
    """Return a night of which nothing else is said as a call for its starts."""
    past = told_as_well(item.remember, record)
    revision = past.revision + 1
    remember = replace(
        past,
        told=Tier.ACT,
        said=Tier.ACT,
        revision=revision,
        said_utc=now_utc,
        # Who acts on the night already is not asked anew for each start.
        said_revision=past.said_revision if past.said is Tier.ACT else revision,
        start_since_utc=past.start_since_utc or now_utc,
    )
    return replace(
        item,
        say=Subject.ACT,
        why=Reason.START_IS_DUE,
        due_starts=tuple(task.pair for task in named),
        remember=_with_calls(remember, named, now_utc),
        is_waking=past.told is not Tier.ACT,
        turns=past.turns,
    )


def _with_calls(
    past: NightHistory, named: tuple[Task, ...], now_utc: datetime
) -> NightHistory:
    """Return what is remembered once some starts were called at their hour."""
    called = []
    for task in named:
        start = past.start(task.pair) or Start(
            key=task.pair, state=StartState.CALLED, planned_utc=now_utc
        )
        is_first = start.called_utc is None or start.state is StartState.REVOKED
        called.append(
            replace(
                start,
                state=StartState.CALLED,
                called_utc=now_utc if is_first else start.called_utc,
                revision=past.revision if is_first else start.revision,
                begin_utc=task.start_utc,
                run_by_utc=task.deadline_utc,
            )
        )
    return _with(past, called)


def remember_starts(decision: Decision, look: Look) -> Decision:
    """Remember what the messages of this look told people to set up and to start."""
    return replace(
        decision, nights=tuple(_remembered(item, look) for item in decision.nights)
    )


def _remembered(item: NightDecision, look: Look) -> NightDecision:
    """Return a night's decision with what its message tells people to do."""
    if item.say not in (Subject.PREPARE, Subject.ACT):
        return item
    plan = look.plan_of(item.night)
    if plan is None:
        return item
    tasks = {task.pair: task for task in plan.starts}
    known = starts_by_key(item.remember.starts)
    told = [
        _told(option, known.get(option.pair), tasks.get(option.pair), item, look)
        for option in plan.chosen
    ]
    ready = [
        Start(key=option.pair, state=StartState.PLANNED, planned_utc=look.now_utc)
        for option in plan.kept_ready
        if option.pair not in known
    ]
    return replace(item, remember=_with(item.remember, [*told, *ready]))


def _told(
    option: Option,
    before: Start | None,
    task: Task | None,
    item: NightDecision,
    look: Look,
) -> Start:
    """Return one start of the plan as people now know it."""
    is_act = item.say is Subject.ACT
    fresh = StartState.ANNOUNCED if is_act else StartState.PLANNED
    start = before or Start(key=option.pair, state=fresh, planned_utc=look.now_utc)
    is_raised = is_act and start.state in (StartState.PLANNED, StartState.REVOKED)
    return replace(
        start,
        state=StartState.ANNOUNCED if is_raised else start.state,
        begin_utc=task.start_utc if task is not None else start.begin_utc,
        run_by_utc=task.deadline_utc if task is not None else start.run_by_utc,
    )


def _with(past: NightHistory, changed: Iterable[Start]) -> NightHistory:
    """Return what is remembered of a night with some starts changed or added."""
    starts: dict[StartKey, Start] = starts_by_key(past.starts)
    starts |= starts_by_key(changed)
    return replace(past, starts=tuple(starts[key] for key in sorted(starts)))
