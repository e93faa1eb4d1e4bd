"""What is new about each night, for whom it was news, and when to look again.

One pure function, `decide`: history and assessment in, decision with its reason out.
Missing data never clears anything.
"""

from dataclasses import replace
from datetime import date, datetime, timedelta

from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.notice import (
    Change,
    Decision,
    NightDecision,
    NightHistory,
    Subject,
    Why,
)
from frostalert.model.site import Rules

LOOK_EVERY = timedelta(hours=1)
_SOON = timedelta(minutes=1)
_DAY = timedelta(days=1)
CLEAR_CYCLES = 2
"""Forecasts in a row that must no longer show a night; common practice, no source."""
_SUBJECTS = {
    Tier.OUTLOOK: Subject.OUTLOOK,
    Tier.PREPARE: Subject.PREPARE,
    Tier.ACT: Subject.ACT,
}


def decide(
    history: dict[date, NightHistory],
    now_utc: datetime,
    assessment: Assessment,
    rules: Rules,
) -> Decision:
    """Return what is to be said about each night, and why.

    Parameters
    ----------
    history : dict of date to NightHistory
        What was said before.
    now_utc : datetime
        The present moment.
    assessment : Assessment
        What was found now.
    rules : Rules
        Limits and steps.

    Returns
    -------
    Decision
        One entry a night, spoken or not, and the next moment to look.

    References
    ----------
    .. [1] The steps are common practice, no source.
    """
    made = None if assessment.forecast is None else assessment.forecast.updated_utc
    is_good = assessment.forecast is not None and assessment.forecast.age_word in (
        "fresh",
        "ageing",
    )
    present = [
        _decide_night(
            history.get(night.night, NightHistory(night=night.night)),
            night,
            now_utc,
            rules,
            made_utc=made,
            is_good=is_good,
        )
        for night in assessment.nights
    ]
    first = assessment.nights[0]
    gone = [
        _close_gone(past, first, now_utc)
        for past in history.values()
        if past.night < first.night and not past.is_closed and past.told.rank
    ]
    return Decision(
        nights=(*gone, *present), next_look_utc=_next_look(assessment, now_utc)
    )


def _decide_night(
    past: NightHistory,
    night: NightAssessment,
    now_utc: datetime,
    rules: Rules,
    *,
    made_utc: datetime | None,
    is_good: bool,
) -> NightDecision:
    """Return what is to be said about one night."""
    if not past.is_closed:
        past = replace(past, stop_utc=night.stop_not_before_utc)
    told = Tier.NONE if past.is_closed else past.told
    said = Tier.NONE if past.is_closed else past.said
    if night.tier.rank > said.rank:
        return _speak(past, night, Why.TIER_ROSE, made_utc)
    if night.tier is Tier.CANNOT_JUDGE:
        # Where only a block without a stage cannot be judged, the others can end it.
        can_end = told is not Tier.NONE and not night.missing
        ending = (
            _maybe_end(past, night, now_utc, rules, made_utc=made_utc, is_good=is_good)
            if can_end
            else None
        )
        if ending is not None and ending.say is not None:
            return ending
        kept = past if ending is None else ending.remember
        return _cannot_judge(kept, night, now_utc)
    if night.tier.rank:
        return _still_at_risk(past, night, rules, made_utc)
    if told is Tier.NONE:
        return _silent(past, Why.NOTHING_THREATENS, night.reason)
    return _maybe_end(past, night, now_utc, rules, made_utc=made_utc, is_good=is_good)


def _still_at_risk(
    past: NightHistory,
    night: NightAssessment,
    rules: Rules,
    made_utc: datetime | None,
) -> NightDecision:
    """Say a told night again if it got worse, else nothing."""
    worse = _what_got_worse(past, night, rules)
    if worse:
        return _speak(past, night, Why.GOT_WORSE, made_utc, worse)
    kept = replace(past, clear_cycles=0, last_forecast_utc=made_utc)
    return _silent(kept, Why.ALREADY_TOLD, night.reason)


def _speak(
    past: NightHistory,
    night: NightAssessment,
    why: Why,
    made_utc: datetime | None,
    change: Change | None = None,
) -> NightDecision:
    """Say a night's tier."""
    low_c, running_by_utc = _extremes(night, _at_risk(night))
    # What is said is what is true now; what is remembered is the highest that was told.
    told = Tier.NONE if past.is_closed else past.told
    before = () if past.is_closed else past.told_blocks
    remember = replace(
        past,
        told=max(night.tier, told, key=_rank),
        said=night.tier,
        told_blocks=tuple(sorted({*before, *_at_risk(night)})),
        told_low_c=low_c,
        told_running_by_utc=running_by_utc,
        clear_cycles=0,
        last_forecast_utc=made_utc,
        revision=past.revision + 1,
        is_closed=False,
    )
    return NightDecision(
        night=night.night,
        say=_SUBJECTS[night.tier],
        why=why,
        detail=night.reason,
        remember=remember,
        change=change,
    )


def _what_got_worse(
    past: NightHistory, night: NightAssessment, rules: Rules
) -> Change | None:
    """Return what got worse by a step since people were told, if anything did."""
    # Not the worst block against the worst block: which one that is may change while
    # the forecast does not. Those that join are told by name.
    known = _at_risk(night) & set(past.told_blocks)
    low_c, running_by_utc = _extremes(night, known)
    colder_c, earlier = 0.0, timedelta(0)
    if past.told_low_c is not None and low_c is not None:
        colder_c = past.told_low_c - low_c
    if past.told_running_by_utc is not None and running_by_utc is not None:
        earlier = past.told_running_by_utc - running_by_utc
    is_colder, is_earlier = (
        colder_c >= rules.worse_step_c,
        earlier >= rules.earlier_step,
    )
    joined = tuple(sorted(_at_risk(night) - set(past.told_blocks)))
    if not is_colder and not is_earlier and not joined:
        return None
    return Change(
        joined=joined,
        colder_c=colder_c if is_colder else 0.0,
        earlier=earlier if is_earlier else timedelta(0),
    )


def _extremes(
    night: NightAssessment, names: set[str]
) -> tuple[float | None, datetime | None]:
    """Return the coldest deciding bud low of some blocks, and their first start."""
    blocks = [block for block in night.blocks if block.block in names]
    lows = [block.bud.low_c for block in blocks if block.bud]
    starts = [block.running_by_utc for block in blocks if block.running_by_utc]
    return min(lows, default=None), min(starts, default=None)


def _at_risk(night: NightAssessment) -> set[str]:
    """Return the blocks at risk."""
    return {block.block for block in night.at_risk}


def _cannot_judge(
    past: NightHistory, night: NightAssessment, now_utc: datetime
) -> NightDecision:
    """Say that a night cannot be judged, once and then daily."""
    last = past.cannot_judge_told_utc
    # A moment to come, after a backward step of the clock, counts as long ago.
    if last is not None and timedelta(0) <= now_utc - last < _DAY:
        return _silent(past, Why.HELD_ON_BAD_DATA, night.reason)
    why = Why.CANNOT_JUDGE if last is None else Why.STILL_CANNOT_JUDGE
    remember = replace(
        past, cannot_judge_told_utc=now_utc, revision=past.revision + 1, clear_cycles=0
    )
    return NightDecision(
        night=night.night,
        say=Subject.CANNOT_JUDGE,
        why=why,
        detail=night.reason,
        remember=remember,
    )


def _maybe_end(
    past: NightHistory,
    night: NightAssessment,
    now_utc: datetime,
    rules: Rules,
    *,
    made_utc: datetime | None,
    is_good: bool,
) -> NightDecision:
    """End a told night: the cold is over, or two good forecasts no longer show it."""
    highest = night.worst.probability if night.worst else None
    if not is_good or night.missing or highest is None:
        return _silent(past, Why.HELD_ON_BAD_DATA, night.reason)
    if night.cold_over_utc is not None and now_utc >= night.cold_over_utc:
        return _cold_is_over(past, night, now_utc)
    if highest >= rules.clear_probability:
        return _silent(replace(past, clear_cycles=0), Why.ALREADY_TOLD, night.reason)
    is_news = made_utc != past.last_forecast_utc
    cycles = past.clear_cycles + (1 if is_news else 0)
    kept = replace(past, clear_cycles=cycles, last_forecast_utc=made_utc)
    if cycles < CLEAR_CYCLES:
        return _silent(kept, Why.WAITING_TO_CLEAR, night.reason)
    return NightDecision(
        night=night.night,
        # Who started water must hear how to stop it, not that nothing was the matter.
        say=Subject.STAND_DOWN if past.told is Tier.ACT else Subject.WITHDRAWN,
        why=Why.CLEARED,
        detail=night.reason,
        remember=replace(kept, is_closed=True, revision=past.revision + 1),
    )


def _cold_is_over(
    past: NightHistory, night: NightAssessment, now_utc: datetime
) -> NightDecision:
    """Close a night whose cold hours are over; stand down only those who acted."""
    if past.told is not Tier.ACT:
        return _silent(replace(past, is_closed=True), Why.COLD_IS_OVER, night.reason)
    stop = night.stop_not_before_utc
    if stop is None or now_utc < stop:
        detail = "the wet bulb is not yet forecast above freezing"
        return _silent(past, Why.HELD_ON_BAD_DATA, detail)
    return NightDecision(
        night=night.night,
        say=Subject.STAND_DOWN,
        why=Why.COLD_IS_OVER,
        detail=night.reason,
        remember=replace(past, is_closed=True, revision=past.revision + 1),
    )


def _close_gone(
    past: NightHistory, first: NightAssessment, now_utc: datetime
) -> NightDecision:
    """Close a night that lies behind; those who acted are still told how to stop.

    Noon does not end the cold: where the next night already is at "act", it goes on
    under that night's name; and where no thaw was forecast, nobody is told that it is
    over. A night long gone is closed without a word.
    """
    closed = replace(past, is_closed=True, revision=past.revision + 1)
    detail = "the night is over by the clock, not by a measurement"
    is_long_gone = first.night - past.night > _DAY
    if past.told is not Tier.ACT or is_long_gone:
        return _silent(closed, Why.COLD_IS_OVER, detail)
    if first.tier is Tier.ACT:
        return _silent(closed, Why.GOES_ON, detail)
    if past.stop_utc is None or now_utc < past.stop_utc:
        return _silent(past, Why.HELD_ON_BAD_DATA, "no thaw was forecast")
    return NightDecision(
        night=past.night,
        say=Subject.STAND_DOWN,
        why=Why.COLD_IS_OVER,
        detail=detail,
        remember=closed,
    )


def _silent(remember: NightHistory, why: Why, detail: str) -> NightDecision:
    """Say nothing, and record why."""
    return NightDecision(
        night=remember.night, say=None, why=why, detail=detail, remember=remember
    )


def _rank(tier: Tier) -> int:
    """Return a tier's place in the order."""
    return tier.rank


def _next_look(assessment: Assessment, now_utc: datetime) -> datetime:
    """Return the next moment at which time alone changes something."""
    moments = [
        moment
        for night in assessment.nights
        for moment in (
            night.send_by_utc,
            night.act_at_utc,
            night.cold_over_utc if night.tier.rank else None,
            night.stop_not_before_utc if night.tier.rank else None,
        )
        if moment is not None and moment > now_utc
    ]
    earliest = min(moments, default=now_utc + LOOK_EVERY)
    return max(now_utc + _SOON, min(earliest, now_utc + LOOK_EVERY))
