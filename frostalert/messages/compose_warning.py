"""The words of a warning, from its night, its plan and its picture."""

import logging
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from frostalert.agronomy.methods import NIGHT_CAUTION
from frostalert.messages.brief_words import is_forbidden
from frostalert.messages.calendar import plan_attachment
from frostalert.messages.lead_words import (
    NO_START,
    ActionState,
    action_state,
    first_start_utc,
    ready_by_utc,
)
from frostalert.messages.occasion import Occasion
from frostalert.messages.option_words import TakenBackView, taken_back_view
from frostalert.messages.picture import Enclosure
from frostalert.messages.plan_words import plan_view
from frostalert.messages.views import (
    NightView,
    SourceView,
    change_words,
    night_view,
    source_view,
)
from frostalert.messages.warning import WarningWords
from frostalert.messages.warning_letter import NightFacts
from frostalert.messages.warning_text import TextWords
from frostalert.messages.wording import Wording, capital
from frostalert.model.assessment import Assessment, NightAssessment
from frostalert.model.method import RefusalReason
from frostalert.model.notice import Attachment, NightDecision, Reason, Subject
from frostalert.model.plan import Option, Plan
from frostalert.model.site import Farm
from frostalert.model.start import Start, starts_by_key

_LOG = logging.getLogger(__name__)
LATE = timedelta(minutes=30)
"""A call for hands that comes later than this after its hour leaves too little time."""
_HEARD_WITHIN = timedelta(hours=12)
"""For so long a word that there is nothing to do is of use, quiet hours included."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """All that a warning's words rest on; the group's most urgent night first."""

    group: list[NightDecision]
    assessment: Assessment
    night: NightAssessment
    farm: Farm
    wording: Wording
    view: NightView
    source: SourceView
    plan: Plan | None

    @property
    def head(self) -> NightDecision:
        """The night that it is about."""
        return self.group[0]

    @property
    def is_taken_back(self) -> bool:
        """Whether nothing is new about a night but what must not be started."""
        return all(_takes_back(item) for item in self.group)


def with_warning(
    occasion: Occasion,
    group: list[NightDecision],
    assessment: Assessment,
    farm: Farm,
    enclosures: Mapping[date, Enclosure],
) -> Occasion:
    """Return a warning's occasion with its words, its plan and its picture."""
    wording = Wording(farm.site, assessment.issued_utc)
    night = next(n for n in assessment.nights if n.night == group[0].night)
    found = enclosures.get(night.night)
    case = _Case(
        group=group,
        assessment=assessment,
        night=night,
        farm=farm,
        wording=wording,
        view=night_view(night, farm, wording),
        source=source_view(assessment, wording),
        plan=None if found is None else found.plan,
    )
    try:
        return _written(occasion, case, found)
    except Exception:  # noqa: BLE001 - the warning goes out without them
        _LOG.exception("plan or picture could not be put into words")
        return _written(occasion, replace(case, plan=None), None)


def _written(occasion: Occasion, case: _Case, found: Enclosure | None) -> Occasion:
    """Return an occasion with a case's words, and its plan and picture as files."""
    files: list[Attachment] = []
    plan, subject = case.plan, occasion.subject
    if plan is not None and plan.tasks and subject is not Subject.OUTLOOK:
        files.append(plan_attachment(plan, case.farm, case.wording))
    picture = None if found is None else found.picture
    if picture is not None:
        files.append(picture.attachment())
    return replace(
        _unhurried(occasion, case) if _frees_people(occasion, case) else occasion,
        words=WarningWords(
            facts=_facts(occasion, case),
            beside=_beside(case),
            values=_values(occasion, case),
        ),
        attachments=tuple(files),
        picture_alt="" if picture is None else picture.alt(case.wording),
    )


def _frees_people(occasion: Occasion, case: _Case) -> bool:
    """Return whether it only tells people who were called that nothing can be started.

    Who was never called to get ready, or is called by it for another night as well,
    has not been told what there is to know: that does not wait.
    """
    head = case.head
    since = head.remember.hands_since_utc
    was_told = since is not None and since < occasion.now_utc
    is_news_alone = head.why in (Reason.TIER_ROSE, Reason.GOT_WORSE)
    others = [item for item in case.group if item is not head]
    return (
        occasion.subject is Subject.ACT
        and case.plan is not None
        and _lead(case) in NO_START
        and was_told
        and is_news_alone
        and not (head.revoked or head.reinstated)
        and not _does_harm_now(head, case.plan)
        and all(item.say is Subject.OUTLOOK for item in others)
    )


def _does_harm_now(head: NightDecision, plan: Plan) -> bool:
    """Return whether what people were told to start would now do harm.

    Some set an alarm of their own for it: they must hear it before that rings.
    """
    told = starts_by_key(head.remember.starts)
    return any(
        is_forbidden(item) and _may_be_begun(item, told[item.pair])
        for item in plan.refused
        if item.pair in told
    )


def _may_be_begun(option: Option, start: Start) -> bool:
    """Return whether people may begin it by what they were told.

    Water without an hour was only to be set up: nobody waits for its hour.
    """
    return start.begin_utc is not None or not option.method.wets_buds


def _unhurried(occasion: Occasion, case: _Case) -> Occasion:
    """Return an occasion that wakes nobody, and is heard all the same once held.

    Who was never told to start anything has nothing to be freed from: a text at night
    that nobody need get up would only wake them.
    """
    refused = () if case.plan is None else case.plan.refused
    is_news = any(RefusalReason.TOO_LATE in item.grounds for item in refused)
    return replace(
        occasion,
        is_by_mail=not case.head.remember.starts and not is_news,
        is_waking=False,
        is_worse=False,
        needed_by_utc=None,
        deadline_utc=max(occasion.deadline_utc, occasion.now_utc + _HEARD_WITHIN),
    )


def _facts(occasion: Occasion, case: _Case) -> NightFacts:
    """Return what a warning's mail is made of."""
    return NightFacts(
        subject=occasion.subject,
        night=case.night,
        plan=case.plan,
        wording=case.wording,
        lead=_lead(case),
        ready_by=_ready_by(case),
        due=occasion.due_starts,
        is_taken_back=case.is_taken_back,
        is_old=bool(case.source.warning),
        urgent=_urgent(case),
        news=_news(occasion, case),
        order=case.view.order,
        doubts=_doubts(case),
        source=_source_line(case),
        ahead=tuple(
            item
            for item in case.assessment.nights
            if item.night > case.night.night and item.tier.rank
        ),
    )


def _beside(case: _Case) -> TextWords:
    """Return what a warning's text says beside the facts of its night."""
    return TextWords(
        back=_taken_back(case),
        is_again=bool(_again(case)),
        change=_change(case),
        also=", ".join(case.wording.month_day(item.night) for item in case.group[1:]),
        error=case.view.plus_minus,
        source=case.source.short,
        is_passed_on=case.head.why is Reason.NOBODY_ANSWERED,
        has_gap=bool(case.view.gap_note),
    )


def _lead(case: _Case) -> ActionState:
    """Return what the plan leaves people to do; without one they start.

    Unless nothing is at risk any more: who was called before may have begun.
    """
    if case.plan is None:
        return ActionState.START if case.night.at_risk else ActionState.KEEP
    return action_state(case.plan, was_called=bool(case.head.remember.told_starts))


def _ready_by(case: _Case) -> str:
    """Return the hour to be ready by: never one that lies after the first harm."""
    plan, night = case.plan, case.night
    if plan is None:
        return case.wording.clock(night.act_at_utc)
    return case.wording.clock(ready_by_utc(plan, night))


def _takes_back(item: NightDecision) -> bool:
    """Return whether nothing is new about a night but what must not be started."""
    is_news = bool(item.reinstated) or item.change is not None
    return item.why is Reason.TAKEN_BACK and not is_news


def _taken_back(case: _Case) -> TakenBackView | None:
    """Return what was called for and must not be started."""
    back = [option for item in case.group for option in item.revoked]
    return taken_back_view(back, case.wording) if back else None


def _again(case: _Case) -> str:
    """Return what was taken back and may be started after all."""
    again = [option for item in case.group for option in item.reinstated]
    return ", ".join(f"{item.equipment} in {item.block}" for item in again)


def _change(case: _Case) -> str:
    """Return what changed since people were told."""
    change = case.head.change
    return change_words(change, case.wording) if change else ""


def _urgent(case: _Case) -> tuple[str, ...]:
    """Return what must not be started any more, and what may be after all."""
    back, again = _taken_back(case), _again(case)
    lines: list[str] = []
    if back is not None:
        since = "You were told to start this. The forecast has changed."
        lines = [*back.lines, since]
    if again:
        lines.append(f"You can start after all: {again}.")
    return tuple(lines)


def _news(occasion: Occasion, case: _Case) -> tuple[str, ...]:
    """Return what must be said before all else in a warning's mail."""
    news = [case.source.warning] if case.source.warning else []
    change = _change(case)
    if change:
        is_worse = case.head.why is Reason.GOT_WORSE
        since = "It got worse" if is_worse else "Since the last message"
        news.append(f"{since}: {change}.")
    if case.head.why is Reason.NOBODY_ANSWERED:
        news.append("Nobody who was told before has answered: it is your turn.")
    is_idle = _lead(case) in NO_START
    if _is_late(case) and occasion.subject is Subject.PREPARE and not is_idle:
        news.append("Time is short: begin with what counts most.")
    return tuple(news)


def _doubts(case: _Case) -> tuple[str, ...]:
    """Return what is not known or not sure about a warning's numbers."""
    view = case.view
    doubts = list(case.source.in_force)
    doubts += [view.gap_note] if view.gap_note else []
    if view.second:
        doubts.append(f"{view.second}.")
    doubts += [f"{capital(note)}." for note in case.source.doubts]
    unseen = [b.block for b in case.night.at_risk if b.stage.is_assumed]
    if unseen:
        doubts.append(f"Check the buds (stage is a guess): {', '.join(unseen)}.")
    return tuple(doubts)


def _source_line(case: _Case) -> str:
    """Return where a warning's numbers come from, and where the others stand."""
    error = case.view.plus_minus
    error = "" if error == "unknown" else f" Give or take {error}."
    return f"{case.source.made}.{error} All numbers: attached page."


def _values(occasion: Occasion, case: _Case) -> dict[str, object]:
    """Return what the page with all numbers fills in."""
    wording, night, plan = case.wording, case.night, case.plan
    starts = None if plan is None else first_start_utc(plan)
    others = [n for n in case.assessment.nights if n.night != night.night]
    return {
        "head": case.view,
        "change": _change(case),
        "others": [night_view(item, case.farm, wording) for item in others],
        "is_worse": case.head.why is Reason.GOT_WORSE,
        "calls_others": any(person.turn > 1 for person in case.farm.people),
        "is_passed_on": case.head.why is Reason.NOBODY_ANSWERED,
        "back": _taken_back(case),
        "again": _again(case),
        "is_taken_back": case.is_taken_back,
        "source": case.source,
        "written": wording.moment(wording.now_utc),
        "rules": case.farm.rules,
        "night_caution": NIGHT_CAUTION,
        "sunset_matters": _sunset_matters(case, starts),
        "is_late": _is_late(case),
        "plan": None if plan is None else plan_view(plan, case.farm, wording),
        "lead": _lead(case).value,
        "starts_nothing": _lead(case) in NO_START,
        "has_starts": plan is None or starts is not None,
        "with_hours": plan is not None and occasion.subject is not Subject.OUTLOOK,
        "ready_by": _ready_by(case),
    }


def _sunset_matters(case: _Case, starts_utc: datetime | None) -> bool:
    """Return whether preparation has to be done before a sunset still to come."""
    plan, night = case.plan, case.night
    if plan is not None:
        sunset = plan.sunset_utc
        is_first = sunset is not None and (starts_utc is None or sunset <= starts_utc)
        return is_first and not plan.is_dark and not plan.is_harm_by_day
    if night.sunset_utc is None or night.act_at_utc is None:
        return False
    return case.wording.now_utc < night.sunset_utc <= night.act_at_utc


def _is_late(case: _Case) -> bool:
    """Return whether there is less time left than preparation needs."""
    send_by = case.night.send_by_utc
    return send_by is not None and case.wording.now_utc > send_by + LATE
