"""The words that end a warning: a frost that is called off, and a night that is over.

Neither stops water: that is for a thermometer alone.
"""

from dataclasses import dataclass
from datetime import date, datetime

from frostalert.messages.lead_words import MayRun
from frostalert.messages.letter import Letter
from frostalert.messages.night_line import cold_words
from frostalert.messages.parts import Part, Short, fit
from frostalert.messages.warning_letter import IN_PAIRS
from frostalert.messages.water_words import brief_keep_on, heat_out_line, keep_on_line
from frostalert.messages.wording import Wording, capital
from frostalert.messages.words import Words
from frostalert.model.assessment import NightAssessment
from frostalert.model.site import Person


@dataclass(frozen=True, slots=True, kw_only=True)
class WithdrawnWords(Words):
    """What is said when the forecast no longer shows a frost that people were told."""

    night: date
    judged: NightAssessment | None
    wording: Wording
    in_force: tuple[str, ...]
    source: str
    short_source: str

    def subject(self) -> str:
        """Return a mail's subject."""
        name = self.wording.night(self.night)
        return f"The forecast no longer shows frost {name} ({self.wording.site.name})"

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts: the same for everybody."""
        del person, link
        name = self.wording.night(self.night)
        cold = self._cold()
        return Letter(
            answer=f"The forecast no longer shows frost {name}.",
            news=(f"Nearest to harm: {cold}.",) if cold else (),
            rules=(
                "Two forecasts in a row say so. It is no promise: read a thermometer "
                "before you go to bed.",
                "If water is on, this is no reason to stop it: turn it off only once "
                f"you measure a wet bulb above {self.wording.temperature(0.0)} and ice "
                "melts freely.",
            ),
            doubts=self.in_force,
            source=self.source,
        )

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message: the same for everybody."""
        del person, link
        name, cold = self.wording.night(self.night), self._cold()

        def parts(short: Short) -> list[Part]:
            del short
            return [
                Part(0, f"Forecast no longer shows frost {name}."),
                Part(1, f"Now {cold}." if cold else ""),
                Part(0, "No promise: read your thermometer. If water is on, KEEP ON."),
                Part(0, self.short_source),
            ]

        return fit(parts, mark, tail=self.short_source)

    def _cold(self) -> str:
        """Return how cold it still gets; empty where that is not known."""
        return "" if self.judged is None else cold_words(self.judged, self.wording)


@dataclass(frozen=True, slots=True, kw_only=True)
class StandDownWords(Words):
    """What is said when the cold hours of a night are over: what to measure first.

    Attributes
    ----------
    stop_utc : datetime or None
        Hour before which water must not stop; None where no thaw is forecast.
    may_run : MayRun
        What may be running, or lying on the plants.
    """

    night: date
    wording: Wording
    stop_utc: datetime | None
    may_run: MayRun
    source: str
    short_source: str

    def subject(self) -> str:
        """Return a mail's subject."""
        name = self.wording.of_night(self.night)
        place = self.wording.site.name
        if not self.may_run.must_be_stopped:
            return f"The cold hours are over: {name} ({place})"
        return f"Before you stop: what to measure after {name} ({place})"

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts: the same for everybody."""
        del person, link
        name, may_run = self.wording.of_night(self.night), self.may_run
        return Letter(
            answer=(
                f"{capital(name)}: the cold hours of the forecast are over."
                + " Measure before you stop." * may_run.water
            ),
            jobs_title="BEFORE YOU STOP" if may_run.must_be_stopped else "MORNING",
            jobs=self._before(),
            rows_title="THEN",
            rows=self._then(),
            rules=(IN_PAIRS,) if may_run.must_be_stopped else (),
            source=self.source,
        )

    def _before(self) -> tuple[str, ...]:
        """Return what must be measured before anything stops."""
        lines = []
        if self.may_run.water:
            lines.append(keep_on_line(self.stop_utc, self.wording))
        if self.may_run.heat:
            lines.append(heat_out_line(self.wording))
        cloth, freezing = self._cloth(), self.wording.temperature(0.0)
        if cloth:
            lines.append(
                f"{cloth} off once the air stays above {freezing}, for the bees."
            )
        return tuple(lines)

    def _cloth(self) -> str:
        """Return what lies on the plants; empty where nothing does."""
        names = ["covers"] * self.may_run.covers + ["sheets"] * self.may_run.sheets
        return capital(" and ".join(names)) if names else ""

    def _then(self) -> tuple[str, ...]:
        """Return what is left to do afterwards."""
        lines = []
        if self.may_run.heat:
            lines.append("Make sure that every fire is cold.")
        if self.may_run.water:
            lines.append("Drain the lines: tonight they may freeze.")
        return (
            *lines,
            "Leave snow on blossom until it melts.",
            "Once buds have browned, this afternoon, cut some and count.",
        )

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message: the same for everybody."""
        del person, link
        freezing = self.wording.temperature(0.0)
        name = self.wording.short_night(self.night)
        may_run, cloth = self.may_run, self._cloth()
        heat = f"Heat off once air stays over {freezing}."
        over = "Cold hours are over."
        over += f" {cloth} off once it stays over {freezing}." if cloth else ""

        def parts(short: Short) -> list[Part]:
            del short
            water = brief_keep_on(self.stop_utc, self.wording)
            return [
                Part(1, f"{name}:"),
                Part(0, water if may_run.water else ""),
                Part(0, heat if may_run.heat else ""),
                Part(0, "" if may_run.must_be_stopped else over),
                Part(0, self.short_source),
            ]

        return fit(parts, mark, tail=self.short_source)
