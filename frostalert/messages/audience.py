"""Who hears of an occasion, and what holds a message back for a while. Pure."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from frostalert.alarms.answers import silence_asked
from frostalert.messages.occasion import Occasion
from frostalert.model.alarm import Answer
from frostalert.model.assessment import Tier
from frostalert.model.notice import Message, MessageClass, Subject
from frostalert.model.site import Farm, Person

MOST_WARNINGS_A_DAY = 3
"""Budget of a person's day; common practice, no source. What cannot wait is exempt."""
_ALARMS = {Subject.OUTLOOK: Tier.OUTLOOK, Subject.PREPARE: Tier.PREPARE}
_ALARMS[Subject.ACT] = Tier.ACT
WARNINGS = frozenset(_ALARMS)
"""Subjects that warn of a night."""
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipientState:
    """What people asked for, and what they were already sent.

    Attributes
    ----------
    answers : tuple of Answer
        What they answered to earlier messages.
    warnings_today, warnings_tomorrow : mapping of str to int
        Messages of the class "warning" that reach each person on this local day, and,
        held for the morning, on the next.
    tomorrow_utc : datetime or None
        When the next local day begins.
    unreached : frozenset of str
        Whom nothing that was tried of late has reached.
    """

    answers: tuple[Answer, ...] = ()
    warnings_today: Mapping[str, int] = field(default_factory=dict)
    warnings_tomorrow: Mapping[str, int] = field(default_factory=dict)
    tomorrow_utc: datetime | None = None
    unreached: frozenset[str] = frozenset()

    def counting(self, messages: Iterable[Message]) -> "RecipientState":
        """Return the state after some messages of one occasion were queued."""
        counted = [m for m in messages if m.message_class is MessageClass.WARNING]
        held = {m.person for m in counted if self._is_for_tomorrow(m)}
        today = {m.person for m in counted if not self._is_for_tomorrow(m)}
        return replace(
            self,
            warnings_today=Counter(self.warnings_today) + Counter(today),
            warnings_tomorrow=Counter(self.warnings_tomorrow) + Counter(held),
        )

    def _is_for_tomorrow(self, message: Message) -> bool:
        """Return whether a message is held beyond the present local day."""
        held, tomorrow = message.held_until_utc, self.tomorrow_utc
        return held is not None and tomorrow is not None and held >= tomorrow


@dataclass(frozen=True, slots=True, kw_only=True)
class Delay:
    """Until when a message waits, and why."""

    until_utc: datetime
    reason: str


def recipients(occasion: Occasion, farm: Farm) -> tuple[Person, ...]:
    """Return the people who are to hear of an occasion."""
    people = farm.people
    if occasion.subject is Subject.OPERATOR:
        return _operators(people, occasion.unreached, occasion.about)
    if occasion.people:
        return tuple(p for p in people if p.name in occasion.people)
    if occasion.turns:
        people = tuple(p for p in people if p.turn in occasion.turns)
    tier = _ALARMS.get(occasion.subject)
    if tier is None or occasion.is_blind:
        return people
    return tuple(p for p in people if tier.rank >= p.floor.rank)


def _operators(
    people: tuple[Person, ...], unreached: frozenset[str], about: str | None = None
) -> tuple[Person, ...]:
    """Return who is told about the service: operators, if anything reaches them.

    Nobody is told of themselves that nothing reaches them.
    """
    people = tuple(p for p in people if p.name != about)
    operators = tuple(p for p in people if p.is_operator) or people
    if any(p.name not in unreached for p in operators):
        return operators
    # They are told all the same, and whoever can be reached beside them.
    return operators + tuple(p for p in people if p not in operators)


def delay_reason(
    person: Person, occasion: Occasion, farm: Farm, state: RecipientState
) -> Delay | None:
    """Return what holds a message to a person back, if anything does.

    Nothing that cannot wait is held for quiet hours or for the day's budget. What a
    person put off is held whatever it is, unless its tier is higher.
    """
    now_utc = occasion.now_utc
    holds = []
    tier = _ALARMS.get(occasion.subject)
    if tier is not None:
        asked = silence_asked(person.name, tier, state.answers, now_utc)
        if asked is not None and asked.until_utc is not None:
            reason = f"{person.name} put it off"
            holds.append(Delay(until_utc=asked.until_utc, reason=reason))
    zone = ZoneInfo(farm.site.time_zone)
    local = now_utc.astimezone(zone)
    quiet = _quiet_hours(person, local)
    arrives = local if quiet is None else quiet.until_utc.astimezone(zone)
    is_tomorrow = arrives.date() > local.date()
    counts = state.warnings_tomorrow if is_tomorrow else state.warnings_today
    spent = _spent(person, occasion, farm, counts, arrives)
    waits = [quiet, spent]
    needed_by = occasion.needed_by_utc
    holds += [
        hold
        for hold in waits
        if hold is not None and (needed_by is None or hold.until_utc <= needed_by)
    ]
    return max(holds, key=lambda hold: hold.until_utc, default=None)


def _quiet_hours(person: Person, local: datetime) -> Delay | None:
    """Return the rest of a person's quiet hours, if they are on."""
    start, end = person.quiet_from, person.quiet_to
    if start is None or end is None:
        return None
    clock = local.time()
    is_over_midnight = start > end
    is_on = clock >= start or clock < end if is_over_midnight else start <= clock < end
    if not is_on:
        return None
    day = local.date() + (_DAY if is_over_midnight and clock >= start else timedelta(0))
    until = datetime.combine(day, end, tzinfo=local.tzinfo)
    return Delay(until_utc=until, reason=f"quiet hours of {person.name}")


def _spent(
    person: Person,
    occasion: Occasion,
    farm: Farm,
    counts: Mapping[str, int],
    local: datetime,
) -> Delay | None:
    """Return the wait for the next morning when a day's warnings are spent."""
    is_counted = occasion.message_class is MessageClass.WARNING
    if not is_counted or occasion.is_worse:
        return None
    if counts.get(person.name, 0) < MOST_WARNINGS_A_DAY:
        return None
    morning = datetime.combine(
        local.date() + _DAY, farm.rules.daily_line_at, tzinfo=local.tzinfo
    )
    reason = f"{MOST_WARNINGS_A_DAY} warnings were sent to {person.name} that day"
    return Delay(until_utc=morning, reason=reason)
