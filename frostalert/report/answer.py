"""What the page begins with: the answer for tonight, and how sure it is."""

from dataclasses import dataclass
from datetime import datetime

from frostalert.messages.lead_words import (
    ActionState,
    action_state,
    if_it_still_runs,
    ready_by_utc,
)
from frostalert.messages.start_words import start_order
from frostalert.messages.views import night_doubts
from frostalert.messages.warning_letter import NightFacts, cold_of, verb_of
from frostalert.messages.wording import Wording, capital, chance
from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.nights import Nights
from frostalert.model.notice import NightHistory, Subject
from frostalert.model.plan import Plan
from frostalert.model.site import Farm

_SUBJECTS = {
    Tier.OUTLOOK: Subject.OUTLOOK,
    Tier.PREPARE: Subject.PREPARE,
    Tier.ACT: Subject.ACT,
}
_WITHOUT_FORECAST = (
    "That is not an all-clear. Read a thermometer at your coldest block this evening "
    "and through the night, and prepare as for a frost."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """The answer: what to do, how cold it gets, what is not known or not over."""

    title: str
    lines: tuple[str, ...]
    doubts: tuple[str, ...]


def answered(
    nights: Nights,
    shown: tuple[NightAssessment, ...],
    plan: Plan | None,
    history: NightHistory | None,
    now_utc: datetime,
) -> Answered:
    """Return the answer for the night that is meant."""
    night, wording = shown[-1], Wording(nights.farm.site, now_utc)
    if night.tier is Tier.CANNOT_JUDGE:
        title, lines = _cannot_judge(night, nights.assessment, wording)
    elif night.tier.rank:
        facts = _facts(night, plan, history, nights.farm, wording)
        title, lines = verb_of(facts), [cold_of(facts)]
    else:
        title, lines = _nothing(night, wording)
    lines += [_lasting(item, wording) for item in shown[:-1]]
    return Answered(
        title=title,
        lines=(*lines, *_ahead(night, nights.assessment, wording)),
        # What is missing is the answer itself where a night cannot be judged.
        doubts=() if night.tier is Tier.CANNOT_JUDGE else night_doubts(night, wording),
    )


def _facts(
    night: NightAssessment,
    plan: Plan | None,
    history: NightHistory | None,
    farm: Farm,
    wording: Wording,
) -> NightFacts:
    """Return what a mail about the night would be made of, so that both agree."""
    was_called = history is not None and bool(history.told_starts)
    lead, ready_by = ActionState.START, night.act_at_utc
    if plan is not None:
        lead = action_state(plan, was_called=was_called)
        ready_by = ready_by_utc(plan, night)
    return NightFacts(
        subject=_SUBJECTS[night.tier],
        night=night,
        plan=plan,
        wording=wording,
        lead=lead,
        ready_by=wording.clock(ready_by),
        due=(),
        is_taken_back=False,
        is_old=False,
        urgent=(),
        news=(),
        order=start_order(night, farm, wording),
        doubts=(),
        source="",
    )


def _cannot_judge(
    night: NightAssessment, assessment: Assessment, wording: Wording
) -> tuple[str, list[str]]:
    """Return what holds where a night cannot be judged."""
    why = assessment.problem or night.missing or night.reason
    name = wording.night(night.night)
    title = f"Frost risk unknown {name}: get ready as for a frost."
    return title, [_WITHOUT_FORECAST, f"Why: {why}."]


def _nothing(night: NightAssessment, wording: Wording) -> tuple[str, list[str]]:
    """Return what holds where nothing is at risk."""
    name = wording.night(night.night)
    if night.tier is Tier.NOT_COVERED_YET:
        return f"The forecast does not reach all of {name} yet.", []
    title = f"Nothing to do {name}: no block is at its warning limit."
    worst = night.likeliest
    if worst is None:
        return title, [f"{capital(night.reason)}."]
    low = wording.temperature(worst.site_low_c)
    threshold = worst.stage.threshold
    limit = wording.temperature(threshold.alarm_c if threshold else None)
    return title, [
        f"Nearest to harm: {worst.block}, down to {low}, harm at {limit}, chance "
        f"{chance(worst.probability)}."
    ]


def _lasting(night: NightAssessment, wording: Wording) -> str:
    """Return what holds for a night that is not over."""
    name = capital(wording.of_night(night.night))
    return f"{name} is not over. {if_it_still_runs(wording)}"


def _ahead(
    night: NightAssessment, assessment: Assessment, wording: Wording
) -> tuple[str, ...]:
    """Return the further nights at risk, in one line."""
    words = []
    for item in assessment.nights:
        if item.night <= night.night or not item.tier.rank:
            continue
        worst = item.likeliest
        odds = chance(worst.probability) if worst else "not known"
        words.append(f"{wording.night(item.night)} ({odds})")
    return (f"At risk after that: {', '.join(words)}.",) if words else ()
