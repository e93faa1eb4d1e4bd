"""Who may answer which message: kept by the token in its link."""

import json
from datetime import date, datetime

from frostalert.model.assessment import Tier
from frostalert.model.ticket import Ticket
from frostalert.store.codec import moment_text, read_moment
from frostalert.store.connection import Database


class TicketStore:
    """Tickets by their tokens."""

    database: Database

    def keep_ticket(self, token: str, ticket: Ticket) -> None:
        """Keep a ticket; the same token stands for the same one."""
        said = json.dumps([[str(n), tier.value, rev] for n, tier, rev in ticket.said])
        with self.database.writing() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO ticket VALUES (?, ?, ?, ?)",
                (token, ticket.person, said, moment_text(ticket.expires_utc)),
            )

    def ticket(self, token: str) -> Ticket | None:
        """Return the ticket of a token, if there is one."""
        with self.database.reading() as connection:
            row = connection.execute(
                "SELECT * FROM ticket WHERE token = ?", (token,)
            ).fetchone()
        if row is None:
            return None
        return Ticket(
            person=row["person"],
            said=tuple(
                (date.fromisoformat(night), Tier(tier), int(revision))
                for night, tier, revision in json.loads(row["said"])
            ),
            expires_utc=read_moment(row["expires_utc"]),
        )

    def forget_tickets(self, now_utc: datetime) -> None:
        """Take away the tickets that are too old to be answered by."""
        with self.database.writing() as connection:
            connection.execute(
                "DELETE FROM ticket WHERE expires_utc < ?", (moment_text(now_utc),)
            )
