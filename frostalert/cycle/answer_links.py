"""Links by which people answer, short enough for a text: tokens of kept tickets."""

import logging
from dataclasses import dataclass
from datetime import datetime

from frostalert.errors import StoreError, TicketError
from frostalert.messages.occasion import Occasion
from frostalert.messages.ticket import ticket_for
from frostalert.model.site import Farm, Person
from frostalert.model.ticket import Ticket
from frostalert.ports import TicketBook

_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketLinks:
    """Makes the links by which people answer.

    Attributes
    ----------
    key : bytes
        Makes the tokens; without it nobody can guess one.
    public_url : str
        How people's phones reach the page.
    book : TicketBook
        Where the tickets are kept.
    """

    key: bytes
    public_url: str
    book: TicketBook

    def link(self, person: Person, occasion: Occasion) -> str | None:
        """Return the link, or none if there is nothing to answer.

        A message goes without a link rather than not at all.
        """
        ticket = ticket_for(person, occasion)
        if ticket is None:
            return None
        token = ticket.token(self.key)
        try:
            self.book.keep_ticket(token, ticket)
        except StoreError:
            _LOG.exception("a link to answer by could not be kept")
            return None
        return f"{self.public_url}/a/{token}"


def find_ticket(token: str, book: TicketBook, farm: Farm, now_utc: datetime) -> Ticket:
    """Return the ticket of a token.

    Raises
    ------
    TicketError
        If there is none, if it is too old, or if its person is not on the list any
        more.
    StoreError
        If the tickets cannot be read.
    """
    ticket = book.ticket(token)
    if ticket is None:
        message = "this link is not known here; open it from the newest message"
        raise TicketError(message)
    if now_utc > ticket.expires_utc:
        message = (
            "this link's night is over; open the link of your newest message"
            if ticket.said
            else "this link is too old; a newer one came with this week's mail"
        )
        raise TicketError(message)
    if ticket.person not in {person.name for person in farm.people}:
        message = (
            f"{ticket.person} is off the list of people; phone whoever runs the service"
        )
        raise TicketError(message)
    return ticket
