"""What is said of stages that were seen, and of what they change."""

from datetime import date

from frostalert.messages.wording import Wording
from frostalert.model.job_sheet import BlockLimit


def seen_words(seen: date, today: date) -> str:
    """Return when a block was looked at.

    Examples
    --------
    >>> seen_words(date(2026, 4, 6), date(2026, 4, 12))
    'seen 6 days ago'
    """
    days = (today - seen).days
    if days < 0:
        return f"seen {seen}, a future date"
    return {0: "seen today", 1: "seen yesterday"}.get(days, f"seen {days} days ago")


def change_words(before: BlockLimit, after: BlockLimit, wording: Wording) -> str:
    """Return what a look changes about tonight."""
    if after.limit_c is None:
        return (
            "It is not watched tonight."
            if before.limit_c is None
            else "From now on it is not watched."
        )
    limit = wording.temperature(after.limit_c)
    if before.limit_c is None:
        return f"It is watched from now on; tonight's limit is {limit}."
    earlier = wording.temperature(before.limit_c)
    if earlier == limit:
        return f"Tonight's limit stays at {limit}."
    return f"Tonight's limit goes from {earlier} to {limit}."


def back_words(block: str, before: str, seen: date, after: str) -> str:
    """Return what to ask where a stage would go backwards."""
    return (
        f"{block} was at {before} on {seen}; {after} comes before that, and buds do "
        "not go back."
    )
