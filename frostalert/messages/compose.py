"""Turn decisions into messages: one a person and channel, for all blocks together."""

import logging
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from hashlib import sha256

from frostalert.agronomy.methods import NIGHT_CAUTION
from frostalert.messages.addressing import AnswerLinks, address
from frostalert.messages.audience import RecipientState
from frostalert.messages.calendar import plan_attachment
from frostalert.messages.lead_words import (
    ActionState,
    action_state,
    first_job,
    first_start_utc,
    first_starts,
    ready_by_utc,
    what_may_run,
)
from frostalert.messages.letter import NightFacts
from frostalert.messages.occasion import Occasion
from frostalert.messages.option_words import TakenBackView, taken_back_view
from frostalert.messages.picture import Enclosure
from frostalert.messages.plan_words import plan_view
from frostalert.messages.text import TextWords
from frostalert.messages.views import (
    NightView,
    SourceView,
    change_words,
    night_view,
    source_view,
)
from frostalert.messages.wording import Wording
from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.notice import (
    ENDINGS,
    TO_OTHERS,
    Attachment,
    Decision,
    Message,
    NightDecision,
    Reason,
    Subject,
)
from frostalert.model.plan import Plan
from frostalert.model.site import Farm

_LOG = logging.getLogger(__name__)
_ROUTINE_LIFE = timedelta(hours=12)
_LATE = timedelta(minutes=30)
_NO_PLAN: dict[str, object] = {
    "plan": None,
    "plan_first": (),
    "lead": ActionState.START.value,
    "first_job": "now",
    "has_starts": True,
    "with_hours": False,
}
_WARNINGS = (Subject.ACT, Subject.PREPARE, Subject.OUTLOOK)
_URGENCY = (Subject.ACT, Subject.PREPARE, Subject.CANNOT_JUDGE, Subject.OUTLOOK)


def compose_decision(
    decision: Decision,
    assessment: Assessment,
    farm: Farm,
    *,
    is_rehearsal: bool = False,
    state: RecipientState | None = None,
    links: AnswerLinks | None = None,
    enclosures: Mapping[date, Enclosure] | None = None,
) -> list[Message]:
    """Return the messages of one cycle."""
    wording = Wording(farm.site, assessment.issued_utc)
    source = source_view(assessment, wording)
    nights = {night.night: night for night in assessment.nights}
    announced = decision.announced
    alarms = [item for item in announced if item.say in _URGENCY]
    # What is passed on to the next people is news to them alone.
    groups = [[item for item in alarms if item.why not in TO_OTHERS]]
    groups += [[item] for item in alarms if item.why in TO_OTHERS]
    groups += [[item] for item in announced if item.say in ENDINGS]
    messages: list[Message] = []
    for group in groups:
        if group:
            occasion = _occasion(group, nights, farm, wording, source)
            try:
                occasion = _enclosing(occasion, enclosures or {}, nights, farm, wording)
            except Exception:  # noqa: BLE001 - the warning goes out without them
                _LOG.exception("plan or picture could not be put into words")
            occasion = _with_facts(occasion, group, nights, wording, enclosures or {})
            written = address(
                occasion,
                farm,
                is_rehearsal=is_rehearsal,
                state=state,
                links=links,
            )
            # Several messages of one cycle count against one day's budget.
            state = state.counting(written) if state is not None else None
            messages += written
    return messages


def _occasion(
    group: list[NightDecision],
    nights: dict[date, NightAssessment],
    farm: Farm,
    wording: Wording,
    source: SourceView,
) -> Occasion:
    """Return one message's matter from the nights that it speaks of."""
    group = sorted(group, key=lambda item: (_urgency(item), item.night))
    head = group[0]
    assert head.say is not None  # noqa: S101 - only spoken nights are grouped
    views: dict[date, NightView] = {
        night: night_view(record, farm, wording) for night, record in nights.items()
    }
    night = nights.get(head.night)
    values: dict[str, object] = {
        "farm": farm,
        "head": views.get(head.night),
        "night_name": wording.night(head.night),
        "change": change_words(head.change, wording) if head.change else "",
        "detail": head.detail,
        "others": [view for key, view in views.items() if key != head.night],
        "brief_reason": _brief_reason(source, night),
        "is_worse": head.why is Reason.GOT_WORSE,
        "calls_others": any(person.turn > 1 for person in farm.people),
        "is_passed_on": head.why is Reason.NOBODY_ANSWERED,
        **_turned(group, farm, wording),
        **_further(group, wording),
        "stop": wording.clock(head.remember.stop_utc),
        "source": source,
        "written": wording.moment(wording.now_utc),
        "rules": farm.rules,
        "night_caution": NIGHT_CAUTION,
        "sunset_matters": _is_before_dark(night, wording.now_utc),
        "is_late": _is_late(night, wording.now_utc),
        **_NO_PLAN,
        "ready_by": wording.clock(None if night is None else night.act_at_utc),
        "freezing": wording.temperature(0.0),
    }
    # A warning is of no use once the cold that it speaks of is over.
    end = wording.now_utc + _ROUTINE_LIFE
    if night is not None:
        end = night.cold_over_utc or night.end_utc
    end = max(end, wording.now_utc + _LATE)
    return Occasion(
        key=f"{farm.site.name}|{head.night}|{head.say}|{head.remember.revision}"
        + (f"|{wording.now_utc:%Y%m%d%H%M}" if head.people else ""),
        people=head.people,
        due_starts=head.due_starts,
        subject=head.say,
        night=head.night,
        values=values,
        now_utc=wording.now_utc,
        deadline_utc=end,
        is_blind=any(item.say is Subject.CANNOT_JUDGE for item in group),
        needed_by_utc=_needed_by(head, night, wording.now_utc),
        is_waking=any(item.is_waking for item in group),
        is_worse=any(item.why is Reason.GOT_WORSE for item in group),
        turns=_turns(group),
        nights=tuple(item.night for item in group),
        said=() if head.say in ENDINGS else tuple(map(_said, group)),
        thread=thread_id(farm, head.remember.episode or str(head.night)),
    )


def _turned(
    group: list[NightDecision], farm: Farm, wording: Wording
) -> dict[str, object]:
    """Return what was called for: what of it must not be started, and what may run."""
    called = group[0].remember.told_starts
    back = [option for item in group for option in item.revoked]
    again = [option for item in group for option in item.reinstated]
    return {
        "back": taken_back_view(back, wording) if back else None,
        "again": ", ".join(f"{item.equipment} in {item.block}" for item in again),
        "is_taken_back": all(_takes_back(item) for item in group),
        "was_called": bool(called),
        **what_may_run(called, farm),
    }


def _takes_back(item: NightDecision) -> bool:
    """Return whether nothing is new about a night but what must not be started."""
    is_news = bool(item.reinstated) or item.change is not None
    return item.why is Reason.TAKEN_BACK and not is_news


def _said(item: NightDecision) -> tuple[date, Tier, int]:
    """Return what an answer to the message would be about."""
    return item.night, item.remember.said, item.remember.revision


def _enclosing(
    occasion: Occasion,
    enclosures: Mapping[date, Enclosure],
    nights: Mapping[date, NightAssessment],
    farm: Farm,
    wording: Wording,
) -> Occasion:
    """Return an occasion with the plan and the picture of its night."""
    found = enclosures.get(occasion.night) if occasion.night is not None else None
    if found is None or occasion.subject in ENDINGS:
        return occasion
    night = nights.get(occasion.night) if occasion.night is not None else None
    if found.plan is not None and night is not None:
        occasion = _with_plan(occasion, found.plan, night, farm, wording)
    if found.picture is None:
        return occasion
    values = {**occasion.values, "picture_alt": found.picture.alt(wording)}
    attachments = (*occasion.attachments, found.picture.attachment())
    return replace(occasion, values=values, attachments=attachments)


def _with_facts(
    occasion: Occasion,
    group: list[NightDecision],
    nights: Mapping[date, NightAssessment],
    wording: Wording,
    enclosures: Mapping[date, Enclosure],
) -> Occasion:
    """Return a warning with what its mail is made of."""
    night = nights.get(occasion.night) if occasion.night is not None else None
    if night is None or occasion.subject not in _WARNINGS:
        return occasion
    found = enclosures.get(night.night)
    values = occasion.values
    return replace(
        occasion,
        words=_text_words(occasion),
        facts=NightFacts(
            subject=occasion.subject,
            night=night,
            plan=None if values["plan"] is None or found is None else found.plan,
            wording=wording,
            lead=ActionState(str(values["lead"])),
            ready_by=str(values["ready_by"]),
            due=occasion.due_starts,
            is_taken_back=bool(values["is_taken_back"]),
            urgent=_urgent(occasion),
            news=_news(occasion),
            order=_order(occasion),
            doubts=_doubts(occasion, night),
            source=_source_line(occasion),
            ahead=tuple(
                item
                for key, item in nights.items()
                if key > night.night and item.tier.rank
            ),
        ),
    )


def _text_words(occasion: Occasion) -> TextWords:
    """Return what a warning's text says beside the facts of its night."""
    values = occasion.values
    head, source, back = values["head"], values["source"], values["back"]
    assert isinstance(head, NightView)  # noqa: S101 - a warning is about a night
    assert isinstance(source, SourceView)  # noqa: S101
    return TextWords(
        back=back if isinstance(back, TakenBackView) else None,
        is_again=bool(values["again"]),
        change=str(values["change"]),
        also=str(values["also"]),
        error=head.plus_minus,
        source=source.short,
        is_passed_on=bool(values["is_passed_on"]),
        has_gap=bool(head.gap_note),
    )


def _urgent(occasion: Occasion) -> tuple[str, ...]:
    """Return what must not be started any more, and what may be after all."""
    back, again = occasion.values["back"], occasion.values["again"]
    lines = []
    if isinstance(back, TakenBackView):
        lines = [
            *back.lines,
            "You were called to start this; the forecast has changed since.",
        ]
    if again:
        lines.append(f"You may start this after all: {again}.")
    return tuple(lines)


def _order(occasion: Occasion) -> str:
    """Return in which order blocks need their start."""
    head = occasion.values["head"]
    assert isinstance(head, NightView)  # noqa: S101 - a warning is about a night
    return head.order


def _news(occasion: Occasion) -> tuple[str, ...]:
    """Return what must be said before all else in a warning's mail."""
    values, source = occasion.values, occasion.values["source"]
    assert isinstance(source, SourceView)  # noqa: S101 - set with the values
    news = []
    if source.warning:
        news.append(source.warning)
    if values["change"]:
        since = "It got worse" if values["is_worse"] else "Since you were told"
        news.append(f"{since}: {values['change']}.")
    if values["is_passed_on"]:
        news.append("Nobody who was told before has answered: it is your turn.")
    if values["is_late"] and occasion.subject is Subject.PREPARE:
        news.append("Time is short: begin with what counts most.")
    return tuple(news)


def _doubts(occasion: Occasion, night: NightAssessment) -> tuple[str, ...]:
    """Return what is not known or not sure about a warning's numbers."""
    head, source = occasion.values["head"], occasion.values["source"]
    assert isinstance(head, NightView)  # noqa: S101 - a warning is about a night
    assert isinstance(source, SourceView)  # noqa: S101
    doubts = [head.gap_note] if head.gap_note else []
    if head.second:
        doubts.append(f"{head.second}.")
    doubts += [f"{note[0].upper()}{note[1:]}." for note in source.doubts]
    unseen = [block.block for block in night.at_risk if block.stage.is_assumed]
    if unseen:
        doubts.append(f"Look at the buds, their stage is assumed: {', '.join(unseen)}.")
    return tuple(doubts)


def _source_line(occasion: Occasion) -> str:
    """Return where a warning's numbers come from, and where the others stand."""
    head, source = occasion.values["head"], occasion.values["source"]
    assert isinstance(head, NightView)  # noqa: S101 - a warning is about a night
    assert isinstance(source, SourceView)  # noqa: S101
    error = "" if head.plus_minus == "unknown" else f" Give or take {head.plus_minus}."
    return f"{source.made}.{error} All numbers and reasons: the attached page."


def _with_plan(
    occasion: Occasion,
    plan: Plan,
    night: NightAssessment,
    farm: Farm,
    wording: Wording,
) -> Occasion:
    """Return an occasion with a plan, in words and as a calendar."""
    starts, sunset = first_start_utc(plan), plan.sunset_utc
    lead = action_state(plan, was_called=bool(occasion.values["was_called"]))
    values = {
        **occasion.values,
        "plan": plan_view(plan, farm, wording),
        "plan_first": first_starts(plan, wording, occasion.due_starts),
        "lead": lead.value,
        "has_starts": starts is not None,
        "ready_by": wording.clock(ready_by_utc(plan, night)),
        "first_job": first_job(plan, wording),
        "sunset_matters": sunset is not None
        and not plan.is_dark
        and (starts is None or sunset <= starts),
        "with_hours": occasion.subject is not Subject.OUTLOOK,
    }
    attachments: tuple[Attachment, ...] = ()
    if plan.tasks and occasion.subject is not Subject.OUTLOOK:
        attachments = (plan_attachment(plan, farm, wording),)
    return replace(occasion, values=values, attachments=attachments)


def _turns(group: list[NightDecision]) -> tuple[int, ...]:
    """Return whom a message goes to: whoever is to hear of any of its nights."""
    if any(item.say in ENDINGS for item in group):
        return ()
    return tuple(sorted({turn for item in group for turn in item.turns} or {1}))


def thread_id(farm: Farm, episode: str) -> str:
    """Return the Message-ID that all mail of an episode refers to.

    The name of the holding goes in by a digest, so that a mail shows no more of it
    than its own subject does.
    """
    place = sha256(farm.site.name.encode()).hexdigest()[:12]
    return f"<episode-{episode}-{place}@frostalert.invalid>"


def _needed_by(
    head: NightDecision, night: NightAssessment | None, now_utc: datetime
) -> datetime | None:
    """Return when a message must be had at the latest; None if it can wait."""
    if head.say in (Subject.ACT, Subject.STAND_DOWN):
        return now_utc
    if night is None:
        return None
    if head.say is Subject.PREPARE:
        return night.send_by_utc or now_utc
    if head.say is Subject.CANNOT_JUDGE:
        return max(now_utc, night.start_utc)
    return None


def _brief_reason(source: SourceView, night: NightAssessment | None) -> str:
    """Return why a night cannot be judged, in few words."""
    if source.is_absent:
        return "no forecast"
    if source.warning:
        return "the forecast is too old"
    if night is not None and night.missing:
        return "hours are missing"
    return "a block's stage is not known"


def _further(group: list[NightDecision], wording: Wording) -> dict[str, object]:
    """Return the further nights of a message for a text: each was told by it."""
    names = [wording.month_day(item.night) for item in group[1:]]
    brief = f"+{len(names)} nights" if names else ""
    return {
        "also": ", ".join(names),
        "also_brief": brief,
        "is_bare": False,
        "night_short": wording.day(group[0].night),
    }


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
