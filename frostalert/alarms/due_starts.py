"""Calls at the hour of each start: a night's first call is not the last one's hour."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta

from frostalert.alarms.answers import calls_for_hands, is_standing
from frostalert.model.assessment import Tier
from frostalert.model.notice import Decision, NightDecision, Subject, Why
from frostalert.model.plan import Plan

DUE_WITHIN = timedelta(minutes=10)
"""How long before its hour a start is called. Common practice, no source."""
_SOON = timedelta(minutes=1)
_NEW = frozenset({Why.TIER_ROSE, Why.GOT_WORSE, Why.CALLED_AGAIN})


def with_due_starts(
    decision: Decision, plans: Mapping[date, Plan], now_utc: datetime
) -> Decision:
    """Return a decision that also calls for the starts whose hour has come.

    Parameters
    ----------
    decision : Decision
        What is to be said.
    plans : mapping of date to Plan
        What is to be started, and when at the latest.
    now_utc : datetime
        The present moment.

    Returns
    -------
    Decision
        Each start of a night is called for once, at its hour; the next look is no later
        than the next of them.

    References
    ----------
    .. [1] Common practice, no source: who sleeps until his own start needs a call then.
    """
    nights = tuple(
        _called(item, plans.get(item.night), now_utc) for item in decision.nights
    )
    hours = [
        task.start_utc - DUE_WITHIN
        for item in nights
        if item.night in plans and calls_for_hands(item.remember)
        for task in plans[item.night].starts
        if task.pair not in item.remember.called_starts
    ]
    look = min([decision.next_look_utc, *hours])
    # What is due and not called now waits for a message that was to be said before it.
    return replace(decision, nights=nights, next_look_utc=max(look, now_utc + _SOON))


def _called(item: NightDecision, plan: Plan | None, now_utc: datetime) -> NightDecision:
    """Return a night's decision with the starts that are due."""
    is_said = item.say is Subject.ACT and item.why in _NEW
    if plan is None or not (is_said or is_standing(item)):
        return item
    past = item.remember
    due = {
        task.pair
        for task in plan.starts
        if task.start_utc <= now_utc + DUE_WITHIN
        and task.pair not in past.called_starts
    }
    if not due:
        return item
    pairs = tuple(sorted({*past.called_starts, *due}))
    told = replace(item, due_starts=tuple(sorted(due)))
    if is_said:
        return replace(told, remember=replace(past, called_starts=pairs))
    return replace(
        told,
        say=Subject.ACT,
        why=Why.START_IS_DUE,
        remember=replace(
            past,
            told=Tier.ACT,
            said=Tier.ACT,
            revision=past.revision + 1,
            # Who acts on the night already is not asked anew for each start.
            said_revision=past.said_revision
            if past.said is Tier.ACT
            else past.revision + 1,
            start_since_utc=past.start_since_utc or now_utc,
            called_starts=pairs,
        ),
        is_waking=past.told is not Tier.ACT,
        turns=past.turns,
    )
