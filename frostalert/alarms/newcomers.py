"""People who came on the list, or have a new address, after a night was told."""

from collections.abc import Set as AbstractSet
from dataclasses import replace
from datetime import date

from frostalert.alarms.answers import calls_for_hands
from frostalert.alarms.calling import SUBJECTS
from frostalert.model.assessment import Assessment, NightAssessment
from frostalert.model.notice import Decision, NightDecision, Why
from frostalert.model.site import Person


def calling_nights(decision: Decision) -> frozenset[date]:
    """Return the nights that call for hands and of which nothing new is said.

    Parameters
    ----------
    decision : Decision
        What is to be said.

    Returns
    -------
    frozenset of date
        Whoever is on the list must have been told of them.

    References
    ----------
    .. [1] Definition.
    """
    return frozenset(item.night for item in decision.nights if _is_calling(item))


def with_newcomers(
    decision: Decision,
    assessment: Assessment,
    people: tuple[Person, ...],
    addressed: AbstractSet[tuple[date, str]],
) -> Decision:
    """Return a decision that also tells those whom the list had not before.

    Parameters
    ----------
    decision : Decision
        What is to be said.
    assessment : Assessment
        What is found now.
    people : tuple of Person
        Everybody on the list.
    addressed : set of (date, str)
        Night and address of every message so far.

    Returns
    -------
    Decision
        A night that calls for hands is told again to whoever it was never addressed
        to, if their turn has come.

    References
    ----------
    .. [1] Common practice, no source: who is on the list tonight must know tonight.
    """
    records = {night.night: night for night in assessment.nights}
    nights = tuple(
        _also_told(item, records.get(item.night), people, addressed)
        for item in decision.nights
    )
    return replace(decision, nights=nights)


def _is_calling(item: NightDecision) -> bool:
    """Return whether a night was told, calls for hands, and has no news."""
    is_told = item.say is None and item.why is Why.ALREADY_TOLD
    return is_told and calls_for_hands(item.remember)


def _also_told(
    item: NightDecision,
    record: NightAssessment | None,
    people: tuple[Person, ...],
    addressed: AbstractSet[tuple[date, str]],
) -> NightDecision:
    """Return a night's decision, said to those who were never told of it."""
    if not _is_calling(item) or record is None or record.worst is None:
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
        say=SUBJECTS[said],
        why=Why.NEWLY_LISTED,
        is_waking=True,
        people=new,
    )
