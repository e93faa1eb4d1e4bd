"""Which night is meant by "tonight": the one that lasts, or the coming one."""

from collections.abc import Mapping
from datetime import date, datetime

from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.notice import NightHistory


def nights_meant(
    assessment: Assessment, told: Mapping[date, NightHistory]
) -> tuple[NightAssessment, ...]:
    """Return the nights that somebody who asks about tonight means.

    References
    ----------
    .. [1] Common practice, no source.
    """
    first, *others = assessment.nights
    if not others or not _is_over(first, told.get(first.night), assessment.issued_utc):
        return (first,)
    is_open = _is_open(told.get(first.night)) or first.tier is Tier.CANNOT_JUDGE
    return (first, others[0]) if is_open else (others[0],)


def _is_over(
    night: NightAssessment, history: NightHistory | None, now_utc: datetime
) -> bool:
    """Return whether the sun is up and nothing of a night is left to be feared."""
    if now_utc < (night.sunrise_utc or night.end_utc):
        return False
    is_ended = history is not None and history.is_closed and bool(history.told.rank)
    return is_ended or not night.tier.rank


def _is_open(history: NightHistory | None) -> bool:
    """Return whether people were told of a night and nothing has ended it."""
    return history is not None and bool(history.told.rank) and not history.is_closed
