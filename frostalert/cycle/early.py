"""Take back what a clock that was ahead made the service say, and tell people so."""

import logging
from dataclasses import replace
from datetime import datetime, timedelta

from frostalert.messages.compose_service import compose_correction
from frostalert.model.assessment import Tier
from frostalert.model.notice import Message, NightHistory
from frostalert.model.site import Farm
from frostalert.model.start import Start, StartState
from frostalert.ports import EarlyBook

_LOG = logging.getLogger(__name__)
_EARLY = timedelta(minutes=30)
"""What was said by less too early stays said. Our own limit."""


def take_back_early(farm: Farm, book: EarlyBook, now_utc: datetime) -> bool:
    """Put right what bears a moment to come; return whether there was any.

    What was called by it is called again at its hour. What only asked people to get
    ready stays said: it was too early, and right.
    """
    limit = now_utc + _EARLY
    early = book.early_words(limit)
    if early is None:
        return False
    histories = [
        _put_right(history, limit, now_utc, is_ended=night in early.ended_nights)
        for night, history in book.night_histories(now_utc).items()
    ]
    told = early.called | early.ended
    messages: list[Message] = []
    if told:
        messages = compose_correction(farm, told, now_utc)
    book.put_right(histories, messages, limit, now_utc)
    _LOG.warning("the clock was ahead: what was said by it is taken back")
    return True


def _put_right(
    past: NightHistory, limit_utc: datetime, now_utc: datetime, *, is_ended: bool
) -> NightHistory:
    """Return what is remembered of a night without the calls of a time to come."""

    def come(moment: datetime | None) -> datetime | None:
        is_to_come = moment is not None and moment > limit_utc
        return now_utc if is_to_come else moment

    is_early = past.said_utc is not None and past.said_utc > limit_utc
    was_started = come(past.start_since_utc) != past.start_since_utc
    if is_ended:
        past = replace(past, is_closed=False)
    if is_early and past.told is Tier.ACT:
        past = replace(past, told=Tier.PREPARE, said=Tier.PREPARE)
    return replace(
        past,
        said_utc=None if is_early else past.said_utc,
        called_utc=come(past.called_utc),
        cannot_judge_told_utc=come(past.cannot_judge_told_utc),
        hands_since_utc=come(past.hands_since_utc),
        start_since_utc=None if was_started else past.start_since_utc,
        starts=tuple(_uncalled(start, limit_utc, now_utc) for start in past.starts),
    )


def _uncalled(start: Start, limit_utc: datetime, now_utc: datetime) -> Start:
    """Return a start as it was before a call of a time to come."""
    planned = start.planned_utc
    if planned is not None and planned > limit_utc:
        start = replace(start, planned_utc=now_utc)
    if start.called_utc is None or start.called_utc <= limit_utc:
        return start
    return replace(start, state=StartState.PLANNED, called_utc=None, revision=0)
