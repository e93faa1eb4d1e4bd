"""People who come on the list after a night was told."""

from dataclasses import replace

import pytest

from frostalert.alarms.steps import decide
from frostalert.model.assessment import Assessment, Tier
from frostalert.model.notice import NightDecision, NightHistory, Reason, Subject
from tests.support.decided import look_of
from tests.support.grids import frosty_hours
from tests.support.holdings import make_holding
from tests.support.judged import cannot_judge_anything
from tests.unit.alarms.test_policy import AFTERNOON, NIGHT, RULES, assessed, told

PEOPLE = make_holding().people
BLIND = cannot_judge_anything(make_holding(), AFTERNOON, "nothing came")


def heard(history: NightHistory, found: Assessment) -> NightDecision:
    """What is said about the night when nobody on the list was ever written to."""
    decision = decide(look_of({NIGHT: history}, AFTERNOON, found, RULES, people=PEOPLE))
    return next(item for item in decision.nights if item.night == NIGHT)


@pytest.mark.parametrize("tier", [Tier.PREPARE, Tier.ACT])
def test_whoever_is_new_hears_that_a_called_night_is_flown_blind(tier: Tier) -> None:
    history = replace(
        told(tier),
        cannot_judge_told_utc=AFTERNOON,
        cannot_judge_revision=1,
        is_blind=True,
    )
    item = heard(history, BLIND)
    assert (item.say, item.why) == (Subject.CANNOT_JUDGE, Reason.NEWLY_LISTED)
    assert item.people == tuple(person.name for person in PEOPLE)


def test_on_good_data_whoever_is_new_hears_what_was_told() -> None:
    item = heard(told(Tier.PREPARE), assessed())
    assert (item.say, item.why) == (Subject.PREPARE, Reason.NEWLY_LISTED)


def test_a_night_that_nobody_was_called_for_tells_nobody_anew() -> None:
    history = NightHistory(night=NIGHT, cannot_judge_told_utc=AFTERNOON, is_blind=True)
    assert heard(history, BLIND).say is None


def test_whoever_is_new_is_not_woken_for_a_night_that_threatens_no_more() -> None:
    # Under the limit that calls, above the one that withdraws.
    milder = assessed(air_c=frosty_hours(low_c=0.5))
    item = heard(told(Tier.PREPARE), milder)
    assert item.why is not Reason.NEWLY_LISTED
    assert item.people == ()
    # Where people were called to start, whoever is new must know what runs.
    assert heard(told(Tier.ACT), milder).why is Reason.NEWLY_LISTED
