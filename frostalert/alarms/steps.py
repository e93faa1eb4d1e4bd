"""The order of a decision: one list of steps, for the service and for replay alike.

Each step is handed the decision so far and the look, and returns the decision.
"""

from collections.abc import Callable
from functools import reduce

from frostalert.alarms.calling import pass_on
from frostalert.alarms.ending import close_past
from frostalert.alarms.episodes import join_episodes
from frostalert.alarms.look import Look
from frostalert.alarms.newcomers import tell_new_recipients
from frostalert.alarms.next_look import plan_next_look
from frostalert.alarms.plans_owed import note_plans_owed, send_plans_owed
from frostalert.alarms.policy import judge_nights
from frostalert.alarms.repeats import hold_repeats
from frostalert.alarms.starts import call_starts, remember_starts, revoke_starts
from frostalert.model.notice import Decision

Step = Callable[[Decision, Look], Decision]

STEPS: tuple[Step, ...] = (
    judge_nights,
    pass_on,
    close_past,
    join_episodes,
    tell_new_recipients,
    send_plans_owed,
    revoke_starts,
    call_starts,
    hold_repeats,
    remember_starts,
    note_plans_owed,
    plan_next_look,
)


def decide(look: Look) -> Decision:
    """Return what is to be said about each night, why, and when to look again.

    Parameters
    ----------
    look : Look
        What is found, and what was said and answered before.

    Returns
    -------
    Decision
        One entry a night, spoken or not.
    """
    # The last step names the next look.
    nothing = Decision(nights=(), next_look_utc=look.now_utc)
    return reduce(lambda decision, step: step(decision, look), STEPS, nothing)
