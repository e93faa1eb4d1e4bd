"""Servers that take what is sent, and tell when it comes."""

import random
import threading
from collections import Counter

from tests.adapters.test_nws import Office
from tests.support.servers import Reply, Seen, SlowBox

_LATER_SHARE = 0.1
_LEAST_S, _MOST_S = 0.1, 0.4


class ForgetfulBox(SlowBox):
    """Takes a while over each mail, and asks for another try now and then."""

    def __init__(self, chance: random.Random) -> None:
        super().__init__()
        self._chance = chance

    async def handle_DATA(  # noqa: N802 - the library's name
        self, server: object, session: object, envelope: object
    ) -> str:
        # Long enough that a kill meets a mail under way.
        self.wait_s = self._chance.uniform(_LEAST_S, _MOST_S)
        if self._chance.random() < _LATER_SHARE:
            self.data_replies.append("451 try again later")
        return await super().handle_DATA(server, session, envelope)

    def arrivals(self) -> Counter[str]:
        """Return how often each mail came, by its subject without a repeat's mark."""
        return Counter(
            str(mail["Subject"]).removeprefix("(again) ") for mail in list(self.mails)
        )

    def unmarked(self) -> int:
        """Return how many mails came twice and do not say so."""
        said = Counter(str(mail["Subject"]) for mail in list(self.mails))
        return sum(
            count > 1 for subject, count in said.items() if "(again)" not in subject
        )


class AskedOffice(Office):
    """A forecast service that tells when its forecast is asked for."""

    def __init__(self) -> None:
        super().__init__()
        self.asked = threading.Event()

    def __call__(self, seen: Seen) -> Reply:
        reply = super().__call__(seen)
        if reply is self.grid:
            self.asked.set()
        return reply
