"""What a reading that nobody has borne out hastens: the hours of starts, nothing else.

It takes nothing out of a plan and puts nothing in. But people are warned by it that
harm is at hand: what is to be started anyway starts then, not when it is done.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from frostalert.model.forecast import HOUR
from frostalert.model.plan import Option, Resource, Verdict
from frostalert.plan.allocation import Limits
from frostalert.plan.budgets import cold_hours_h

_BY_THE_HOUR = frozenset({Resource.WATER, Resource.FUEL})
_Supply = tuple[Resource, str]


def running_by_reading(
    options: Sequence[Option], by_reading: Sequence[Option]
) -> list[Option]:
    """Return options, those marked as running that are begun by the reading's hour.

    Parameters
    ----------
    options : sequence of Option
        What could be done without the reading.
    by_reading : sequence of Option
        The same by the reading; empty where there is no such reading.
    """
    begun = {item.pair for item in by_reading if item.is_running}
    return [
        replace(item, is_running=True) if item.pair in begun else item
        for item in options
    ]


def hastened(
    chosen: Sequence[Option],
    by_reading: Sequence[Option],
    limits: Limits,
    now_utc: datetime,
) -> list[Option]:
    """Return what is done, begun by the reading's hour where that is earlier.

    Parameters
    ----------
    chosen : sequence of Option
        What is done, chosen without the reading.
    by_reading : sequence of Option
        What could be done by the reading; empty where there is no such reading.
    limits : Limits
        What there is.
    now_utc : datetime
        The present moment.

    Returns
    -------
    list of Option
        What would not last to the morning from then on keeps its hour, and so does what
        the reading itself forbids to begin: a second look decides, minutes later.
    """
    known = {item.pair: item for item in reversed(by_reading) if _may_begin(item)}
    early = [_begun_by(item, known.get(item.pair), now_utc) for item in chosen]
    needed: dict[_Supply, float] = {}
    for item in early:
        for key, amount in _until_its_end(item, now_utc):
            needed[key] = needed.get(key, 0.0) + amount
    short = {key for key, most in limits.amounts.items() if needed.get(key, 0.0) > most}
    return [
        item if any(use[:2] in short for use in item.uses) else sooner
        for item, sooner in zip(chosen, early, strict=True)
    ]


def _may_begin(item: Option) -> bool:
    """Return whether it may begin by a reading, if the reading is right.

    Where water would not hold, or comes too late, it would do harm then: it waits for
    the forecast's hour, or for a second look.
    """
    is_forbidden = item.verdict is Verdict.NOT_TONIGHT or item.method.is_before_dark
    is_harmful = not item.method.harms_when.isdisjoint(item.grounds)
    return not is_forbidden and not is_harmful


def _begun_by(item: Option, read: Option | None, now_utc: datetime) -> Option:
    """Return one option with the earlier hour, and what it takes from then on."""
    if read is None or read.start_utc is None or item.start_utc is None:
        return item
    if read.start_utc >= item.start_utc:
        return item
    sooner = replace(item, start_utc=read.start_utc)
    begin, cold = max(read.start_utc, now_utc), item.cold_start_utc
    if cold is None or begin >= cold:
        return sooner
    before_h = cold_hours_h(item)
    longer = (before_h + (cold - begin) / HOUR) / before_h
    return replace(
        sooner,
        cold_start_utc=begin,
        uses=tuple(
            (kind, name, amount * longer if kind in _BY_THE_HOUR else amount)
            for kind, name, amount in item.uses
        ),
    )


def _until_its_end(item: Option, now_utc: datetime) -> Iterator[tuple[_Supply, float]]:
    """Give the water and the fuel that an option takes to the end of its hours.

    Of the night as it is expected: what a colder one would take, its budget tells.
    """
    if item.start_utc is None or item.end_utc is None:
        return
    running_h = max(0.0, (item.end_utc - max(item.start_utc, now_utc)) / HOUR)
    for kind, name, amount in item.uses:
        if kind in _BY_THE_HOUR:
            yield (kind, name), amount * running_h / cold_hours_h(item)
