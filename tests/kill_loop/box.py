"""Servers that take what is sent, and tell when it comes."""

import asyncio
import random
import threading
from collections import Counter

from tests.adapters.test_nws import Office
from tests.support.servers import MailBox, Reply, Seen

_LATER_SHARE = 0.1
_LEAST_S, _MOST_S = 0.1, 0.4


class SlowBox(MailBox):
    """Takes a while over each mail, and asks for another try now and then.

    Attributes
    ----------
    begun : threading.Event
        Set when a mail's content has come, and is not accepted yet.
    under_way : int
        How many mails are so at this moment.
    """

    def __init__(self, chance: random.Random) -> None:
        super().__init__()
        self._chance = chance
        self.begun = threading.Event()
        self.under_way = 0

    async def handle_DATA(  # noqa: N802 - the library's name
        self, server: object, session: object, envelope: object
    ) -> str:
        self.begun.set()
        self.under_way += 1
        try:
            # Long enough that a kill meets a mail under way.
            await asyncio.sleep(self._chance.uniform(_LEAST_S, _MOST_S))
            if self._chance.random() < _LATER_SHARE:
                return "451 try again later"
            return await super().handle_DATA(server, session, envelope)
        finally:
            self.under_way -= 1

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
