"""The daily line and the weekly proof that the service and its channels live."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import takewhile

from frostalert.alarms.answers import silences
from frostalert.messages.addressing import AnswerLinks, address
from frostalert.messages.audience import RecipientState
from frostalert.messages.occasion import Occasion
from frostalert.messages.views import NightView, night_view, source_view
from frostalert.messages.wording import Wording
from frostalert.model.alarm import Alarm, AlarmState
from frostalert.model.assessment import (
    Assessment,
    BlockNight,
    NightAssessment,
    Tier,
)
from frostalert.model.notice import Attachment, LastArrival, Message, Subject
from frostalert.model.past import PastRecord
from frostalert.model.site import Farm
from frostalert.risk.uncertainty import STALE

_ROUTINE_LIFE = timedelta(hours=12)
_DAYS_A_WEEK = 7
_PAST_CID = "past"


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
    nights = [night_view(night, farm, wording) for night in assessment.nights]
    known = takewhile(lambda night: night.is_complete, assessment.nights)
    covered = nights[: len(list(known))]
    local = assessment.issued_utc.astimezone(wording.zone).date()
    # Before noon the first night is the one just ended.
    tonight = next(
        (
            view
            for view, night in zip(nights, assessment.nights, strict=True)
            if night.night >= local
        ),
        None,
    )
    values = {
        "farm": farm,
        "source": source_view(assessment, wording),
        "age": _too_old(assessment, wording),
        "written": wording.moment(wording.now_utc),
        "rules": farm.rules,
        "nights": covered,
        "tonight": tonight,
        "present": tonight or nights[0],
        "unjudged": [v for v in nights if v.tier is Tier.CANNOT_JUDGE],
        "threats": [view for view in nights if view.tier.rank],
        "last": covered[-1] if covered else None,
        "highest": _most_at_risk(assessment, covered),
        "put_off": _put_off(state, wording),
        "unjudged_past": [
            wording.night(alarm.night) for alarm in alarms if alarm.is_unjudged
        ],
        "to_look": _to_look(assessment.nights[0]),
        "muted": [
            block for block in assessment.nights[0].blocks if block.stage.is_muted
        ],
        "is_all_muted": all(
            block.stage.is_muted for block in assessment.nights[0].blocks
        ),
    }
    occasion = Occasion(
        key=f"{farm.site.name}|{local}|daily-line",
        subject=Subject.DAILY_LINE,
        night=None,
        values=values,
        now_utc=assessment.issued_utc,
        deadline_utc=assessment.issued_utc + _ROUTINE_LIFE,
        turns=(1,),
    )
    return address(occasion, farm, is_rehearsal=is_rehearsal, state=state)


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
    """Return the weekly proof that the service and every channel live.

    What is new of past springs goes with its mail.
    """
    wording = Wording(farm.site, now_utc)
    week = now_utc.astimezone(wording.zone).strftime("%G-W%V")
    told = [alarm for alarm in alarms if alarm.tier.rank]
    occasion = Occasion(
        key=f"{farm.site.name}|{week}|weekly",
        subject=Subject.WEEKLY,
        night=None,
        values={
            "farm": farm,
            "written": wording.moment(now_utc),
            "lines": [_proof_line(p, c, proofs, wording) for p, c in _ways(farm)],
            "nights": [
                f"{wording.night(alarm.night)}: {alarm.tier.value}, {_stands(alarm)}"
                for alarm in told
            ],
            "unjudged": [wording.night(a.night) for a in alarms if a.is_unjudged],
            "past": () if past is None else past.lines,
            "picture_alt": "" if past is None else past.picture_words,
            "picture_cid": _PAST_CID,
        },
        now_utc=now_utc,
        deadline_utc=now_utc + _ROUTINE_LIFE,
        is_everywhere=farm.is_in_season,
        attachments=() if past is None else (_past_picture(past),),
    )
    return address(occasion, farm, is_rehearsal=False, state=state, links=links)


def _past_picture(past: PastRecord) -> Attachment:
    """Return the picture of past springs as a file that the mail's HTML shows."""
    return Attachment(
        name="past-springs.png",
        media_type="image/png",
        content=past.png,
        cid=_PAST_CID,
    )


def _too_old(assessment: Assessment, wording: Wording) -> str:
    """Return the age of a forecast by which no night is called quiet, else nothing."""
    facts = assessment.forecast
    if facts is None or wording.now_utc - facts.updated_utc <= STALE:
        return ""
    return wording.age(facts.updated_utc)


def _to_look(night: NightAssessment) -> list[BlockNight]:
    """Return blocks that nobody has looked at this season, on one day in seven."""
    return [
        block
        for block in night.blocks
        if block.stage.unseen_since is not None
        and not (night.night - block.stage.unseen_since).days % _DAYS_A_WEEK
    ]


def _stands(alarm: Alarm) -> str:
    """Return where a warning stands, and who answered it."""
    by = alarm.answered_by
    if by is None:
        return alarm.state.value
    if alarm.state is AlarmState.ANSWERED:
        return f"{alarm.state.value} by {by}"
    return f"{alarm.state.value}; {by} answered"


def _ways(farm: Farm) -> list[tuple[str, str]]:
    """Return every person and channel."""
    return [(p.name, channel.value) for p in farm.people for channel in p.channels]


def _proof_line(
    person: str, channel: str, proofs: Sequence[LastArrival], wording: Wording
) -> str:
    """Return when a person was last reached by a channel, in words."""
    for proof in proofs:
        if (proof.person, proof.channel) == (person, channel):
            how = "arrived" if proof.is_confirmed else "was taken"
            when = wording.moment(proof.at_utc)
            return f"{person}, {channel}: the last message {how} {when}"
    return f"{person}, {channel}: NEVER reached; try frostalert test-message"


def _put_off(state: RecipientState | None, wording: Wording) -> list[str]:
    """Return who put messages off, and until when."""
    answers = () if state is None else state.answers
    return [
        f"{answer.person} put off messages up to {answer.tier.value} until "
        f"{wording.moment(answer.until_utc)}"
        for answer in silences(answers, wording.now_utc)
        if answer.until_utc is not None
    ]


def _most_at_risk(assessment: Assessment, covered: list[NightView]) -> NightView | None:
    """Return the covered night with the highest chance of harm, if any is judged."""
    pairs = zip(assessment.nights, covered, strict=False)
    judged = [
        (night.worst.probability or 0.0, view)
        for night, view in pairs
        if night.worst and not view.is_over
    ]
    return max(judged, key=lambda pair: pair[0])[1] if judged else None
