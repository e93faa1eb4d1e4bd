"""The words that end a warning: a frost that is called off, and a night that is over.

Neither stops water: that is for a thermometer alone.
"""

from dataclasses import dataclass
from datetime import date

from frostalert.messages.letter import Letter
from frostalert.messages.night_line import cold_words
from frostalert.messages.parts import Part, Short, fit
from frostalert.messages.warning_letter import IN_PAIRS
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
                "If water runs, this message does not stop it: turn it off only once "
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
                Part(0, "No promise: read your thermometer at night."),
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
    stop : str
        Hour before which water must not stop, or a dash.
    may_be_wet, may_burn : bool
        Whether water may be running, and heat burning.
    """

    night: date
    wording: Wording
    stop: str
    may_be_wet: bool
    may_burn: bool
    source: str
    short_source: str

    def subject(self) -> str:
        """Return a mail's subject."""
        name = self.wording.night(self.night)
        place = self.wording.site.name
        return f"Before you stop: what to measure after {name} ({place})"

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts: the same for everybody."""
        del person, link
        name = self.wording.night(self.night)
        return Letter(
            answer=(
                f"{capital(name)}: the cold hours of the forecast are over."
                + " Measure before you stop." * self.may_be_wet
            ),
            jobs_title="BEFORE YOU STOP",
            jobs=self._before(),
            rows_title="THEN",
            rows=self._then(),
            rules=(IN_PAIRS,) if self.may_be_wet or self.may_burn else (),
            source=self.source,
        )

    def _before(self) -> tuple[str, ...]:
        """Return what must be measured before anything stops."""
        freezing = self.wording.temperature(0.0)
        lines = []
        if self.may_be_wet:
            lines.append(
                f"Keep water on until {self._hour()}, and until you measure a wet bulb "
                f"above {freezing} and ice melts freely in every block. Never stop it "
                "on a forecast: shade, wind or dry air freeze wet plants again."
            )
        if self.may_burn:
            lines.append(
                "Heat out, the coldest spot last, once the air among the buds has "
                f"stayed above {freezing} for 15 minutes."
            )
        lines.append(f"Covers off once the air stays above {freezing}, for the bees.")
        return tuple(lines)

    def _then(self) -> tuple[str, ...]:
        """Return what is left to do afterwards."""
        lines = []
        if self.may_burn:
            lines.append("Fires out: see that each is cold.")
        if self.may_be_wet:
            lines.append("Drain the lines: tonight they may freeze.")
        return (
            *lines,
            "Leave snow on blossom until it melts.",
            "Once buds have browned, this afternoon, cut some and count.",
        )

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message: the same for everybody."""
        del person, link
        freezing, name = self.wording.temperature(0.0), self.wording.day(self.night)
        water = (
            f"KEEP WATER ON until {self._hour()} AND you MEASURE wet bulb over "
            f"{freezing} AND ice melts."
        )
        heat = f"Heat out once air stays over {freezing}."
        over = f"Cold hours are over. Covers off once it stays over {freezing}."

        def parts(short: Short) -> list[Part]:
            del short
            return [
                Part(1, f"{name}:"),
                Part(0, water if self.may_be_wet else ""),
                Part(0, heat if self.may_burn else ""),
                Part(0, "" if self.may_be_wet or self.may_burn else over),
                Part(0, self.short_source),
            ]

        return fit(parts, mark, tail=self.short_source)

    def _hour(self) -> str:
        """Return the hour before which water must not stop."""
        return "full daylight" if self.stop == "-" else self.stop
