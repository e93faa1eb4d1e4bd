"""What a message says, whatever it is about: a subject, a letter and a text."""

from typing import Protocol

from frostalert.messages.letter import Letter
from frostalert.model.notice import Attachment
from frostalert.model.site import Person


class Words(Protocol):
    """The words of one occasion, made anew for each person and channel.

    Answer links are empty where there is no page to answer on.
    """

    def subject(self) -> str:
        """Return a mail's subject."""
        ...

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts for one person."""
        ...

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message to one person, a rehearsal's mark before it."""
        ...

    def pages(self, person: Person, link: str, mark: str) -> tuple[Attachment, ...]:
        """Return the pages that go with a mail: most have none."""
        del person, link, mark
        return ()
