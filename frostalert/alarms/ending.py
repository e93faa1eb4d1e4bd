"""How a told night ends: withdrawn, stood down, or closed without a word."""

from dataclasses import replace
from datetime import datetime, timedelta

from frostalert.alarms.look import Look
from frostalert.model.assessment import NightAssessment, Tier
from frostalert.model.notice import (
    Decision,
    NightDecision,
    NightHistory,
    Reason,
    Subject,
)
from frostalert.model.site import Rules

CLEAR_CYCLES = 2
"""Forecasts in a row that must no longer show a night; common practice, no source."""
_DAY = timedelta(days=1)


def maybe_end(
    past: NightHistory,
    night: NightAssessment,
    *,
    now_utc: datetime,
    rules: Rules,
    made_utc: datetime | None,
    is_good: bool,
    is_by_air: bool,
) -> NightDecision:
    """End a told night: the cold is over, or two good forecasts no longer show it.

    `is_by_air`: people were called to heat alone, which no wet bulb keeps lit.
    """
    highest = night.worst.probability if night.worst else None
    if not is_good or night.missing or highest is None:
        return silent(past, Reason.HELD_ON_BAD_DATA, night.reason)
    if night.cold_over_utc is not None and now_utc >= night.cold_over_utc:
        return _cold_is_over(past, night, now_utc, is_by_air=is_by_air)
    if highest >= rules.clear_probability:
        return silent(replace(past, clear_cycles=0), Reason.ALREADY_TOLD, night.reason)
    is_news = made_utc != past.last_forecast_utc
    cycles = past.clear_cycles + (1 if is_news else 0)
    kept = replace(past, clear_cycles=cycles, last_forecast_utc=made_utc)
    if cycles < CLEAR_CYCLES:
        return silent(kept, Reason.WAITING_TO_CLEAR, night.reason)
    return NightDecision(
        night=night.night,
        # Who started water must hear how to stop it, not that nothing was the matter.
        say=Subject.STAND_DOWN if past.told is Tier.ACT else Subject.WITHDRAWN,
        why=Reason.CLEARED,
        detail=night.reason,
        remember=replace(kept, is_closed=True, revision=past.revision + 1),
    )


def _cold_is_over(
    past: NightHistory, night: NightAssessment, now_utc: datetime, *, is_by_air: bool
) -> NightDecision:
    """Close a night whose cold hours are over; stand down only those who acted."""
    if past.told is not Tier.ACT:
        quiet = replace(past, is_closed=True, is_quiet=True)
        return silent(quiet, Reason.COLD_IS_OVER, night.reason)
    stop = night.heat_out_utc if is_by_air else night.stop_not_before_utc
    if stop is None or now_utc < stop:
        what = "air" if is_by_air else "wet bulb"
        detail = f"the {what} is not yet forecast above freezing"
        return silent(past, Reason.HELD_ON_BAD_DATA, detail)
    return NightDecision(
        night=night.night,
        say=Subject.STAND_DOWN,
        why=Reason.COLD_IS_OVER,
        detail=night.reason,
        remember=replace(past, is_closed=True, revision=past.revision + 1),
    )


def close_past(decision: Decision, look: Look) -> Decision:
    """Close the nights that lie behind the first that is still assessed."""
    first = look.assessment.nights[0]
    gone = tuple(
        close_gone(past, first, look.now_utc)
        for past in look.told.values()
        if past.night < first.night and not past.is_closed and past.told.rank
    )
    return replace(decision, nights=(*gone, *decision.nights))


def close_gone(
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
        return silent(closed, Reason.COLD_IS_OVER, detail)
    if first.tier is Tier.ACT:
        return silent(closed, Reason.GOES_ON, detail)
    if past.stop_utc is None or now_utc < past.stop_utc:
        return silent(past, Reason.HELD_ON_BAD_DATA, "no thaw was forecast")
    return NightDecision(
        night=past.night,
        say=Subject.STAND_DOWN,
        why=Reason.COLD_IS_OVER,
        detail=detail,
        remember=closed,
    )


def silent(remember: NightHistory, why: Reason, detail: str) -> NightDecision:
    """Say nothing, and record why."""
    return NightDecision(
        night=remember.night, say=None, why=why, detail=detail, remember=remember
    )
