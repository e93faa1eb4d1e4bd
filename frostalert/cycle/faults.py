"""Faults of the service: told once, then daily, until they are gone. Pure."""

from collections.abc import Collection
from dataclasses import replace
from datetime import datetime, timedelta

from frostalert.cycle.doubted import STOPPED
from frostalert.messages.compose_service import WORD_LIFE
from frostalert.ports import UNPROVEN, UNREACHED, Fault

_DAY = timedelta(days=1)
_ABOUT = tuple(f"delivery-{name}" for name in (UNREACHED, UNPROVEN))
_BLINDING = ("fetch", "forecast-old", "job-fetch", "job-look")
"""Faults after which nights are judged by what is too old, or not at all."""
_OF_SOURCES = ("source-", STOPPED)


def about_whom(key: str) -> str | None:
    """Return the person whom a fault says that nothing has reached, if it does.

    Examples
    --------
    >>> about_whom("delivery-unreached Ana of the Hill 2026-04-12")
    'Ana of the Hill'
    >>> about_whom("delivery-email") is None
    True
    """
    for start in _ABOUT:
        if key.startswith(start):
            return key.removeprefix(start).rpartition(" ")[0]
    return None


def leaves_unjudged(
    key: str, present: Collection[str], sources: Collection[str], *, is_blind: bool
) -> bool:
    """Return whether a fault leaves the coming night unjudged.

    That a source has stopped does so where no other goes on.
    """
    if key.startswith(_OF_SOURCES):
        stopped = {name for name in sources if f"{STOPPED}{name}" in present}
        away = {name for name in sources if f"source-{name}" in present}
        is_last = bool(stopped) and set(sources) == stopped | away
        return is_blind or (is_last and key.startswith(STOPPED))
    return key in _BLINDING


def note_faults(
    open_faults: dict[str, Fault],
    present: dict[str, str],
    now_utc: datetime,
    *,
    patience: dict[str, timedelta],
    heard_utc: datetime | None,
) -> tuple[dict[str, Fault], list[Fault]]:
    """Return the faults that are open now, and those that people must hear of."""
    kept, to_tell = {}, []
    for key, detail in present.items():
        before = open_faults.get(key)
        since = before.since_utc if before else now_utc
        told = before.told_utc if before else None
        if told is not None and now_utc - told >= WORD_LIFE:
            told = told if heard_utc is not None and heard_utc >= told else None
        fault = Fault(key=key, detail=detail, since_utc=since, told_utc=told)
        since = min(since, now_utc)
        is_ripe = now_utc - since >= patience.get(key, timedelta(0))
        # A moment to come, after a backward step of the clock, counts as long ago.
        is_due = told is None or not timedelta(0) <= now_utc - told < _DAY
        if is_ripe and is_due:
            fault = replace(fault, told_utc=now_utc)
            to_tell.append(fault)
        kept[key] = fault
    return kept, to_tell
