"""What a person may answer to a message."""

from datetime import timedelta

from frostalert.messages.occasion import Occasion
from frostalert.model.notice import Subject
from frostalert.model.site import Person
from frostalert.model.ticket import Ticket

_LIFE = timedelta(hours=12)
_WEEKLY_LIFE = timedelta(days=9)


def ticket_for(person: Person, occasion: Occasion) -> Ticket | None:
    """Return what a person may answer to a message; None if there is nothing.

    The weekly mail asks for a look at the blocks: its link lives until the next one.
    So does that of the morning after.
    """
    if occasion.subject in (Subject.WEEKLY, Subject.MORNING_AFTER):
        return Ticket(
            person=person.name, said=(), expires_utc=occasion.now_utc + _WEEKLY_LIFE
        )
    if not occasion.said:
        return None
    return Ticket(
        person=person.name,
        said=occasion.said,
        expires_utc=occasion.deadline_utc + _LIFE,
    )
