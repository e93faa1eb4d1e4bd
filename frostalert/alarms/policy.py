"""What is new about each night by itself: the first step of a decision.

History and assessment in, decision with its reason out. Missing data never clears
anything.
"""

from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial

from frostalert.alarms.calling import SUBJECTS
from frostalert.alarms.change import (
    at_risk,
    extremes,
    likeliest_of,
    moved_away,
    what_changed,
    what_got_worse,
)
from frostalert.alarms.ending import maybe_end, silent
from frostalert.alarms.look import Look
from frostalert.model.assessment import NightAssessment, Tier
from frostalert.model.notice import (
    Change,
    Decision,
    NightDecision,
    NightHistory,
    Reason,
    Subject,
)
from frostalert.model.site import Rules

_SOON = timedelta(minutes=1)
_DAY = timedelta(days=1)
_BLIND_AGAIN = timedelta(hours=1)
SETTLE = timedelta(minutes=5)
"""For so long after people were told of a night, its getting worse can wait.

A look that is due, a fetch, a reading and an edit each decide for themselves, and may
do so within seconds; a fetch takes up to a minute. Longer than that, and short beside
the hour that is called. Our own rule.
"""
RAISE_CYCLES = 2
"""Forecasts in a row that must show a far night before it is told; the same."""
_FAR = timedelta(hours=60)
_HANDS = (Tier.PREPARE, Tier.ACT)
_START = (Tier.ACT,)
_CLEAR_MARGIN = 0.5
"""Chance of harm from which one forecast is enough; common practice, no source."""


def judge_nights(decision: Decision, look: Look) -> Decision:
    """Decide about each night by itself: it rose, got worse, ended, or nothing is new.

    References
    ----------
    .. [1] The rules are common practice, no source.
    """
    return replace(
        decision,
        nights=tuple(
            _decide_night(
                look.history(night.night),
                night,
                look.now_utc,
                look.rules,
                made_utc=look.made_utc,
                is_good=look.is_good,
                is_by_air=look.is_by_air(look.history(night.night)),
            )
            for night in look.assessment.nights
        ),
    )


def _decide_night(
    past: NightHistory,
    night: NightAssessment,
    now_utc: datetime,
    rules: Rules,
    *,
    made_utc: datetime | None,
    is_good: bool,
    is_by_air: bool,
) -> NightDecision:
    """Return what is to be said about one night."""
    end = partial(
        maybe_end,
        now_utc=now_utc,
        rules=rules,
        made_utc=made_utc,
        is_good=is_good,
        is_by_air=is_by_air,
    )
    past = _as_it_stands(past, night, is_good=is_good, is_by_air=is_by_air)
    told = Tier.NONE if past.is_closed else past.told
    said = Tier.NONE if past.is_closed else past.said
    if night.tier.rank > said.rank:
        return _rise(past, night, now_utc, made_utc)
    if night.tier is Tier.CANNOT_JUDGE:
        # Where only a block without a stage cannot be judged, the others can end it.
        can_end = told is not Tier.NONE and not night.missing
        ending = end(past, night) if can_end else None
        if ending is not None and ending.say is not None:
            return ending
        kept = past if ending is None else ending.remember
        return _cannot_judge(kept, night, now_utc)
    if night.tier.rank:
        return _still_at_risk(past, night, now_utc, rules, made_utc)
    if told is Tier.NONE:
        calm = replace(past, raise_cycles=0) if past.raise_cycles else past
        return silent(calm, Reason.NOTHING_THREATENS, night.reason)
    return end(past, night)


def _as_it_stands(
    past: NightHistory, night: NightAssessment, *, is_good: bool, is_by_air: bool
) -> NightHistory:
    """Return what is remembered of a night, brought up to what is found now."""
    if past.is_quiet and night.tier.rank:
        past = replace(past, is_closed=False, is_quiet=False)
    stop = night.heat_out_utc if is_by_air else night.stop_not_before_utc
    if not past.is_closed and past.stop_utc != stop:
        past = replace(past, stop_utc=stop)
    if past.is_blind and night.tier is not Tier.CANNOT_JUDGE and is_good:
        past = replace(past, is_blind=False)
    return past


def _rise(
    past: NightHistory,
    night: NightAssessment,
    now_utc: datetime,
    made_utc: datetime | None,
) -> NightDecision:
    """Say a night whose tier rose, unless it is far and may wait for a second word."""
    seen = _seen_again(past, made_utc)
    if _may_wait(seen, night, now_utc):
        return silent(seen, Reason.WAITING_TO_RAISE, night.reason)
    change = what_changed(past, night)
    return _speak(seen, night, Reason.TIER_ROSE, now_utc, made_utc, change=change)


def _still_at_risk(
    past: NightHistory,
    night: NightAssessment,
    now_utc: datetime,
    rules: Rules,
    made_utc: datetime | None,
) -> NightDecision:
    """Say a told night again if it got worse, else nothing."""
    worse = what_got_worse(past, night, rules)
    if worse and _can_settle(past, worse, now_utc):
        kept = replace(past, clear_cycles=0, last_forecast_utc=made_utc)
        return replace(silent(kept, Reason.JUST_CALLED, night.reason), change=worse)
    if worse:
        return _speak(past, night, Reason.GOT_WORSE, now_utc, made_utc, change=worse)
    kept = replace(past, clear_cycles=0, last_forecast_utc=made_utc)
    if night.tier.rank < past.said.rank and moved_away(past, night, rules):
        # When its hour comes after all, people must hear of it again.
        kept = replace(kept, said=night.tier)
    return silent(kept, Reason.ALREADY_TOLD, night.reason)


def _can_settle(past: NightHistory, worse: Change, now_utc: datetime) -> bool:
    """Return whether what got worse can wait, since people were told a moment ago.

    It can where it asks nothing of them that they were not asked: their blocks are the
    same, a higher tier is a rise, and each start has its own call, which never waits.
    What was told stays what it was: it is said when the time is over, if it stays so.
    """
    said = past.said_utc
    # A moment to come, after a backward step of the clock, counts as long ago.
    return (
        said is not None
        and timedelta(0) <= now_utc - said < SETTLE
        and not worse.joined
    )


def _speak(
    past: NightHistory,
    night: NightAssessment,
    why: Reason,
    now_utc: datetime,
    made_utc: datetime | None,
    *,
    change: Change | None = None,
) -> NightDecision:
    """Say a night's tier."""
    if past.is_closed:
        # What was called for before it ended has been stopped: it is called for anew.
        past = replace(past, starts=())
    low_c, running_by_utc = extremes(night, at_risk(night))
    turn = 1 if past.is_closed else max(past.called_turn, 1)
    # What is said is what is true now; what is remembered is the highest that was told.
    told = Tier.NONE if past.is_closed else past.told
    before = () if past.is_closed else past.told_blocks
    remember = replace(
        past,
        told=max(night.tier, told, key=_rank),
        said=night.tier,
        told_blocks=tuple(sorted({*before, *at_risk(night)})),
        told_low_c=low_c,
        told_probability=likeliest_of(night, at_risk(night)),
        told_running_by_utc=running_by_utc,
        clear_cycles=0,
        raise_cycles=0,
        last_forecast_utc=made_utc,
        revision=past.revision + 1,
        said_revision=past.revision + 1,
        said_utc=now_utc,
        called_turn=turn,
        is_closed=False,
        hands_since_utc=_since(past, past.hands_since_utc, night, _HANDS, now_utc),
        start_since_utc=_since(past, past.start_since_utc, night, _START, now_utc),
    )
    return NightDecision(
        night=night.night,
        say=SUBJECTS[night.tier],
        why=why,
        detail=night.reason,
        remember=remember,
        change=change,
        # At most one message a tier and night may wake people.
        is_waking=night.tier in (Tier.PREPARE, Tier.ACT)
        and night.tier.rank > told.rank,
        turns=remember.turns,
    )


def _since(
    past: NightHistory,
    before_utc: datetime | None,
    night: NightAssessment,
    tiers: tuple[Tier, ...],
    now_utc: datetime,
) -> datetime | None:
    """Return when people were first called to something, this time included."""
    if not past.is_closed and before_utc is not None:
        return before_utc
    return now_utc if night.tier in tiers else None


def _seen_again(past: NightHistory, made_utc: datetime | None) -> NightHistory:
    """Count the forecasts in a row that show a night nobody was told of."""
    is_news = made_utc != past.last_forecast_utc or not past.raise_cycles
    return replace(
        past,
        raise_cycles=past.raise_cycles + (1 if is_news else 0),
        last_forecast_utc=made_utc,
    )


def _may_wait(seen: NightHistory, night: NightAssessment, now_utc: datetime) -> bool:
    """Return whether a far night may wait for a second forecast before it is told.

    Never one that calls for hands, is near, is more likely than not, or was told.
    """
    if night.tier is not Tier.OUTLOOK or (seen.told.rank and not seen.is_closed):
        return False
    if night.start_utc - now_utc < _FAR or seen.raise_cycles >= RAISE_CYCLES:
        return False
    chance = night.worst.probability if night.worst else None
    return chance is not None and chance < _CLEAR_MARGIN


def _cannot_judge(
    past: NightHistory, night: NightAssessment, now_utc: datetime
) -> NightDecision:
    """Say that a night cannot be judged, once and then daily."""
    last = past.cannot_judge_told_utc
    # Where the data had come back in between, people believe that it is watched.
    wait = _DAY if past.is_blind else _BLIND_AGAIN
    # A moment to come, after a backward step of the clock, counts as long ago.
    if last is not None and timedelta(0) <= now_utc - last < wait:
        return silent(past, Reason.HELD_ON_BAD_DATA, night.reason)
    why = Reason.CANNOT_JUDGE if last is None else Reason.STILL_CANNOT_JUDGE
    remember = replace(
        past,
        cannot_judge_told_utc=now_utc,
        cannot_judge_revision=past.revision + 1,
        is_blind=True,
        revision=past.revision + 1,
        clear_cycles=0,
    )
    return NightDecision(
        night=night.night,
        say=Subject.CANNOT_JUDGE,
        why=why,
        detail=night.reason,
        remember=remember,
        # Whoever was called for this night must hear that it is flown blind.
        turns=remember.turns,
    )


def _rank(tier: Tier) -> int:
    """Return a tier's place in the order."""
    return tier.rank
