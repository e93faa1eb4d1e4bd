"""What counts as standing in a message's way, on made-up looks and faults."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from frostalert.model.notice import Message, Subject
from tests.season.checks import Judge
from tests.season.faults import Fault, FaultKind
from tests.season.moments import Moment
from tests.season.silences import undelivered
from tests.season.weather import Season
from tests.season.world import Delivery, World
from tests.support.holdings import make_holding
from tests.support.plans import CHERRIES, HEATERS, night_grid, plan_of, planting
from tests.support.queued import mail_to_ines

NIGHT = date(2026, 4, 2)
MADE = datetime(2026, 4, 2, 5, tzinfo=UTC)
HELD = MADE + timedelta(hours=8)
"""Until the end of somebody's quiet hours."""
HOURS = timedelta(hours=1)


def message(subject: Subject, held_utc: datetime | None) -> Message:
    return mail_to_ines(
        subject,
        MADE + timedelta(days=1),
        key=f"Heron Bench|{NIGHT}|{subject}|2|Ines|email",
        night=NIGHT,
        message_id="<2@heron-bench.example>",
        held_until_utc=held_utc,
        nights=(NIGHT,),
    )


@pytest.fixture
def judge(tmp_path: Path) -> Judge:
    """A season in which one held message was queued and never arrived."""
    season = Season(1, date(2026, 4, 1), 3)
    world = World(season, tmp_path, MADE, np.random.default_rng(1))
    farm = make_holding()
    made = Moment(true_utc=MADE, at_utc=MADE, farm=farm, nights={}, items={})
    world.moments.course.append(made)
    world.moments.queued.append((made, message(Subject.WITHDRAWN, HELD)))
    # What it takes back had arrived the day before.
    told = message(Subject.OUTLOOK, None)
    world.delivered.append(
        Delivery(at_utc=MADE - 24 * HOURS, message=told, is_repeat=False)
    )
    return Judge(world)


def with_fault(judge: Judge, kind: FaultKind, start_utc: datetime) -> None:
    judge.world.faults = [
        Fault(kind=kind, start_utc=start_utc, end_utc=start_utc + HOURS / 4, size=0.0)
    ]


def test_a_message_that_nothing_kept_from_arriving_is_noted(judge: Judge) -> None:
    undelivered(judge)
    [line] = judge.violations
    assert "never arrived, though nothing stood in its way" in line


@pytest.mark.parametrize(
    ("kind", "start_utc", "is_noted"),
    [
        # The queue was put back as it stood before the message was made.
        (FaultKind.FILE_DAMAGED, HELD - 3 * HOURS, False),
        (FaultKind.FILE_DAMAGED, MADE - 2 * HOURS, True),
        (FaultKind.FILE_DAMAGED, HELD + 2 * HOURS, True),
        # Nothing is sent while it is held: whom a channel refuses then is not it.
        (FaultKind.PERSON_REFUSED, HELD - 3 * HOURS, True),
        (FaultKind.PERSON_REFUSED, HELD, False),
        (FaultKind.EMAIL_DOWN, HELD - 3 * HOURS, True),
    ],
)
def test_a_held_message_may_be_lost_with_the_file_and_to_no_channel(
    judge: Judge, kind: FaultKind, start_utc: datetime, *, is_noted: bool
) -> None:
    with_fault(judge, kind, start_utc)
    undelivered(judge)
    assert bool(judge.violations) is is_noted
    assert judge.waived["never arrived"] == int(not is_noted)


@pytest.mark.parametrize(("low_c", "is_off"), [(-2.8, False), (-9.0, True)])
def test_a_start_that_the_plan_people_are_told_of_has_no_more_is_off(
    low_c: float, *, is_off: bool
) -> None:
    farm = planting(CHERRIES, equipment=(HEATERS,))
    plan = plan_of(farm, night_grid(low_c))
    moment = Moment(
        true_utc=MADE,
        at_utc=MADE,
        farm=farm,
        nights={},
        items={},
        plans={plan.night: plan},
    )
    key = (HEATERS.name, CHERRIES.name)
    assert moment.is_off(plan.night, key) is is_off
    # Where nothing was said of a plan, what was told before stands.
    assert not moment.is_off(plan.night + timedelta(days=1), key)
