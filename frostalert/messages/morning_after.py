"""The words of the morning after a frost: what came of it, and what to count."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from frostalert.messages.addressing import AnswerLinks, address
from frostalert.messages.audience import RecipientState
from frostalert.messages.letter import Letter
from frostalert.messages.occasion import Occasion
from frostalert.messages.parts import Part, Short, fit
from frostalert.messages.wording import Wording
from frostalert.messages.words import Words
from frostalert.model.ledger import LedgerNight, Outcome
from frostalert.model.notice import Message, Subject
from frostalert.model.site import Farm, Person

_LIFE = timedelta(hours=12)
_OUTCOMES = {
    Outcome.HIT: "That was cold enough to harm {worst}: the call was needed.",
    Outcome.FALSE_ALARM: "That was not cold enough to harm {worst}: this time the call "
    "was not needed.",
    Outcome.MISS: "That was cold enough to harm {worst}, and nobody was called.",
}


def compose_morning_after(
    line: LedgerNight,
    farm: Farm,
    now_utc: datetime,
    *,
    state: RecipientState | None = None,
    links: AnswerLinks | None = None,
) -> list[Message]:
    """Return the message of the morning after one night."""
    occasion = Occasion(
        key=f"{farm.site.name}|{line.night}|morning-after",
        subject=Subject.MORNING_AFTER,
        night=line.night,
        words=MorningWords(line=line, wording=Wording(farm.site, now_utc)),
        now_utc=now_utc,
        deadline_utc=now_utc + _LIFE,
        turns=(1,),
    )
    return address(occasion, farm, is_rehearsal=False, state=state, links=links)


@dataclass(frozen=True, slots=True, kw_only=True)
class MorningWords(Words):
    """What is said the morning after a night that called for hands."""

    line: LedgerNight
    wording: Wording

    def subject(self) -> str:
        """Return a mail's subject."""
        return f"After the frost: count buds from noon ({self.wording.site.name})"

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts for one person."""
        del person
        return Letter(
            answer=f"Last night, {self.wording.day(self.line.night)}: {self._lows()}.",
            news=tuple(filter(None, [self._outcome()])),
            answering=f"Your page: {link}" if link else "",
            answer_link=link,
            buttons=("Open your page",),
            jobs_title="FROM NOON",
            jobs=self._jobs(),
            rows_title="WHO ANSWERED",
            rows=self.line.calls.answers or ("Nobody answered.",),
            source="Your counts improve the next warnings. The whole season: "
            "frostalert season.",
        )

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message to one person."""
        del person

        def parts(short: Short) -> list[Part]:
            first = f", first in {short(self.line.worst)}" if self.line.worst else ""
            return [
                Part(
                    0,
                    f"Last night, {self.wording.day(self.line.night)}: {self._lows()}.",
                ),
                Part(0, f"From noon cut and count buds{first}."),
                Part(1, link),
            ]

        return fit(parts, mark)

    def _lows(self) -> str:
        """Return the forecast low, and what was measured."""
        forecast = self.wording.temperature(self.line.forecast_low_c)
        if self.line.measured_low_c is None:
            return (
                f"the forecast had {forecast}; no thermometer reading came in overnight"
            )
        measured = self.wording.temperature(self.line.measured_low_c)
        return f"the forecast had {forecast}, your thermometer read {measured}"

    def _outcome(self) -> str:
        """Return whether the call was needed; empty where nothing was measured."""
        return _OUTCOMES.get(self.line.outcome, "").format(worst=self.line.worst)

    def _jobs(self) -> tuple[str, ...]:
        """Return what to count, where first, and how to note it."""
        worst = self.line.worst or "the block that was coldest"
        kill = self.line.predicted_kill_pct
        expected = (
            "" if kill is None else f" About {kill:.0f} % of its buds may be dead."
        )
        return (
            f"Cut 100 buds a block, first in {worst}: brown or black inside means dead."
            f"{expected}",
            f'Note what you count: frostalert buds "{worst}" --dead NUMBER --of 100',
        )
