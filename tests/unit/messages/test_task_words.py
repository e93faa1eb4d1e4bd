"""Jobs of what may run already: whether it is water or heat that they speak of."""

from datetime import UTC, datetime, timedelta

import pytest

from frostalert.messages.task_words import task_text
from frostalert.messages.wording import Wording
from frostalert.model.plan import Task, TaskKind
from tests.support.holdings import SITE

NOW = datetime(2026, 4, 13, 8, tzinfo=UTC)
WORDS = Wording(SITE, NOW)


def begun(
    kind: TaskKind, *, is_about_water: bool = False, is_about_flame: bool = False
) -> str:
    """The words of a job that is only for who began before the plan refused it."""
    task = Task(
        kind=kind,
        start_utc=NOW,
        duration=timedelta(hours=1),
        deadline_utc=NOW + timedelta(hours=1),
        equipment="Line",
        blocks=("Pears",),
        every=timedelta(minutes=30),
        is_about_water=is_about_water,
        is_about_flame=is_about_flame,
        is_if_begun=True,
    )
    return task_text(task, WORDS)


@pytest.mark.parametrize(
    ("kind", "about", "first"),
    [
        (TaskKind.LOOK, "water", "If water runs: Line: look every 30 min"),
        (TaskKind.ROUND, "water", "If water runs: Line: a round at least every 30 min"),
        (TaskKind.STOP, "water", "If water runs: keep water ON"),
        (TaskKind.DRAIN, "", "If water runs: once the water is off, drain"),
        (TaskKind.LOOK, "flame", "If heat burns: Line: look every 30 min"),
        (TaskKind.LOOK, "", "If it runs: Line: look every 30 min"),
        (TaskKind.HEAT_OUT, "", "If heat burns: keep heat on until the air"),
    ],
)
def test_what_may_run_is_named_before_what_to_do_with_it(
    kind: TaskKind, about: str, first: str
) -> None:
    said = begun(kind, is_about_water=about == "water", is_about_flame=about == "flame")
    assert said.startswith(first)
    # A fan has no sparks, and no ice tells whether its water is enough.
    assert ("sparks" in said) is (kind is TaskKind.LOOK and about == "flame")
    assert ("milky ice" in said) is (kind is TaskKind.LOOK and about == "water")
