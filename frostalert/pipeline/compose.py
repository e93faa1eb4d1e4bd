"""Turn decisions into messages: one a person and channel, for all blocks together."""

from datetime import date, datetime, timedelta
from itertools import takewhile

from frostalert.decision.methods import NIGHT_CAUTION
from frostalert.errors import UsageError
from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.notice import (
    Decision,
    Message,
    NightDecision,
    Subject,
)
from frostalert.model.site import Holding
from frostalert.pipeline.occasion import Occasion, address
from frostalert.pipeline.views import (
    NightView,
    SourceView,
    change_words,
    night_view,
    source_view,
)
from frostalert.pipeline.wording import Wording, day

_ROUTINE_LIFE = timedelta(hours=12)
_LATE = timedelta(minutes=30)
_URGENCY = (Subject.ACT, Subject.PREPARE, Subject.CANNOT_JUDGE, Subject.OUTLOOK)
_ENDINGS = (Subject.WITHDRAWN, Subject.STAND_DOWN)


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
        "highest": _most_at_risk(assessment, covered),
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
        # That mail is broken must not be told by mail alone.
        is_everywhere=key.startswith("delivery"),
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


def _most_at_risk(assessment: Assessment, covered: list[NightView]) -> NightView | None:
    """Return the covered night with the highest chance of harm, if any is judged."""
    pairs = zip(assessment.nights, covered, strict=False)
    judged = [
        (night.worst.probability or 0.0, view) for night, view in pairs if night.worst
    ]
    return max(judged, key=lambda pair: pair[0])[1] if judged else None


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
        "is_bare": False,
        "also_brief": f"+{len(group) - 1} nights" if len(group) > 1 else "",
        "stop": wording.clock(head.remember.stop_utc),
        "source": source,
        "written": wording.moment(wording.now_utc),
        "rules": holding.rules,
        "night_caution": NIGHT_CAUTION,
        "sunset_matters": _is_before_dark(night, wording.now_utc),
        "is_late": _is_late(night, wording.now_utc),
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
