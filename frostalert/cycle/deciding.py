"""Decide about the nights and plan them: one way for the service and for replay."""

from collections.abc import Callable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from datetime import date

from frostalert.alarms.look import Look
from frostalert.alarms.present import nights_meant
from frostalert.alarms.steps import decide
from frostalert.cycle.planning import plan_nights, progress_of
from frostalert.model.alarm import Answer
from frostalert.model.assessment import NightAssessment
from frostalert.model.nights import Nights
from frostalert.model.notice import Decision, NightHistory
from frostalert.model.plan import Plan
from frostalert.model.progress import Progress
from frostalert.model.site import Farm
from frostalert.ports import Bench


@dataclass(frozen=True, slots=True, kw_only=True)
class Plans:
    """The plans of the nights, each made once, when it is first asked for.

    All rest on what people were told and answered before the look.
    """

    nights: Nights
    progress: Mapping[date, Progress]
    bench: Bench | None = None
    _made: dict[date, Plan | None] = field(default_factory=dict)
    _late: set[date] = field(default_factory=set)

    def of(self, night: date) -> Plan | None:
        """Return a night's plan; none where nothing is at risk."""
        if night not in self._made:
            self._made[night] = self._there(night)
        return self._made[night]

    def is_late(self, night: date) -> bool:
        """Return whether a night's plan takes longer than it is waited for."""
        self.of(night)
        return night in self._late

    def _there(self, night: date) -> Plan | None:
        """Return a night's plan if it is there in time."""

        def make() -> Plan | None:
            return plan_nights(self.nights, {night}, self.progress).get(night)

        if self.bench is None:
            return make()
        forecast = self.nights.assessment.forecast
        made_utc = None if forecast is None else forecast.updated_utc
        plan, is_late = self.bench.made(night, made_utc, make)
        if is_late:
            self._late.add(night)
        return plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """What is to be said, and the plans that it was decided by.

    `told` is what people will have been told, this decision included.
    """

    decision: Decision
    nights: Nights
    told: Mapping[date, NightHistory]
    plans: Plans

    @property
    def meant(self) -> tuple[NightAssessment, ...]:
        """The nights that are meant by "tonight"."""
        return nights_meant(self.nights.assessment, self.told)


def decide_nights(
    nights: Nights,
    farm: Farm,
    told: Mapping[date, NightHistory],
    addressed: Callable[[AbstractSet[date]], AbstractSet[tuple[date, str]]],
    answers: tuple[Answer, ...] = (),
    *,
    bench: Bench | None = None,
) -> Decided:
    """Return what is to be said about each night, and why."""
    now_utc = nights.assessment.issued_utc
    progress = progress_of(told, answers, now_utc)
    plans = Plans(nights=nights, progress=progress, bench=bench)
    if bench is not None:
        bench.begin()
    decision = decide(
        Look(
            assessment=nights.assessment,
            told=told,
            rules=farm.rules,
            people=farm.people,
            answers=answers,
            addressed=addressed,
            plan_of=plans.of,
            is_plan_late=plans.is_late,
            burning={item.name for item in farm.equipment if item.method.burns},
        )
    )
    return Decided(
        decision=decision,
        nights=nights,
        told={**told, **{item.night: item.remember for item in decision.nights}},
        plans=plans,
    )
