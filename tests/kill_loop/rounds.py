"""Rounds with a kill each, and what became of all messages."""

import os
import signal
import subprocess
import sys
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from frostalert.model.notice import MessageClass, Subject
from frostalert.store.open import open_beside
from tests.kill_loop.moments import (
    wait_while_deciding,
    wait_while_sending,
    where_deciding,
    where_sending,
)
from tests.kill_loop.place import Place, a_place, make_state, wait_for
from tests.support.mails import WARNS
from tests.support.queued import mail_to_ines

MESSAGES_A_ROUND = 6
_PEOPLE = 2
_MOST_ROUNDS = 10
"""Rounds of `once`, which sends whatever waits; what is missing then is lost."""


@dataclass(kw_only=True)
class Outcome:
    """What became of the messages of some kills.

    Attributes
    ----------
    fell : Counter of str
        How many kills fell where.
    lost : int
        Messages that were queued and never came, and people whom a night that freezes
        called never.
    unmarked : int
        Mails that came twice and do not say so.
    without_messages : int
        Decisions that tell somebody and were kept without anything to send.
    damaged : int
        States that were not whole after a kill.
    """

    fell: Counter[str] = field(default_factory=Counter)
    queued: int = 0
    lost: int = 0
    duplicates: int = 0
    unmarked: int = 0
    without_messages: int = 0
    damaged: int = 0

    @property
    def is_good(self) -> bool:
        """Whether nothing was lost, said twice as if it were new, or damaged."""
        return not (self.lost or self.unmarked or self.without_messages or self.damaged)


def kill_while_sending(folder: Path, kills: int, chance: Random) -> Outcome:
    """Kill a service that has no forecast, and messages of others to send."""
    outcome = Outcome()
    with a_place(folder, chance, freezes=False) as place:
        make_state(place)
        keys: set[str] = set()
        for number in range(kills):
            place.box.begun.clear()
            place.box.arrived.clear()
            before, begun = len(place.box.mails), place.starts()
            keys |= _queue(place, number)
            place.start()
            wait_while_sending(place, chance, number)
            place.end()
            where = where_sending(
                place,
                has_begun=place.starts() > begun,
                came=len(place.box.mails) - before,
                queued=MESSAGES_A_ROUND,
            )
            outcome.fell[where] += 1
            outcome.damaged += not place.is_sound()
        _send_the_rest(place, keys)
        counts = place.box.arrivals()
    outcome.queued = len(keys)
    outcome.lost = len(keys - set(counts))
    outcome.duplicates = sum(counts[key] - 1 for key in keys if counts[key])
    outcome.unmarked = place.box.unmarked()
    return outcome


def kill_while_deciding(folder: Path, kills: int, chance: Random) -> Outcome:
    """Kill a service that has just been told of a night that freezes."""
    outcome = Outcome()
    for number in range(kills):
        with a_place(folder / str(number), chance, freezes=True) as place:
            place.start()
            wait_while_deciding(place, chance, number)
            place.end()
            outcome.fell[where_deciding(place)] += 1
            outcome.without_messages += place.calls_without_messages()
            if place.file.exists():
                outcome.damaged += not place.is_sound()
            place.start()
            _wait_for_calls(place)
            place.end(signal.SIGTERM)
            outcome.queued += _PEOPLE
            outcome.lost += len(_uncalled(place))
            outcome.unmarked += place.box.unmarked()
    return outcome


def _wait_for_calls(place: Place) -> None:
    """Wait until everybody is called; who is not after long is lost."""
    with suppress(AssertionError):
        wait_for(lambda: not _uncalled(place), "a warning to each")


def _uncalled(place: Place) -> list[str]:
    """Return who of the two has not been called: one by mail, one by text."""
    subjects = [str(mail["Subject"]) for mail in list(place.box.mails)]
    has_mail = any(s.removeprefix("(again) ").startswith(WARNS) for s in subjects)
    return ["Ines"] * (not has_mail) + ["Tobias"] * (not place.texts.seen)


def _queue(place: Place, number: int) -> set[str]:
    """Queue messages beside the service; return their keys."""
    now = datetime.now(UTC)  # noqa: TID251 - beside the real service
    names = [f"round {number} message {index}" for index in range(MESSAGES_A_ROUND)]
    messages = [
        mail_to_ines(
            Subject.TEST,
            now + timedelta(hours=6),
            key=name,
            message_class=MessageClass.OPERATOR,
            subject=name,
            message_id=f"<{name.replace(' ', '.')}@frostalert.invalid>",
        )
        for name in names
    ]
    store = open_beside(place.file.parent)
    store.queue(messages, now)
    store.database.close()
    return set(names)


def _send_the_rest(place: Place, keys: set[str]) -> None:
    """Send what waits for another try, until every message has arrived."""
    for _ in range(_MOST_ROUNDS):
        if keys <= set(place.box.arrivals()):
            return
        subprocess.run(
            [sys.executable, "-m", "frostalert", "once"],
            cwd=place.folder,
            env={**os.environ, "HOME": str(place.folder)},
            capture_output=True,
            timeout=600,
            check=False,
        )
