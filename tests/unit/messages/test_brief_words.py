"""A job and a caution in one short line each."""

from datetime import UTC, datetime, timedelta

import pytest

from frostalert.messages.brief_words import brief_cautions, brief_task
from frostalert.messages.wording import Wording
from frostalert.model.method import MethodKind
from frostalert.model.plan import Task, TaskKind
from tests.support.holdings import SITE

NOW = datetime(2026, 4, 13, 8, tzinfo=UTC)


@pytest.mark.parametrize(
    ("is_late", "when"), [(True, "running at once"), (False, "running by 2:00 am")]
)
def test_a_start_whose_hour_went_by_is_at_once(when: str, *, is_late: bool) -> None:
    start = Task(
        kind=TaskKind.START,
        start_utc=NOW,
        duration=timedelta(0),
        deadline_utc=NOW + timedelta(hours=1),
        equipment="Line",
        blocks=("Pears",),
    )
    said = brief_task(start, Wording(SITE, NOW), is_late=is_late)
    assert said == f"Start Line in Pears, {when}"


def test_ice_that_breaks_limbs_is_told_once() -> None:
    by_hand, line = MethodKind.HAND_WATER, MethodKind.OVER_PLANT_WATER
    for kinds in ([by_hand, line], [line, by_hand], [line, line]):
        [caution] = brief_cautions(kinds)
        assert "Ice breaks limbs" in caution
        assert "power cords dry" in caution
    assert brief_cautions([by_hand]) == ["Ice breaks limbs: stay out from under them."]
    assert len(brief_cautions([MethodKind.FIRE, by_hand, MethodKind.COVER])) == 3


def test_every_kind_of_method_has_its_caution() -> None:
    for kind in MethodKind:
        [caution] = brief_cautions([kind])
        assert len(caution) < 160
    [fan] = brief_cautions([MethodKind.FAN])
    assert "warmer above" in fan
    assert "ice breaks blades" in fan
