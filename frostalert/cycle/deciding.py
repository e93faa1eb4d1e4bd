"""Decide about the nights and plan them: one way for the service and for replay."""

from collections.abc import Callable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date

from frostalert.alarms.answers import standing_nights
from frostalert.alarms.due_starts import with_due_starts
from frostalert.alarms.newcomers import with_newcomers
from frostalert.alarms.policy import decide
from frostalert.alarms.present import nights_meant
from frostalert.alarms.taken_back import with_taken_back
from frostalert.cycle.planning import plan_nights, progress_of, with_told_starts
from frostalert.model.alarm import Answer
from frostalert.model.assessment import NightAssessment
from frostalert.model.nights import Nights
from frostalert.model.notice import Decision, NightHistory, Subject
from frostalert.model.plan import Plan
from frostalert.model.progress import Progress
from frostalert.model.site import Holding

PLANNED = (Subject.OUTLOOK, Subject.PREPARE, Subject.ACT)
"""What is said with a plan."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """What is to be said, and the plans that it was decided by.

    `told` is what people will have been told, this decision included.
    """

    decision: Decision
    nights: Nights
    told: Mapping[date, NightHistory]
    plans: Mapping[date, Plan]
    progress: Mapping[date, Progress]

    @property
    def meant(self) -> tuple[NightAssessment, ...]:
        """The nights that are meant by "tonight"."""
        return nights_meant(self.nights.assessment, self.told)

    def plan_of(self, night: date) -> Plan | None:
        """Return a night's plan, made by what was known before the decision."""
        if night in self.plans:
            return self.plans[night]
        return plan_nights(self.nights, {night}, self.progress).get(night)


def decide_nights(
    nights: Nights,
    holding: Holding,
    told: dict[date, NightHistory],
    addressed: Callable[[AbstractSet[date]], AbstractSet[tuple[date, str]]],
    answers: tuple[Answer, ...] = (),
) -> Decided:
    """Return what is to be said about each night, and why.

    Parameters
    ----------
    nights : Nights
        What was found now.
    holding : Holding
        People and rules.
    told : dict of date to NightHistory
        What was said before.
    addressed : callable
        Returns night and address of every message so far about some nights.
    answers : tuple of Answer
        What people answered to earlier messages.

    Returns
    -------
    Decided
        The decision with every start that is due.
    """
    assessment = nights.assessment
    now_utc = assessment.issued_utc
    decision = decide(
        told,
        now_utc,
        assessment,
        holding.rules,
        answers=answers,
        last_turn=max(person.turn for person in holding.people),
    )
    known = addressed(standing_nights(decision))
    decision = with_newcomers(decision, assessment, holding.people, known)
    progress = progress_of(told, answers)
    wanted = planned(decision) | standing_nights(decision)
    plans = plan_nights(nights, wanted, progress)
    decision = with_taken_back(decision, plans)
    decision = with_due_starts(decision, plans, told, assessment)
    decision = with_told_starts(decision, plans)
    return Decided(
        decision=decision,
        nights=nights,
        told={**told, **{item.night: item.remember for item in decision.nights}},
        plans=plans,
        progress=progress,
    )


def planned(decision: Decision) -> frozenset[date]:
    """Return the nights that people are to be warned of."""
    return frozenset(i.night for i in decision.spoken if i.say in PLANNED)
