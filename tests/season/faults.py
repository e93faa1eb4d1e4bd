"""What goes wrong in a season, and when: drawn once from the seed."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

import numpy as np


class FaultKind(StrEnum):
    """What can go wrong."""

    SOURCE_DOWN = "source down"
    SOURCE_WRONG = "source sends no forecast"
    SOURCE_GAP = "hours missing at night"
    SOURCE_STUCK = "an old forecast again and again"
    EMAIL_DOWN = "mail server away"
    EMAIL_REFUSES = "mail log-in refused"
    SMS_DOWN = "text service away"
    SMS_LOSES = "texts taken and lost"
    PERSON_REFUSED = "one mailbox refuses"
    CRASH = "crash"
    CRASH_SENDING = "crash after a message was taken"
    CLOCK_STEP = "clock step"
    DISK_FULL = "disk full"
    FILE_DAMAGED = "file damaged"
    SECOND_DAEMON = "second daemon"
    LINE_DOWN = "line out: forecast, mail and texts"


SOURCE_FAULTS = frozenset(
    {
        FaultKind.SOURCE_DOWN,
        FaultKind.SOURCE_WRONG,
        FaultKind.SOURCE_GAP,
        FaultKind.SOURCE_STUCK,
    }
)
MAIL_FAULTS = frozenset({FaultKind.EMAIL_DOWN, FaultKind.EMAIL_REFUSES})
_TEXTS = frozenset({FaultKind.SMS_DOWN, FaultKind.SMS_LOSES})
# Kind, how many in 120 nights, shortest and longest. [h]
_TABLE = (
    (FaultKind.SOURCE_DOWN, 5, 2.0, 40.0),
    (FaultKind.SOURCE_WRONG, 3, 1.0, 12.0),
    (FaultKind.SOURCE_GAP, 2, 2.0, 10.0),
    (FaultKind.SOURCE_STUCK, 2, 6.0, 40.0),
    (FaultKind.EMAIL_DOWN, 5, 0.5, 6.0),
    (FaultKind.EMAIL_REFUSES, 2, 1.0, 6.0),
    (FaultKind.SMS_DOWN, 5, 0.5, 6.0),
    (FaultKind.SMS_LOSES, 4, 1.0, 8.0),
    (FaultKind.PERSON_REFUSED, 2, 6.0, 48.0),
    (FaultKind.CRASH, 12, 0.0, 1.5),
    (FaultKind.CRASH_SENDING, 8, 24.0, 24.0),
    (FaultKind.CLOCK_STEP, 5, 1.0, 6.0),
    (FaultKind.DISK_FULL, 4, 1.0, 12.0),
    (FaultKind.FILE_DAMAGED, 2, 0.0, 0.5),
    (FaultKind.SECOND_DAEMON, 12, 0.0, 0.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something that goes wrong for a while."""

    kind: FaultKind
    start_utc: datetime
    end_utc: datetime
    size: float


def draw_faults(
    seed: int, start_utc: datetime, end_utc: datetime, nights: int
) -> list[Fault]:
    """Return a season's faults in order; one channel is always left."""
    random = np.random.default_rng([seed, 3])
    span_h = (end_utc - start_utc) / timedelta(hours=1)
    found: list[Fault] = []
    for kind, count, shortest_h, longest_h in _TABLE:
        for _ in range(max(1, round(count * nights / 120))):
            begin = start_utc + timedelta(hours=random.uniform(0.0, span_h))
            lasts = timedelta(hours=random.uniform(shortest_h, longest_h))
            fault = Fault(
                kind=kind,
                start_utc=begin,
                end_utc=begin + lasts,
                size=float(random.uniform(-1.0, 1.0)),
            )
            if not any(_cuts_everything_off(fault, other) for other in found):
                found.append(fault)
    return sorted(found, key=lambda fault: fault.start_utc)


def _cuts_everything_off(one: Fault, other: Fault) -> bool:
    """Return whether two faults together leave no channel."""
    pair = {one.kind, other.kind}
    if not (pair & MAIL_FAULTS and pair & _TEXTS):
        return False
    room = timedelta(hours=2)
    return one.start_utc < other.end_utc + room and other.start_utc < one.end_utc + room
