"""Turn decisions into messages: one a person and channel, for all blocks together."""

import logging
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from hashlib import sha256

from frostalert.messages.addressing import AnswerLinks, address
from frostalert.messages.audience import RecipientState
from frostalert.messages.bare_words import bare_words
from frostalert.messages.cannot_judge import CannotJudgeWords
from frostalert.messages.compose_warning import with_warning
from frostalert.messages.endings import StandDownWords, WithdrawnWords
from frostalert.messages.lead_words import what_may_run
from frostalert.messages.occasion import Occasion
from frostalert.messages.picture import Enclosure
from frostalert.messages.views import SourceView, source_view
from frostalert.messages.wording import Wording
from frostalert.messages.words import Words
from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.notice import (
    ENDINGS,
    TO_OTHERS,
    Decision,
    Message,
    NightDecision,
    Reason,
    Subject,
)
from frostalert.model.site import Farm

_LOG = logging.getLogger(__name__)
_ROUTINE_LIFE = timedelta(hours=12)
_LATE = timedelta(minutes=30)
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
    nights = {night.night: night for night in assessment.nights}
    announced = decision.announced
    alarms = [item for item in announced if item.say in _URGENCY]
    # What is passed on to the next people is news to them alone.
    groups = [[item for item in alarms if item.why not in TO_OTHERS]]
    groups += [[item] for item in alarms if item.why in TO_OTHERS]
    groups += [[item] for item in announced if item.say in ENDINGS]
    messages: list[Message] = []
    for group in filter(None, groups):
        occasion = _occasion(group, nights, farm, wording)
        occasion = _in_full(occasion, group, assessment, farm, enclosures or {})
        written = address(
            occasion, farm, is_rehearsal=is_rehearsal, state=state, links=links
        )
        # Several messages of one cycle count against one day's budget.
        state = state.counting(written) if state is not None else None
        messages += written
    return messages


def _in_full(
    occasion: Occasion,
    group: list[NightDecision],
    assessment: Assessment,
    farm: Farm,
    enclosures: Mapping[date, Enclosure],
) -> Occasion:
    """Return an occasion with its full words, as far as they can be made.

    A message that says little is better than none: what cannot be put into words is
    left out, and logged.
    """
    group = _by_urgency(group)
    try:
        words = _plain_words(group, assessment, farm)
        if words is not None:
            return replace(occasion, words=words)
        return with_warning(occasion, group, assessment, farm, enclosures)
    except Exception:  # noqa: BLE001 - the message goes out in its fewest words
        _LOG.exception("a message could not be put into words")
        return occasion


def _plain_words(
    group: list[NightDecision], assessment: Assessment, farm: Farm
) -> Words | None:
    """Return what a message says that warns of nothing; None for a warning."""
    head, wording = group[0], Wording(farm.site, assessment.issued_utc)
    source = source_view(assessment, wording)
    judged = {night.night: night for night in assessment.nights}
    night = judged.get(head.night)
    match head.say:
        case Subject.CANNOT_JUDGE:
            others = [item for key, item in judged.items() if key != head.night]
            return CannotJudgeWords(
                night=head.night,
                wording=wording,
                why=head.detail,
                brief_why=_brief_reason(source, night),
                also=", ".join(wording.month_day(item.night) for item in group[1:]),
                ahead=tuple(i for i in others if i.tier is not Tier.NOT_COVERED_YET),
                in_force=source.in_force,
                source=f"{source.made}.",
                short_source=source.short,
            )
        case Subject.WITHDRAWN:
            return WithdrawnWords(
                night=head.night,
                judged=night,
                wording=wording,
                in_force=source.in_force,
                source=f"{source.made}.",
                short_source=source.short,
            )
        case Subject.STAND_DOWN:
            past = head.remember
            return StandDownWords(
                night=head.night,
                wording=wording,
                stop_utc=past.stop_utc,
                may_run=what_may_run(past.told_starts, past.told_blocks, farm),
                source=f"{source.made}.",
                short_source=source.short,
            )
        case _:
            return None


def _by_urgency(group: list[NightDecision]) -> list[NightDecision]:
    """Return a group's nights, the most urgent first, then by date."""
    return sorted(group, key=lambda item: (_urgency(item), item.night))


def _occasion(
    group: list[NightDecision],
    nights: dict[date, NightAssessment],
    farm: Farm,
    wording: Wording,
) -> Occasion:
    """Return to whom one message goes, until when, about what; in the fewest words."""
    group = _by_urgency(group)
    head = group[0]
    assert head.say is not None  # noqa: S101 - only spoken nights are grouped
    night = nights.get(head.night)
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
        bare=bare_words(head.say, head.night, night, wording),
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


def _said(item: NightDecision) -> tuple[date, Tier, int]:
    """Return what an answer to the message would be about."""
    return item.night, item.remember.said, item.remember.revision


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


def _urgency(item: NightDecision) -> int:
    """Return a spoken night's place among the others, the most urgent first."""
    return _URGENCY.index(item.say) if item.say in _URGENCY else len(_URGENCY)
