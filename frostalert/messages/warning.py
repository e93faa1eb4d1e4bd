"""The words of a warning: outlook, call to get ready, call to act."""

from dataclasses import dataclass

from frostalert.messages.lead_words import ActionState, first_starts
from frostalert.messages.letter import NO_ANSWER, Letter
from frostalert.messages.render import render
from frostalert.messages.views import least_chance
from frostalert.messages.warning_letter import (
    ALWAYS,
    NightFacts,
    get_ready,
    letter_of,
)
from frostalert.messages.warning_text import TextWords, text_of
from frostalert.messages.wording import chance
from frostalert.messages.words import Words
from frostalert.model.notice import Attachment, Subject
from frostalert.model.site import Person

_LEADS = {
    ActionState.START: "Start now",
    ActionState.EARLY: "Be ready to start at {ready_by}",
    ActionState.LATE_COVERS: "Lay covers now, in the dark",
    ActionState.KEEP: "Leave on what is on",
    ActionState.COVERED: "Covers stay on",
    ActionState.LAY: "Lay covers",
    ActionState.BY_HAND: "Cover low plants",
    ActionState.SET_UP: "Set up, start nothing yet",
    ActionState.KEPT_BACK: "The water is saved for the next night",
    ActionState.UNSURE: "Nothing you have is sure to hold",
    ActionState.NOTHING: "Nothing you have can stop it",
}
PAGE_LEADS = _LEADS | {
    ActionState.KEEP: "Nothing new to start; what is on stays on",
    ActionState.COVERED: "Nothing to start; covers stay on",
    ActionState.LAY: "Lay covers by day; nothing to start",
    ActionState.BY_HAND: "Cover low plants now, by lamplight",
    ActionState.SET_UP: "Set up as listed; nothing to start yet",
}
"""What the page with all numbers begins with: it has room for more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WarningWords(Words):
    """A warning's words.

    Attributes
    ----------
    facts : NightFacts
        What its mail is made of.
    beside : TextWords
        What its text says beside them.
    values : dict
        What the page with all numbers fills in.
    """

    facts: NightFacts
    beside: TextWords
    values: dict[str, object]

    def subject(self) -> str:
        """Return a mail's subject: what to do, which night, how cold in which block."""
        facts, back = self.facts, self.beside.back
        night = facts.wording.night(facts.night.night)
        place = facts.wording.site.name
        if facts.is_taken_back and back is not None:
            (equipment, block), *more = back.pairs
            what = f"Do not start {equipment} in {block}"
            what += f" (+{len(more)} more)" * bool(more)
            return f"{what}, {back.why}: frost {night} ({place})"
        old = " (old forecast)" * facts.is_old
        if facts.subject is Subject.OUTLOOK:
            return (
                f"Frost possible{old} {night}: {self._cold()}{self._odds()} ({place})"
            )
        start = self._first_start() if facts.subject is Subject.ACT else ""
        if start:
            return f"Start now{old}: {start}, frost {night} ({place})"
        return f"{self._lead()}{old}: frost {night}, {self._cold()} ({place})"

    def _lead(self) -> str:
        """Return what to do, in a few words."""
        facts = self.facts
        if facts.subject is Subject.PREPARE and facts.lead not in ALWAYS:
            return get_ready(facts)
        return _LEADS[facts.lead].format(ready_by=facts.ready_by)

    def _first_start(self) -> str:
        """Return what is started first; empty where nothing is started now."""
        facts = self.facts
        if facts.lead is not ActionState.START or facts.plan is None:
            return ""
        first, *more = first_starts(facts.plan, facts.wording, facts.due) or (None,)
        if first is None:
            return ""
        what = f"{first.what} in {first.block}, running {first.when}"
        return what + f" (+{len(more)} more)" * bool(more)

    def _cold(self) -> str:
        """Return how cold it gets in the block that is likeliest to be harmed."""
        worst = self.facts.night.likeliest
        if worst is None:
            return "no block can be judged"
        low = self.facts.wording.temperature(worst.site_low_c)
        return f"{low} in {worst.block}"

    def _odds(self) -> str:
        """Return how likely harm is there."""
        worst = self.facts.night.likeliest
        if worst is None:
            return ""
        if worst.probability is None:
            return ", chance of harm not known"
        odds = least_chance(self.facts.night, chance(worst.probability))
        return f", {odds} chance of harm"

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts for one person."""
        return letter_of(self.facts, person, link)

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message to one person."""
        return text_of(self.facts, self.beside, person, link, mark)

    def pages(self, person: Person, link: str, mark: str) -> tuple[Attachment, ...]:
        """Return the page with every number and its reason."""
        lead = PAGE_LEADS[self.facts.lead].format(ready_by=self.facts.ready_by)
        who = {"person": person, "answer_link": link, "no_answer": mark and NO_ANSWER}
        values = {**self.values, **who, "said": lead}
        body = render(f"{self.facts.subject.value}.txt.j2", values)
        page = render("all-numbers.html.j2", {"body": body})
        return (
            Attachment(
                name="all-numbers.html", media_type="text/html", content=page.encode()
            ),
        )
