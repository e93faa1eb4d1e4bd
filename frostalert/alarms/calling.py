"""When a warning that nobody acknowledges goes on to the next on the list."""

from dataclasses import replace
from datetime import datetime, timedelta

from frostalert.alarms.answers import calls_for_hands, is_answered
from frostalert.alarms.look import Look
from frostalert.model.assessment import NightAssessment, Tier
from frostalert.model.notice import (
    Decision,
    NightDecision,
    NightHistory,
    Reason,
    Subject,
)
from frostalert.model.site import Rules

SUBJECTS = {
    Tier.OUTLOOK: Subject.OUTLOOK,
    Tier.PREPARE: Subject.PREPARE,
    Tier.ACT: Subject.ACT,
}
SHORTEST_WAIT = timedelta(minutes=5)
LONGEST_WAIT = timedelta(hours=1)
_TONIGHT = timedelta(hours=12)
_SHARE = 4
"""A quarter of the time left is waited; common practice, no source."""


def pass_on(decision: Decision, look: Look) -> Decision:
    """Pass on to the next on the list what nobody has answered."""
    nights = []
    for item in decision.nights:
        record = look.record(item.night)
        if record is not None:
            item = _to_the_next(item, record, look)  # noqa: PLW2901 - a step further
        nights.append(item)
    return replace(decision, nights=tuple(nights))


def _to_the_next(
    item: NightDecision, night: NightAssessment, look: Look
) -> NightDecision:
    """Return a night's decision, the warning said to the next on the list if due."""
    past = item.remember
    if item.say is not None:
        # When a message goes out, its answer is waited for from now on.
        return replace(item, remember=_waiting(item, look.now_utc))
    now_utc = look.now_utc
    moment = next_escalation_utc(past, night, look.rules, last_turn=look.last_turn)
    say = _said_to_the_next(item, night)
    if say is None or moment is None or _is_over(night, now_utc):
        return item
    # A call in the time to come was made before the clock was set back.
    is_due = now_utc >= moment or (past.called_utc or now_utc) > now_utc
    if not is_due or is_answered(past, look.answers):
        return item
    turn = past.called_turn + 1
    return replace(
        item,
        say=say,
        why=Reason.NOBODY_ANSWERED,
        # They were told nothing that it could have changed since.
        change=None,
        remember=replace(past, called_turn=turn, called_utc=now_utc),
        is_waking=True,
        turns=(turn,),
    )


def _waiting(item: NightDecision, now_utc: datetime) -> NightHistory:
    """Return what is remembered of a message whose answer is waited for."""
    past = item.remember
    if item.say in SUBJECTS.values():
        return replace(past, called_utc=now_utc)
    if item.say is Subject.CANNOT_JUDGE and not calls_for_hands(past):
        turn = max(past.called_turn, 1)
        return replace(past, called_utc=now_utc, called_turn=turn)
    # Word of bad data does not put off the next call to prepare or to start.
    return past


def _is_over(night: NightAssessment, now_utc: datetime) -> bool:
    """Return whether a night's cold is over: nobody is called to start anything for it.

    Who was called hears in the end what to measure before they stop.
    """
    over = night.cold_over_utc
    is_known = not night.missing and night.tier is Tier.NONE
    return is_known and over is not None and now_utc >= over


def _said_to_the_next(item: NightDecision, night: NightAssessment) -> Subject | None:
    """Return what the next on the list would be told, if anything."""
    said = item.remember.said
    is_held = item.why in (Reason.HELD_ON_BAD_DATA, Reason.WAITING_TO_CLEAR)
    # Who is to act now is called even where the data went bad since.
    is_as_told = item.why in (Reason.ALREADY_TOLD, Reason.JUST_CALLED)
    can_be_told = is_as_told or (is_held and said is Tier.ACT)
    if can_be_told and night.worst is not None and said in SUBJECTS:
        return SUBJECTS[said]
    # What cannot be judged any more is not quiet: somebody has to look for themselves.
    is_blind = item.why is Reason.HELD_ON_BAD_DATA and night.tier is Tier.CANNOT_JUDGE
    return Subject.CANNOT_JUDGE if is_blind else None


def next_escalation_utc(
    past: NightHistory, night: NightAssessment, rules: Rules, *, last_turn: int
) -> datetime | None:
    """Return when the next people on the list are to be called, if any are left.

    References
    ----------
    .. [1] Common practice, no source: a quarter of the time left, at least 5 min.
    """
    called = past.called_utc
    if called is None or past.called_turn >= last_turn:
        return None
    if calls_for_hands(past):
        return called + _wait(past, night, rules)
    is_tonight = night.start_utc - called <= _TONIGHT
    return called + LONGEST_WAIT if past.is_blind and is_tonight else None


def _wait(past: NightHistory, night: NightAssessment, rules: Rules) -> timedelta:
    """Return how long an answer is waited for: the less time is left, the shorter."""
    called = past.called_utc
    if past.said is Tier.ACT:
        latest = night.act_at_utc and night.act_at_utc + rules.set_up
    else:
        latest = night.send_by_utc and night.send_by_utc + rules.notice
    if called is None or latest is None:
        return SHORTEST_WAIT
    share = (latest - called) / _SHARE
    return min(max(share, SHORTEST_WAIT), LONGEST_WAIT)
