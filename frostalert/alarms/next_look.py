"""When to look again: the next moment at which time alone changes something."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from frostalert.alarms.answers import (
    calls_for_hands,
    is_answered,
    is_standing,
)
from frostalert.alarms.calling import next_escalation_utc
from frostalert.alarms.look import Look
from frostalert.alarms.policy import SETTLE
from frostalert.alarms.starts import DUE_WITHIN
from frostalert.model.notice import (
    Decision,
    NightDecision,
    Reason,
    Subject,
)

_SOON, _LOOK_EVERY = timedelta(minutes=1), timedelta(hours=1)


def plan_next_look(decision: Decision, look: Look) -> Decision:
    """Plan the next look, within the hour.

    References
    ----------
    .. [1] Common practice, no source.
    """
    now = look.now_utc
    ahead = [moment for moment in _moments(decision, look) if moment > now]
    # What is due and was not said waits for a message that went before it.
    waits = [now] if _is_passed_on(decision) or _is_due(decision, look) else []
    earliest = min([*ahead, *waits, now + _LOOK_EVERY])
    return replace(decision, next_look_utc=max(now + _SOON, earliest))


def _moments(decision: Decision, look: Look) -> Iterator[datetime]:
    """Give the moments at which something may be new without a new forecast."""
    for night in look.assessment.nights:
        times = [night.send_by_utc, night.act_at_utc]
        if night.tier.rank:
            times += [
                night.cold_over_utc,
                night.stop_not_before_utc,
                night.heat_out_utc,
            ]
        yield from (moment for moment in times if moment is not None)
    for item in decision.nights:
        record = look.record(item.night)
        if record is not None and not is_answered(item.remember, look.answers):
            call = next_escalation_utc(
                item.remember, record, look.rules, last_turn=look.last_turn
            )
            yield from [call] if call is not None else []
        if item.remember.said_utc and item.change and item.say is None:
            yield item.remember.said_utc + SETTLE
        yield from _start_hours(item, look)


def _start_hours(item: NightDecision, look: Look) -> Iterator[datetime]:
    """Give the hours at which the starts of a night are to be called."""
    is_said = item.say in (Subject.PREPARE, Subject.ACT)
    if not calls_for_hands(item.remember) or not (is_said or is_standing(item)):
        return
    plan = look.plan_of(item.night)
    if plan is None:
        return
    for task in plan.starts:
        start = item.remember.start(task.pair)
        if start is None or start.called_utc is None:
            yield plan.begin_utc(task) - DUE_WITHIN


def _is_due(decision: Decision, look: Look) -> bool:
    """Return whether a start is due and was not called now."""
    return any(
        hour <= look.now_utc
        for item in decision.nights
        for hour in _start_hours(item, look)
    )


def _is_passed_on(decision: Decision) -> bool:
    """Return whether a night was passed on: that may have gone before other words."""
    return any(
        Reason.NOBODY_ANSWERED in (item.why, item.was_put_off)
        for item in decision.nights
    )
