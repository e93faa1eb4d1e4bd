"""The moments at which the service is killed, and where each kill fell in truth.

Each moment is waited for; where the kill fell is read afterwards from what had come and
what was kept, so that a wait that misses its moment is seen.
"""

import time
from random import Random

from tests.kill_loop.place import Place, wait_for

BEFORE_WORK = "before the service had begun"
BEFORE_MAIL = "begun, no mail under way"
MAIL_UNDER_WAY = "a mail under way"
AFTER_FIRST = "after the first mail had left, others waiting"
ALL_SENT = "all had left"
SENDING = (BEFORE_WORK, BEFORE_MAIL, MAIL_UNDER_WAY, AFTER_FIRST, ALL_SENT)
"""Where a kill can fall while what waits is sent."""
BEFORE_DECISION = "forecast fetched, no decision kept"
BEFORE_SENDING = "decision kept, no message out"
AFTER_SENDING = "decision kept, messages going out"
DECIDING = (BEFORE_DECISION, BEFORE_SENDING, AFTER_SENDING)
"""Where a kill can fall once a forecast came."""
_LONGEST_LOADING_S, _LONGEST_MAIL_S, _LONGEST_STEP_S = 1.5, 0.1, 0.05


def wait_while_sending(place: Place, chance: Random, number: int) -> None:
    """Wait for the moment of a round: loading, a mail under way, the first one gone."""
    moment = number % 3
    if moment == 0:
        time.sleep(chance.uniform(0.0, _LONGEST_LOADING_S))
    elif moment == 1:
        wait_for(place.box.begun.is_set, "a mail under way")
        time.sleep(chance.uniform(0.0, _LONGEST_MAIL_S))
    else:
        wait_for(place.box.arrived.is_set, "a mail that came")
        time.sleep(chance.uniform(0.0, _LONGEST_STEP_S))


def wait_while_deciding(place: Place, chance: Random, number: int) -> None:
    """Wait for the moment of a round: a forecast that came, a decision that is kept."""
    wait_for(place.office.asked.is_set, "the forecast asked for")
    if number % 2 == 0:
        time.sleep(chance.uniform(0.0, _LONGEST_STEP_S))
    else:
        wait_for(lambda: place.calls_kept() > 0, "a decision")


def where_sending(place: Place, *, has_begun: bool, came: int, queued: int) -> str:
    """Return where a kill fell, by what had come of what this round had to send."""
    if not has_begun:
        return BEFORE_WORK
    if came >= queued:
        return ALL_SENT
    if came:
        return AFTER_FIRST
    return MAIL_UNDER_WAY if place.box.begun.is_set() else BEFORE_MAIL


def where_deciding(place: Place) -> str:
    """Return where a kill fell, by what is kept and what had come."""
    if not place.calls_kept():
        return BEFORE_DECISION
    is_out = place.box.arrived.is_set() or place.texts.seen
    return AFTER_SENDING if is_out else BEFORE_SENDING
