"""What the page works with: the state, the clock, the key, and the service's health."""

from collections.abc import Callable
from dataclasses import dataclass

from frostalert.cycle.health import Health
from frostalert.model.settings import Settings, WebSettings
from frostalert.ports import AnswerDesk, Clock, PhoneBook, ReadingBook, TicketBook


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """What the page needs.

    The configuration is asked for anew each time: it may have changed.
    """

    settings: Callable[[], Settings]
    web: WebSettings
    answers: AnswerDesk
    tickets: TicketBook
    readings: ReadingBook
    phone: PhoneBook
    clock: Clock
    key: bytes
    health: Callable[[], Health]
