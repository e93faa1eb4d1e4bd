"""The weekly check: the service and every way to its people live."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from frostalert.messages.addressing import AnswerLinks, address
from frostalert.messages.audience import RecipientState
from frostalert.messages.letter import Letter
from frostalert.messages.occasion import Occasion
from frostalert.messages.parts import Part, Short, fit
from frostalert.messages.wording import Wording, capital
from frostalert.messages.words import Words
from frostalert.model.alarm import Alarm
from frostalert.model.assessment import Tier
from frostalert.model.notice import Attachment, LastArrival, Message, Subject
from frostalert.model.past_record import PastRecord
from frostalert.model.site import Farm, Person

_LIFE = timedelta(hours=12)
_PAST_CID = "past"
_TOLD = {
    Tier.OUTLOOK: "frost possible",
    Tier.PREPARE: "get ready",
    Tier.ACT: "start now",
}


def compose_weekly(
    farm: Farm,
    proofs: Sequence[LastArrival],
    alarms: tuple[Alarm, ...],
    now_utc: datetime,
    *,
    state: RecipientState | None = None,
    links: AnswerLinks | None = None,
    past: PastRecord | None = None,
) -> list[Message]:
    """Return the weekly check: proof that the service and every channel live.

    What is new of past springs goes with its mail.
    """
    wording = Wording(farm.site, now_utc)
    week = now_utc.astimezone(wording.zone).strftime("%G-W%V")
    occasion = Occasion(
        key=f"{farm.site.name}|{week}|weekly",
        subject=Subject.WEEKLY,
        night=None,
        words=WeeklyWords(
            wording=wording,
            reached=tuple(_proof_line(p, c, proofs, wording) for p, c in _ways(farm)),
            alarms=alarms,
            past=() if past is None else past.lines,
        ),
        now_utc=now_utc,
        deadline_utc=now_utc + _LIFE,
        is_everywhere=farm.is_in_season,
        attachments=() if past is None else (_past_picture(past),),
        picture_alt="" if past is None else past.picture_words,
        picture_cid=_PAST_CID,
    )
    return address(occasion, farm, is_rehearsal=False, state=state, links=links)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeeklyWords(Words):
    """What the weekly check says.

    Attributes
    ----------
    reached : tuple of str
        Who was reached by which channel, and when.
    alarms : tuple of Alarm
        Where the warnings of the last week stand.
    past : tuple of str
        What it would have said in past springs, where that is new.
    """

    wording: Wording
    reached: tuple[str, ...]
    alarms: tuple[Alarm, ...]
    past: tuple[str, ...] = ()

    def subject(self) -> str:
        """Return a mail's subject."""
        return f"Weekly check: frostalert is watching ({self.wording.site.name})"

    def letter(self, person: Person, link: str) -> Letter:
        """Return a mail's parts for one person."""
        del person
        written = self.wording.moment(self.wording.now_utc)
        look = (
            f"Weekly bud check, one tap where nothing has changed: {link}"
            if link
            else "Weekly bud check, on the home server: frostalert stage"
        )
        return Letter(
            answer=f"frostalert is watching {self.wording.site.name} ({written}).",
            answering=look,
            answer_link=link,
            buttons=("Bud check",),
            jobs_title="NIGHTS WE WARNED YOU ABOUT",
            jobs=tuple(self._nights()),
            rows_title="WHO WAS REACHED",
            rows=self.reached,
            rules=self._past_springs(),
            source="You get this every Monday; in season on every channel that "
            "warnings use. If it is missing, check the home server.",
        )

    def text(self, person: Person, link: str, mark: str) -> str:
        """Return the text message to one person."""
        place = self.wording.site.name

        def parts(short: Short) -> list[Part]:
            way = f"messages reach {short(person.name)}."
            return [
                Part(0, f"Weekly check, frostalert at {short(place)}: {way}"),
                Part(0, f"Bud check: {link}" if link else ""),
                Part(1, "If no check comes on a Monday, see if it still runs."),
            ]

        return fit(parts, mark)

    def _past_springs(self) -> tuple[str, ...]:
        """Return what it would have said in past springs."""
        if not self.past:
            return ()
        more = "What other settings would have done: frostalert past."
        return ("Past springs, had it run:", *self.past, more)

    def _nights(self) -> list[str]:
        """Return where each night's warning stands."""
        told = [
            f"{capital(self.wording.night(alarm.night))}: {_TOLD[alarm.tier]}; "
            f"{_stands(alarm)}."
            for alarm in self.alarms
            if alarm.tier.rank
        ]
        return told + [
            f"{capital(self.wording.night(alarm.night))}: frost risk unknown; nobody "
            "confirmed seeing it."
            for alarm in self.alarms
            if alarm.is_unjudged
        ]


def _past_picture(past: PastRecord) -> Attachment:
    """Return the picture of past springs as a file that the mail's HTML shows."""
    return Attachment(
        name="past-springs.png",
        media_type="image/png",
        content=past.png,
        cid=_PAST_CID,
    )


def _stands(alarm: Alarm) -> str:
    """Return who answered a warning, and whether the night is over."""
    if alarm.tier is Tier.OUTLOOK and alarm.answered_by is None:
        who = "no answer needed"
    else:
        who = f"{alarm.answered_by or 'nobody'} answered"
    return f"over; {who}" if alarm.state.is_over else who


def _ways(farm: Farm) -> list[tuple[str, str]]:
    """Return every person and channel."""
    return [(p.name, channel.value) for p in farm.people for channel in p.channels]


def _proof_line(
    person: str, channel: str, proofs: Sequence[LastArrival], wording: Wording
) -> str:
    """Return when a person was last reached by a channel, in words."""
    for proof in proofs:
        if (proof.person, proof.channel) == (person, channel):
            how = "arrived" if proof.is_confirmed else "was accepted"
            when = wording.moment(proof.at_utc)
            return f"{person}, {channel}: the last message {how} {when}"
    return f"{person}, {channel}: NEVER reached; try frostalert test-message"
