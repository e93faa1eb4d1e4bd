"""Plans of the nights that people are warned of, and what they were called to start."""

import logging
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import replace
from datetime import date

from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import NightAssessment
from frostalert.model.nights import Nights
from frostalert.model.notice import Decision, NightHistory, Subject
from frostalert.model.plan import Plan
from frostalert.model.progress import Progress
from frostalert.model.site import Holding
from frostalert.plan.gains import with_measured_gains
from frostalert.plan.plan import make_plan

_LOG = logging.getLogger(__name__)


def plan_nights(
    nights: Nights, wanted: AbstractSet[date], progress: Mapping[date, Progress]
) -> dict[date, Plan]:
    """Return the plans of some nights; a night that no plan can be made for has none.

    A defect in a plan must not silence the warning that it belongs to.
    """
    plans: dict[date, Plan] = {}
    for record in nights.assessment.nights:
        if record.night not in wanted or not record.at_risk:
            continue
        known = progress.get(record.night, Progress())
        try:
            plans[record.night] = plan_night(nights, record, known)
        except Exception:  # noqa: BLE001 - the warning goes out without a plan
            _LOG.exception("no plan could be made for the night %s", record.night)
    return plans


def plan_night(nights: Nights, record: NightAssessment, progress: Progress) -> Plan:
    """Return the plan of one of the nights, with what equipment gained here."""
    return make_plan(nights, record, farm=equipped(nights), progress=progress)


def equipped(nights: Nights) -> Holding:
    """Return the farm with what its equipment gained here."""
    return with_measured_gains(nights.farm, nights.facts.gain_nights)


def progress_of(
    told: Mapping[date, NightHistory], answers: tuple[Answer, ...]
) -> dict[date, Progress]:
    """Return what people were called to before about each night, if it is not over."""
    every = calls_of(told, answers)
    return {night: item for night, item in every.items() if not told[night].is_closed}


def calls_of(
    told: Mapping[date, NightHistory], answers: tuple[Answer, ...]
) -> dict[date, Progress]:
    """Return what people were called to about each night, ended or not."""
    acting = {item.night for item in answers if item.kind is AnswerKind.ACTING}
    return {
        night: Progress(
            hands_since_utc=item.hands_since_utc,
            start_since_utc=item.start_since_utc,
            told_starts=frozenset(item.told_starts),
            is_answered=night in acting,
        )
        for night, item in told.items()
    }


def with_told_starts(decision: Decision, plans: Mapping[date, Plan]) -> Decision:
    """Return the decision, remembering what the calls to start are for."""
    nights = []
    for item in decision.nights:
        plan = plans.get(item.night)
        if item.say is Subject.ACT and plan is not None:
            past = item.remember
            now = {option.pair for option in plan.chosen}
            remember = replace(
                past,
                told_starts=tuple(sorted({*past.told_starts, *now})),
                # What is called for again counts as called for.
                taken_back=tuple(pair for pair in past.taken_back if pair not in now),
            )
            nights.append(replace(item, remember=remember))
        else:
            nights.append(item)
    return replace(decision, nights=tuple(nights))
