"""The daily line: quiet, or what is being watched."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import takewhile

from frostalert.alarms.answers import silences
from frostalert.messages.addressing import address
from frostalert.messages.audience import RecipientState
from frostalert.messages.brief_words import chance_in_words
from frostalert.messages.lasting import LastingNight, lasting_nights
from frostalert.messages.letter import Letter
from frostalert.messages.night_line import cold_words, night_line
from frostalert.messages.occasion import Occasion
from frostalert.messages.parts import Part, Short, fit
from frostalert.messages.views import SourceView, is_over, source_view
from frostalert.messages.wording import Wording, chance
from frostalert.messages.words import Words
from frostalert.model.alarm import Alarm
from frostalert.model.assessment import Assessment, BlockNight, NightAssessment, Tier
from frostalert.model.notice import Message, Subject
from frostalert.model.site import Farm, Person
from frostalert.model.tier_words import TIER_WORDS
from frostalert.risk.forecast_age import STALE

_LIFE = timedelta(hours=12)
_DAYS_A_WEEK = 7


def compose_daily_line(
    assessment: Assessment,
    farm: Farm,
    *,
    is_rehearsal: bool = False,
    state: RecipientState | None = None,
    alarms: tuple[Alarm, ...] = (),
) -> list[Message]:
    """Return the daily line: quiet, or what is being watched."""
    wording = Wording(farm.site, assessment.issued_utc)
    occasion = Occasion(
        key=f"{farm.site.name}|{wording.today}|daily-line",
        subject=Subject.DAILY_LINE,
        night=None,
        words=DailyWords(
            assessment=assessment,
            wording=wording,
            source=source_view(assessment, wording),
            alarms=alarms,
            put_off=_put_off(state, wording),
            lasting=lasting_nights(alarms, farm, wording),
        ),
        now_utc=assessment.issued_utc,
        deadline_utc=assessment.issued_utc + _LIFE,
        turns=(1,),
    )
    return address(occasion, farm, is_rehearsal=is_rehearsal, state=state)


@dataclass(frozen=True, slots=True, kw_only=True)
class DailyWords(Words):
    """What the daily line says.

    Attributes
    ----------
    alarms : tuple of Alarm
        Where the warnings of the last week stand.
    put_off : tuple of str
        Who asked for silence, and until when.
    lasting : tuple of LastingNight
        The nights that people must still go on with.
    """

    assessment: Assessment
    wording: Wording
    source: SourceView
    alarms: tuple[Alarm, ...]
    put_off: tuple[str, ...]
    lasting: tuple[LastingNight, ...] = ()

    def subject(self) -> str:
        """Return a mail's subject: the answer in a few words."""
        return f"{self._answer()} ({self.wording.site.name})"

    def _answer(self) -> str:
        """Return what must go on before all else, or what is being watched."""
        first = self._first_lasting()
        return self._watched() if first is None else first.subject(self.wording)

    def _first_lasting(self) -> LastingNight | None:
        """Return the night that goes before all else, or none.

        Water that was called for does; else what threatens goes first.
        """
        is_calm = not self._threats()
        leading = [i for i in self.lasting if i.is_water_called or is_calm]
        return max(leading, key=lambda item: item.is_water_called, default=None)

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts for one person."""
        del link
        still = "" if self._first_lasting() is not None else self._still()
        return Letter(
            answer=f"{self._answer()}.{still}",
            news=(*self._go_on(), *self._no_longer(), *self._most_at_risk()),
            jobs_title="TO DO",
            jobs=(*self._to_look(), *self._to_acknowledge(person)),
            rows_title="NIGHTS",
            rows=tuple(
                night_line(night, self.wording, lasts=self._lasts(night))
                for night in self._shown()
            ),
            doubts=(
                *self.source.in_force,
                *(f"{line}." for line in self.put_off),
                *self._muted(),
            ),
            source=f"{self.source.made}. You get this every day. If it is missing, "
            "check the home server.",
        )

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message: the same for everybody."""
        del person, link
        still = "Not an all-clear: read a thermometer." if self._still() else ""

        def parts(short: Short) -> list[Part]:
            del short
            lowest = self._most_at_risk()
            first = self._first_lasting()
            brief = "" if first is None else first.brief(self.wording)
            return [
                Part(0, brief),
                Part(1 if brief else 0, f"{self._watched()}."),
                Part(0, still),
                Part(1, " ".join(self._no_longer())),
                Part(2, " ".join(lowest)),
                Part(0, self.source.short),
            ]

        return fit(parts, mark, tail=self.source.short)

    def _go_on(self) -> tuple[str, ...]:
        """Return what holds for nights that are not over, then what is watched."""
        first, at_risk = self._first_lasting(), {i.night for i in self._threats()}
        lines = []
        for item in self.lasting:
            if item is not first and item.night not in at_risk:
                lines.append(f"{item.title(self.wording)}.")
            lines += item.lines(self.wording)
        if first is not None:
            lines.append(f"{self._watched()}.{self._still()}")
        return tuple(lines)

    def _still(self) -> str:
        """Return that what is not known is no all-clear; empty where all is known."""
        is_blind = self._unjudged() or (self._age() and not self._threats())
        return " That is not an all-clear." if is_blind else ""

    def _lasts(self, night: NightAssessment) -> bool:
        """Return whether people must still go on with a night."""
        return any(item.night == night.night for item in self.lasting)

    def _watched(self) -> str:
        """Return what is being watched, what cannot be judged, or that all is quiet."""
        threats, blind, age = self._threats(), self._unjudged(), self._age()
        if threats:
            words = f"Frost risk {self._name(threats[0])}: {self._cold(threats[0])}"
            return words + (
                f"; risk unknown {self.wording.day(blind[0].night)}" if blind else ""
            )
        if blind:
            return f"Frost risk unknown {self._name(blind[0])}: {blind[0].reason}"
        if all(item.stage.is_muted for item in self.assessment.nights[0].blocks):
            return "Nothing is watched: every block is dormant or harvested"
        if age:
            return f"Frost risk unknown {self._name(self._present())}: forecast {age}"
        shown = [night for night in self._shown() if not self._lasts(night)]
        until = f" through {self.wording.day(shown[-1].night)}" if shown else ""
        quiet = "Then quiet" if self.lasting else "Quiet"
        return f"{quiet}{until}: no block near a warning"

    def _cold(self, night: NightAssessment) -> str:
        """Return how cold a night gets where, and how likely harm is."""
        worst = night.likeliest
        if worst is None or worst.probability is None:
            return cold_words(night, self.wording)
        low = self.wording.temperature(worst.site_low_c)
        odds = chance_in_words(worst.probability)
        return f"{low} in {worst.block}, harm: {odds}"

    def _name(self, night: NightAssessment) -> str:
        """Return a night by name."""
        return self.wording.night(night.night)

    def _shown(self) -> list[NightAssessment]:
        """Return the nights that the forecast reaches."""
        nights = self.assessment.nights
        return list(takewhile(lambda night: night.is_complete, nights))

    def _present(self) -> NightAssessment:
        """Return tonight: before noon the first night is the one just ended."""
        nights = self.assessment.nights
        coming = [night for night in nights if night.night >= self.wording.today]
        return coming[0] if coming else nights[0]

    def _threats(self) -> list[NightAssessment]:
        """Return the nights at risk."""
        return [night for night in self.assessment.nights if night.tier.rank]

    def _unjudged(self) -> list[NightAssessment]:
        """Return the nights that cannot be judged."""
        nights = self.assessment.nights
        return [night for night in nights if night.tier is Tier.CANNOT_JUDGE]

    def _age(self) -> str:
        """Return the age of a forecast by which no night is called quiet, or ""."""
        facts = self.assessment.forecast
        if facts is None or self.wording.now_utc - facts.updated_utc <= STALE:
            return ""
        return self.wording.age(facts.updated_utc)

    def _no_longer(self) -> tuple[str, ...]:
        """Return the nights that people were told of and that no longer look so bad."""
        told = {
            alarm.night: alarm.tier
            for alarm in self.alarms
            if alarm.tier.rank and not alarm.state.is_over
        }
        return tuple(
            f"You were told of {self._name(night)}; the forecast now has "
            f"{cold_words(night, self.wording)}. It is not called off yet."
            for night in self.assessment.nights
            if night.night in told
            and night.tier is not Tier.CANNOT_JUDGE
            and not is_over(night, self.wording.now_utc)
            and night.tier.rank < told[night.night].rank
            and not night.tier.rank
        )

    def _most_at_risk(self) -> tuple[str, ...]:
        """Return the quiet night that is nearest to harm."""
        if self._threats() or self._unjudged() or self._age():
            return ()
        coming = [n for n in self._shown() if not is_over(n, self.wording.now_utc)]
        judged = [
            (worst.probability, night)
            for night in coming
            if (worst := night.likeliest) and worst.probability is not None
        ]
        if not judged:
            return ()
        odds, night = max(judged, key=lambda pair: pair[0])
        return (f"Most at risk: {self.wording.day(night.night)}, {chance(odds)}.",)

    def _to_look(self) -> tuple[str, ...]:
        """Return blocks that nobody has looked at this season, on one day in seven."""
        night = self.assessment.nights[0]
        return tuple(
            f"Cannot judge {item.block} by stage: {item.stage.reason}. Look at the "
            f'buds, then: frostalert stage "{item.block}" STAGE'
            for item in night.blocks
            if _is_due(item, night)
        )

    def _to_acknowledge(self, person: Person) -> tuple[str, ...]:
        """Return past nights that nobody could judge, and nobody has acknowledged."""
        return tuple(
            f"Frost risk unknown {self.wording.night(alarm.night)}. Confirm that you "
            f'saw this: frostalert ack --by "{person.name}"'
            for alarm in self.alarms
            if alarm.is_unjudged
        )

    def _muted(self) -> tuple[str, ...]:
        """Return which blocks are not watched, and why."""
        return tuple(
            f"Not watched: {item.block} ({item.stage.reason})."
            for item in self.assessment.nights[0].blocks
            if item.stage.is_muted
        )


def _is_due(item: BlockNight, night: NightAssessment) -> bool:
    """Return whether this is the day of the week to ask for a look at a block."""
    since = item.stage.unseen_since
    return since is not None and not (night.night - since).days % _DAYS_A_WEEK


def _put_off(state: RecipientState | None, wording: Wording) -> tuple[str, ...]:
    """Return who put messages off, and until when."""
    answers = () if state is None else state.answers
    return tuple(
        f'{answer.person} put off messages up to "{TIER_WORDS[answer.tier]}" until '
        f"{_until(answer.until_utc, wording)}"
        for answer in silences(answers, wording.now_utc)
    )


def _until(moment: datetime | None, wording: Wording) -> str:
    """Return until when."""
    return "they say otherwise" if moment is None else wording.moment(moment)
