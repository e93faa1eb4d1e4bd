"""An outlook that only repeats itself is no message of its own.

A mail for each forecast, of which none asks for anything, teaches people not to read
them. The daily line tells it; a message about another night takes it along.
"""

from dataclasses import replace

from frostalert.alarms.look import Look
from frostalert.model.notice import Decision, NightDecision, Reason, Subject


def hold_repeats(decision: Decision, look: Look) -> Decision:
    """Say no outlook again that got worse, if that is all there is to say."""
    if not all(_is_repeat(item) for item in decision.announced):
        return decision
    nights = tuple(_held(item, look) for item in decision.nights)
    return replace(decision, nights=nights)


def _is_repeat(item: NightDecision) -> bool:
    """Return whether a night is only said again because it got worse, far off still."""
    return item.say is Subject.OUTLOOK and item.why is Reason.GOT_WORSE


def _held(item: NightDecision, look: Look) -> NightDecision:
    """Return a night not said again: what people were told stays what it was."""
    if not _is_repeat(item):
        return item
    remember = replace(
        look.history(item.night),
        clear_cycles=0,
        last_forecast_utc=look.made_utc,
        stop_utc=item.remember.stop_utc,
        is_blind=item.remember.is_blind,
    )
    return replace(
        item,
        say=None,
        why=Reason.NOTHING_TO_DO_YET,
        remember=remember,
        is_waking=False,
    )
