"""Decisions about nights without plans, as most tests of the alarms need them."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime

from frostalert.alarms import steps
from frostalert.alarms.look import Look
from frostalert.model.alarm import Answer
from frostalert.model.assessment import Assessment
from frostalert.model.notice import Decision, NightHistory
from frostalert.model.site import Person, Rules
from tests.support.holdings import make_holding


def look_of(
    told: Mapping[date, NightHistory],
    now_utc: datetime,
    assessment: Assessment,
    rules: Rules,
    *,
    answers: tuple[Answer, ...] = (),
    people: tuple[Person, ...] = (),
) -> Look:
    """Return a look by which nobody was ever written to, and nothing is planned."""
    return Look(
        assessment=replace(assessment, issued_utc=now_utc),
        told=told,
        rules=rules,
        people=people,
        answers=answers,
        addressed=lambda _: frozenset(),
        plan_of=lambda _: None,
    )


def decide(
    told: Mapping[date, NightHistory],
    now_utc: datetime,
    assessment: Assessment,
    rules: Rules,
    *,
    answers: tuple[Answer, ...] = (),
    last_turn: int = 1,
) -> Decision:
    """Return what is said, with a list of people of so many turns who know all."""
    person = make_holding().people[0]
    look = look_of(told, now_utc, assessment, rules, answers=answers)
    people = tuple(replace(person, turn=n + 1) for n in range(last_turn))
    addressed = frozenset(
        (night.night, person.address(channel))
        for night in assessment.nights
        for channel in person.channels
    )
    look = replace(look, people=people, addressed=lambda _: addressed)
    return steps.decide(look)
