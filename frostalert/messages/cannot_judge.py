"""The words about a night that cannot be judged: never an all-clear."""

from dataclasses import dataclass
from datetime import date

from frostalert.messages.letter import Letter
from frostalert.messages.night_line import night_line
from frostalert.messages.parts import Part, Short, answer_part, fit
from frostalert.messages.wording import Wording
from frostalert.messages.words import Words
from frostalert.model.assessment import NightAssessment
from frostalert.model.site import Person


@dataclass(frozen=True, slots=True, kw_only=True)
class CannotJudgeWords(Words):
    """What is said of a night that cannot be judged.

    Attributes
    ----------
    why, brief_why : str
        Why not: in full, and in a few words.
    also : str
        Further nights that the text tells of.
    ahead : tuple of NightAssessment
        The other nights of which something is known.
    in_force : tuple of str
        Official warnings in force.
    source, short_source : str
        Where the last numbers come from.
    """

    night: date
    wording: Wording
    why: str
    brief_why: str
    also: str
    ahead: tuple[NightAssessment, ...]
    in_force: tuple[str, ...]
    source: str
    short_source: str

    def subject(self) -> str:
        """Return a mail's subject."""
        return (
            f"Frost risk unknown {self._name()}: watch a thermometer ({self._place()})"
        )

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts for one person."""
        way = link or f'on the home server, frostalert ack --by "{person.name}"'
        return Letter(
            answer=f"Frost risk unknown {self._name()}. That is not an all-clear.",
            news=(f"Why: {self.why}.",),
            answering=f"Confirm that you saw this: {way}",
            answer_link=link,
            buttons=("I saw this",),
            jobs_title="WHAT TO DO",
            jobs=(*self._jobs(), "Look at another forecast."),
            rows_title="OTHER NIGHTS",
            rows=tuple(night_line(night, self.wording) for night in self.ahead),
            doubts=self.in_force,
            source=self.source,
        )

    def _jobs(self) -> tuple[str, str]:
        """Return what to do; in a night that runs, water may run as well."""
        if self._is_under_way():
            return (
                "Read a thermometer at your coldest block now, and every hour until "
                "it has stayed above freezing.",
                "If water is on, KEEP IT ON until you measure a wet bulb above "
                f"{self.wording.temperature(0.0)} and ice melts freely.",
            )
        return (
            "Read a thermometer at your coldest block this evening, and every hour "
            "through the night.",
            "Get ready as for a frost, until a message says otherwise.",
        )

    def _is_under_way(self) -> bool:
        """Return whether it is past the midnight of the night."""
        return self.night < self.wording.today

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message to one person."""
        del person
        todo = "read a thermometer, get ready as for frost."
        if self._is_under_way():
            todo = "read a thermometer. If water is on, KEEP IT ON."

        def parts(short: Short) -> list[Part]:
            place = f" at {short(self._place())}"
            return [
                Part(0, f"RISK UNKNOWN {self._name()}{place}. NOT an all-clear:"),
                Part(0, todo),
                Part(2, f"Why: {self.brief_why}."),
                Part(3, f"Also {self.also}." if self.also else ""),
                answer_part(link),
                Part(0, self._last_source()),
            ]

        return fit(parts, mark, tail=self._last_source())

    def _last_source(self) -> str:
        """Return where the last numbers come from, unless that is the very reason."""
        return "" if self.short_source == self.brief_why else self.short_source

    def _name(self) -> str:
        return self.wording.night(self.night)

    def _place(self) -> str:
        return self.wording.site.name
