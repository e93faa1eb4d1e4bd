"""People who came on the list, or have a new address, after a night was told."""

from collections.abc import Set as AbstractSet
from dataclasses import replace
from datetime import date

from frostalert.alarms.answers import is_standing, standing_nights
from frostalert.alarms.calling import SUBJECTS
from frostalert.alarms.look import Look
from frostalert.model.assessment import NightAssessment, Tier
from frostalert.model.notice import Decision, NightDecision, Reason, Subject
from frostalert.model.site import Person


def tell_new_recipients(decision: Decision, look: Look) -> Decision:
    """Tell those whom the list had not before of nights that were told.

    References
    ----------
    .. [1] Common practice, no source: who is on the list tonight must know tonight.
    """
    addressed = look.addressed(standing_nights(decision))
    nights = tuple(
        _also_told(item, look.record(item.night), look.people, addressed)
        for item in decision.nights
    )
    return replace(decision, nights=nights)


def _also_told(
    item: NightDecision,
    record: NightAssessment | None,
    people: tuple[Person, ...],
    addressed: AbstractSet[tuple[date, str]],
) -> NightDecision:
    """Return a night's decision, said to those who were never told of it."""
    if not is_standing(item) or record is None or _may_end(item, record):
        return item
    said = item.remember.said
    new = tuple(
        person.name
        for person in people
        if person.turn <= max(item.remember.called_turn, 1)
        and person.floor.rank <= said.rank
        and not any(
            (item.night, person.address(channel)) in addressed
            for channel in person.channels
        )
    )
    if not new:
        return item
    return replace(
        item,
        say=_subject(said, record),
        why=Reason.NEWLY_LISTED,
        change=None,
        is_waking=True,
        people=new,
    )


def _may_end(item: NightDecision, record: NightAssessment) -> bool:
    """Return whether a night that nobody is called to start for may soon be withdrawn.

    Whoever is new is not woken for it; if it turns cold again, they hear with it.
    """
    return item.remember.said is not Tier.ACT and record.tier is Tier.NONE


def _subject(said: Tier, record: NightAssessment) -> Subject:
    """Return what new people are told: what was said, or that it is flown blind."""
    if record.worst is None or record.tier is Tier.CANNOT_JUDGE:
        return Subject.CANNOT_JUDGE
    return SUBJECTS[said]
