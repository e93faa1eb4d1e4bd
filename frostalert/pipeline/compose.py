"""Turn decisions into messages: one a person and channel, for all blocks together."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import takewhile
from uuid import uuid4

from frostalert.decision.methods import NIGHT_CAUTION
from frostalert.errors import UsageError
from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.notice import (
    Decision,
    Message,
    MessageClass,
    NightDecision,
    Subject,
)
from frostalert.model.site import ChannelKind, Holding, Person
from frostalert.pipeline.render import fit_sms, render, wrap_plain
from frostalert.pipeline.views import (
    NightView,
    SourceView,
    change_words,
    night_view,
    source_view,
)
from frostalert.pipeline.wording import Wording, day

REHEARSAL_MARK = "TEST"
_ROUTINE_LIFE = timedelta(hours=12)
_LATE = timedelta(minutes=30)
_CLASSES = {
    Subject.OUTLOOK: MessageClass.WARNING,
    Subject.PREPARE: MessageClass.WAKING,
    Subject.ACT: MessageClass.WAKING,
    Subject.CANNOT_JUDGE: MessageClass.WARNING,
    Subject.WITHDRAWN: MessageClass.WARNING,
    Subject.STAND_DOWN: MessageClass.WARNING,
    Subject.DAILY_LINE: MessageClass.ROUTINE,
    Subject.OPERATOR: MessageClass.OPERATOR,
    Subject.TEST: MessageClass.OPERATOR,
}
_URGENCY = (Subject.ACT, Subject.PREPARE, Subject.CANNOT_JUDGE, Subject.OUTLOOK)
_ENDINGS = (Subject.WITHDRAWN, Subject.STAND_DOWN)
# Who has both gets these by email alone: nothing in them is to be done at once.
_ONE_CHANNEL = {
    Subject.OUTLOOK,
    Subject.WITHDRAWN,
    Subject.DAILY_LINE,
    Subject.OPERATOR,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasion:
    """One thing to be said, before it is said to anybody in particular.

    Attributes
    ----------
    key : str
        Names the occasion: site, night, what, revision.
    values : dict
        What the templates fill in.
    deadline_utc : datetime
        After this the message is of no use any more.
    """

    key: str
    subject: Subject
    night: date | None
    values: dict[str, object]
    deadline_utc: datetime


def compose_decision(
    decision: Decision,
    assessment: Assessment,
    holding: Holding,
    *,
    is_rehearsal: bool = False,
) -> list[Message]:
    """Return the messages of one cycle.

    Parameters
    ----------
    decision : Decision
        What is to be said.
    assessment : Assessment
        The numbers.
    holding : Holding
        People, blocks and units.
    is_rehearsal : bool
        Whether every message is to begin with TEST.

    Returns
    -------
    list of Message
        All alarms of the cycle in one message a person, the most urgent night first;
        what ends something in a message of its own.
    """
    wording = Wording(holding.site, assessment.issued_utc)
    source = source_view(assessment, wording)
    nights = {night.night: night for night in assessment.nights}
    spoken = decision.spoken
    groups = [[item for item in spoken if item.say in _URGENCY]]
    groups += [[item] for item in spoken if item.say in _ENDINGS]
    messages: list[Message] = []
    for group in groups:
        if group:
            occasion = _occasion(group, nights, holding, wording, source)
            messages += address(occasion, holding, is_rehearsal=is_rehearsal)
    return messages


def compose_daily_line(
    assessment: Assessment, holding: Holding, *, is_rehearsal: bool = False
) -> list[Message]:
    """Return the daily line: quiet, or what is being watched.

    Parameters
    ----------
    assessment : Assessment
        The numbers.
    holding : Holding
        People, blocks and units.
    is_rehearsal : bool
        Whether every message is to begin with TEST.

    Returns
    -------
    list of Message
        One a person.
    """
    wording = Wording(holding.site, assessment.issued_utc)
    nights = [night_view(night, holding, wording) for night in assessment.nights]
    known = takewhile(lambda night: night.is_complete, assessment.nights)
    covered = nights[: len(list(known))]
    local = assessment.issued_utc.astimezone(wording.zone).date()
    values = {
        "holding": holding,
        "source": source_view(assessment, wording),
        "written": wording.moment(wording.now_utc),
        "rules": holding.rules,
        "nights": covered,
        # Before noon the first night is the one just ended.
        "tonight": next(
            (
                view
                for view, night in zip(nights, assessment.nights, strict=True)
                if night.night >= local
            ),
            None,
        ),
        "unjudged": [v for v in nights if v.tier is Tier.CANNOT_JUDGE],
        "threats": [view for view in nights if view.tier.rank],
        "last": covered[-1] if covered else None,
        "muted": [
            block for block in assessment.nights[0].blocks if block.stage.is_muted
        ],
        "is_all_muted": all(
            block.stage.is_muted for block in assessment.nights[0].blocks
        ),
    }
    occasion = Occasion(
        key=f"{holding.site.name}|{local}|daily-line",
        subject=Subject.DAILY_LINE,
        night=None,
        values=values,
        deadline_utc=assessment.issued_utc + _ROUTINE_LIFE,
    )
    return address(occasion, holding, is_rehearsal=is_rehearsal)


def compose_operator(
    key: str,
    detail: str,
    holding: Holding,
    now_utc: datetime,
    *,
    is_rehearsal: bool = False,
) -> list[Message]:
    """Return the message that something is wrong with the service.

    Parameters
    ----------
    key : str
        Names the fault and the day on which it is told.
    detail : str
        What is wrong and what to do, in words.
    holding : Holding
        People: those marked as operators, else everybody.
    now_utc : datetime
        The present moment.
    is_rehearsal : bool
        Whether every message is to begin with TEST.

    Returns
    -------
    list of Message
        One a person.
    """
    wording = Wording(holding.site, now_utc)
    occasion = Occasion(
        key=f"{holding.site.name}|operator|{key}",
        subject=Subject.OPERATOR,
        night=None,
        values={"holding": holding, "detail": detail, "now": wording.moment(now_utc)},
        deadline_utc=now_utc + _ROUTINE_LIFE,
    )
    return address(occasion, holding, is_rehearsal=is_rehearsal)


def compose_test(holding: Holding, name: str, now_utc: datetime) -> list[Message]:
    """Return a test message for one person on all their channels.

    Parameters
    ----------
    holding : Holding
        People.
    name : str
        The person; upper and lower case are alike.
    now_utc : datetime
        The present moment.

    Returns
    -------
    list of Message
        One a channel; each begins with TEST.

    Raises
    ------
    UsageError
        If there is no such person.
    """
    people = {person.name.lower(): person for person in holding.people}
    person = people.get(name.strip().lower())
    if person is None:
        known = ", ".join(f'"{known.name}"' for known in holding.people)
        message = f'there is no person "{name}"; write one of {known}'
        raise UsageError(message)
    occasion = Occasion(
        key=f"{holding.site.name}|test|{now_utc.isoformat()}",
        subject=Subject.TEST,
        night=None,
        values={
            "holding": holding,
            "written": Wording(holding.site, now_utc).moment(now_utc),
        },
        deadline_utc=now_utc + _ROUTINE_LIFE,
    )
    return address(occasion, holding, is_rehearsal=False, only=person)


def address(
    occasion: Occasion,
    holding: Holding,
    *,
    is_rehearsal: bool,
    only: Person | None = None,
) -> list[Message]:
    """Return an occasion as messages, one for each person and channel that gets it."""
    people = holding.people
    if only is not None:
        people = (only,)
    elif occasion.subject is Subject.OPERATOR:
        people = tuple(p for p in people if p.is_operator) or people
    return [
        _message(occasion, person, channel, is_rehearsal=is_rehearsal)
        for person in people
        for channel in _channels(occasion.subject, person)
    ]


def _channels(subject: Subject, person: Person) -> tuple[ChannelKind, ...]:
    """Return the channels on which a person gets a subject."""
    if subject in _ONE_CHANNEL and ChannelKind.EMAIL in person.channels:
        return (ChannelKind.EMAIL,)
    return person.channels


def _occasion(
    group: list[NightDecision],
    nights: dict[date, NightAssessment],
    holding: Holding,
    wording: Wording,
    source: SourceView,
) -> Occasion:
    """Return one message's matter from the nights that it speaks of."""
    group = sorted(group, key=lambda item: (_urgency(item), item.night))
    head = group[0]
    assert head.say is not None  # noqa: S101 - only spoken nights are grouped
    views: dict[date, NightView] = {
        night: night_view(record, holding, wording) for night, record in nights.items()
    }
    night = nights.get(head.night)
    values: dict[str, object] = {
        "holding": holding,
        "head": views.get(head.night),
        "night_name": wording.night(head.night),
        "change": change_words(head.change, wording) if head.change else "",
        "detail": head.detail,
        "others": [view for key, view in views.items() if key != head.night],
        "brief_reason": _brief_reason(source, night),
        "also": _also(group),
        "also_brief": f"+{len(group) - 1} nights" if len(group) > 1 else "",
        "source": source,
        "written": wording.moment(wording.now_utc),
        "rules": holding.rules,
        "night_caution": NIGHT_CAUTION,
        "sunset_matters": _is_before_dark(night, wording.now_utc),
        "is_late": _is_late(night, wording.now_utc),
        "wording": wording,
        "freezing": wording.temperature(0.0),
    }
    # A warning is of no use once the cold that it speaks of is over.
    end = wording.now_utc + _ROUTINE_LIFE
    if night is not None:
        end = night.cold_over_utc or night.end_utc
    end = max(end, wording.now_utc + _LATE)
    return Occasion(
        key=f"{holding.site.name}|{head.night}|{head.say}|{head.remember.revision}",
        subject=head.say,
        night=head.night,
        values=values,
        deadline_utc=end,
    )


def _brief_reason(source: SourceView, night: NightAssessment | None) -> str:
    """Return why a night cannot be judged, in few words."""
    if source.is_absent:
        return "no forecast"
    if source.warning:
        return "the forecast is too old"
    if night is not None and night.missing:
        return "hours are missing"
    return "a block's stage is not known"


def _also(group: list[NightDecision]) -> str:
    """Return the further nights of a message for a text: each was told by it."""
    return ", ".join(
        f"{item.night.day} {day(item.night).split()[2]}" for item in group[1:]
    )


def _is_before_dark(night: NightAssessment | None, now_utc: datetime) -> bool:
    """Return whether preparation has to be done before a sunset still to come."""
    if night is None or night.sunset_utc is None or night.act_at_utc is None:
        return False
    return now_utc < night.sunset_utc <= night.act_at_utc


def _is_late(night: NightAssessment | None, now_utc: datetime) -> bool:
    """Return whether there is less time left than preparation needs."""
    if night is None or night.send_by_utc is None:
        return False
    return now_utc > night.send_by_utc + _LATE


def _urgency(item: NightDecision) -> int:
    """Return a spoken night's place among the others, the most urgent first."""
    return _URGENCY.index(item.say) if item.say in _URGENCY else len(_URGENCY)


def _message(
    occasion: Occasion,
    person: Person,
    channel: ChannelKind,
    *,
    is_rehearsal: bool,
) -> Message:
    """Return one message."""
    values = {**occasion.values, "person": person}
    name = occasion.subject.value
    mark = f"{REHEARSAL_MARK} " if is_rehearsal else ""
    if channel is ChannelKind.SMS:
        subject, html = "", None
        text = fit_sms(f"{name}.sms.j2", person.language, values, mark)
    else:
        subject = mark + render(f"{name}.subject.j2", person.language, values)
        body = mark + render(f"{name}.txt.j2", person.language, values)
        text = wrap_plain(body)
        html = render("email.html.j2", person.language, {**values, "body": body})
    key = f"{occasion.key}|{person.name}|{channel}" + ("|rehearsal" * is_rehearsal)
    return Message(
        key=key,
        subject_kind=occasion.subject,
        message_class=_CLASSES[occasion.subject],
        night=occasion.night,
        person=person.name,
        channel=channel,
        address=person.address(channel),
        subject=subject,
        text=text,
        html=html,
        message_id=f"<{uuid4().hex}@frostalert.invalid>",
        deadline_utc=occasion.deadline_utc,
    )
