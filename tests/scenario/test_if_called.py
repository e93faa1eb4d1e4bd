"""A start that the night's chance calls nobody to yet is asked for "if we call"."""

from pathlib import Path

from frostalert.messages.calendar import plan_calendar
from frostalert.messages.wording import Wording
from frostalert.model.channel import ChannelKind
from frostalert.model.progress import Progress
from tests.scenario.test_plan_messages import TWO_HOURS, sent
from tests.support.plans import (
    APRICOTS,
    LINE,
    TWO_IN_THE_AFTERNOON,
    called,
    night_grid,
    plan_of,
    planting,
    words_of,
)

FARM = planting(APRICOTS, equipment=(LINE,))
START = "Start Lane line in Apricots, running by "
UNLIKELY, LIKELY = night_grid(0.3), night_grid(-1.0)


def job_of(folder: Path, grid: str) -> str:
    """The line of the mail's own jobs that starts the line."""
    mail = sent(folder, grid, TWO_HOURS, farm=FARM)[ChannelKind.EMAIL]
    jobs = mail.text.partition("BLOCKS")[0].splitlines()
    [job] = [line for line in jobs if START in line]
    return job


def test_the_job_says_whether_it_waits_for_a_call(tmp_path: Path) -> None:
    assert job_of(tmp_path / "unlikely", UNLIKELY).endswith(", if we call")
    assert "if we call" not in job_of(tmp_path / "likely", LIKELY)


def test_plan_and_calendar_say_the_same() -> None:
    plan = plan_of(FARM, UNLIKELY)
    assert ", if a message calls for it" in " ".join(words_of(plan, FARM).split())
    entry = plan_calendar(plan, FARM, Wording(FARM.site, plan.made_utc)).decode()
    assert "if a message calls for it" in entry.replace("\r\n ", "")
    sure = plan_of(FARM, LIKELY)
    assert "if a message calls" not in " ".join(words_of(sure, FARM).split())


def test_what_was_called_for_does_not_wait_for_a_call_again() -> None:
    key = ("Lane line", "Apricots")
    told = called(key, at_utc=TWO_IN_THE_AFTERNOON)
    for starts, waits in ((told, False), ({}, True)):
        plan = plan_of(FARM, UNLIKELY, progress=Progress(starts=starts))
        assert [task.is_if_called for task in plan.starts] == [waits]
