"""A warning does not wait long for its plan: the plan follows when it is there."""

from dataclasses import replace

from frostalert.alarms.answers import is_standing
from frostalert.alarms.calling import SUBJECTS
from frostalert.alarms.look import Look
from frostalert.model.notice import Decision, NightDecision, Reason, Subject


def send_plans_owed(decision: Decision, look: Look) -> Decision:
    """Say a night again whose warning went out bare, once its plan is there.

    References
    ----------
    .. [1] Common practice, no source: a bare warning in time is worth more than a plan
       that comes too late.
    """
    return replace(
        decision, nights=tuple(_with_plan(item, look) for item in decision.nights)
    )


def _with_plan(item: NightDecision, look: Look) -> NightDecision:
    """Return a night's decision, said again if its plan is owed and there."""
    past = item.remember
    subject = SUBJECTS.get(past.said)
    if not past.is_plan_owed or not is_standing(item) or subject is None:
        return item
    if look.plan_of(item.night) is None:
        return item
    return replace(
        item,
        say=subject,
        why=Reason.PLAN_FOLLOWS,
        # Nobody is asked anew: who acts on the night goes on acting.
        remember=replace(past, revision=past.revision + 1, is_plan_owed=False),
        turns=past.turns,
    )


def note_plans_owed(decision: Decision, look: Look) -> Decision:
    """Remember which warnings of this look go out without their plan."""
    return replace(
        decision, nights=tuple(_noted(item, look) for item in decision.nights)
    )


def _noted(item: NightDecision, look: Look) -> NightDecision:
    """Return a night's decision that remembers whether its plan is owed."""
    if item.say not in (Subject.PREPARE, Subject.ACT):
        return item
    is_owed = look.plan_of(item.night) is None and look.is_plan_late(item.night)
    return replace(item, remember=replace(item.remember, is_plan_owed=is_owed))
