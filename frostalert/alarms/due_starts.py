"""Calls at the hour of each start: a night's first call is not the last one's hour."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta

from frostalert.alarms.answers import calls_for_hands, is_standing
from frostalert.alarms.change import told_as_well
from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.notice import (
    TO_OTHERS,
    Decision,
    NightDecision,
    NightHistory,
    Subject,
    Why,
)
from frostalert.model.plan import Pair, Plan

DUE_WITHIN = timedelta(minutes=10)
"""How long before its hour a start is called. Common practice, no source."""
CALLED_WITH = timedelta(minutes=20)
"""A start that is no further away goes along with what is said anyway.

Of two starts a minute apart people hear in one message. Our own rule.
"""
_SOON = timedelta(minutes=1)
_NEW = frozenset({Why.TIER_ROSE, Why.GOT_WORSE, Why.CALLED_AGAIN})


def with_due_starts(
    decision: Decision,
    plans: Mapping[date, Plan],
    told: Mapping[date, NightHistory],
    assessment: Assessment,
) -> Decision:
    """Return a decision that also calls for the starts whose hour has come.

    Parameters
    ----------
    decision : Decision
        What is to be said.
    plans : mapping of date to Plan
        What is to be started, and when at the latest.
    told : mapping of date to NightHistory
        What was said before.
    assessment : Assessment
        What is found now.

    Returns
    -------
    Decision
        Each start of a night is called for once, at its hour; the next look is no later
        than the next of them.

    References
    ----------
    .. [1] Common practice, no source: who sleeps until his own start needs a call then.
    """
    now_utc = assessment.issued_utc
    records = {record.night: record for record in assessment.nights}
    nights = tuple(
        _called(
            item,
            plans[item.night],
            told.get(item.night),
            records[item.night],
            now_utc,
        )
        if item.night in plans
        else item
        for item in decision.nights
    )
    hours = [
        task.start_utc - DUE_WITHIN
        for item in nights
        if item.night in plans and calls_for_hands(item.remember)
        for task in plans[item.night].starts
        if task.pair not in item.remember.called_starts
    ]
    # What a start's call went before is said at the next look.
    went_before = any(
        item.why in TO_OTHERS and later.why is Why.START_IS_DUE
        for item, later in zip(decision.nights, nights, strict=True)
    )
    look = min([decision.next_look_utc, *hours, *[now_utc] * went_before])
    # What is due and not called now waits for a message that was to be said before it.
    return replace(decision, nights=nights, next_look_utc=max(look, now_utc + _SOON))


def _called(
    item: NightDecision,
    plan: Plan,
    before: NightHistory | None,
    record: NightAssessment,
    now_utc: datetime,
) -> NightDecision:
    """Return a night's decision with the starts that are due."""
    named = _starts_within(plan, now_utc + CALLED_WITH)
    due = set(_starts_within(plan, now_utc + DUE_WITHIN))
    called = set(item.remember.called_starts)
    if item.why in _NEW:
        is_call = item.say is Subject.ACT or bool(called.intersection(named))
        is_call = is_call or (item.say is Subject.PREPARE and bool(due))
        return _with_call(item, named, before, now_utc) if is_call else item
    held = _before_others(item, before)
    if held is not None and not due <= called:
        return _call_now(held, named, record, now_utc)
    if item.say is Subject.ACT and item.why in TO_OTHERS:
        return replace(item, due_starts=named)
    return item


def _starts_within(plan: Plan, end_utc: datetime) -> tuple[Pair, ...]:
    """Return what must begin before a moment, whether it was called for or not.

    A message takes the place of an earlier one about the night that still waits to be
    sent: it must carry that one's call. What runs is no start of the plan any more.
    """
    pairs = {task.pair for task in plan.starts if task.start_utc <= end_utc}
    return tuple(sorted(pairs))


def _with_call(
    item: NightDecision,
    named: tuple[Pair, ...],
    before: NightHistory | None,
    now_utc: datetime,
) -> NightDecision:
    """Return news about a night together with the call for its starts.

    By its tier alone the night may only be one to prepare for, where a start needs
    long: said so, it would take the place of "start now" or be followed by it.
    """
    past = item.remember
    was_told = before is not None and not before.is_closed and before.told is Tier.ACT
    is_raised = item.say is not Subject.ACT
    return replace(
        item,
        say=Subject.ACT,
        due_starts=named,
        remember=replace(
            past,
            told=Tier.ACT,
            said=Tier.ACT,
            start_since_utc=past.start_since_utc or now_utc,
            called_starts=_with(past.called_starts, named),
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
    named: tuple[Pair, ...],
    record: NightAssessment,
    now_utc: datetime,
) -> NightDecision:
    """Return a night of which nothing else is said as a call for its starts."""
    past = told_as_well(item.remember, record)
    return replace(
        item,
        say=Subject.ACT,
        why=Why.START_IS_DUE,
        due_starts=named,
        remember=replace(
            past,
            told=Tier.ACT,
            said=Tier.ACT,
            revision=past.revision + 1,
            said_utc=now_utc,
            # Who acts on the night already is not asked anew for each start.
            said_revision=past.said_revision
            if past.said is Tier.ACT
            else past.revision + 1,
            start_since_utc=past.start_since_utc or now_utc,
            called_starts=_with(past.called_starts, named),
        ),
        is_waking=past.told is not Tier.ACT,
        turns=past.turns,
    )


def _with(pairs: tuple[Pair, ...], more: tuple[Pair, ...]) -> tuple[Pair, ...]:
    """Return equipment and block added to others."""
    return tuple(sorted({*pairs, *more}))
