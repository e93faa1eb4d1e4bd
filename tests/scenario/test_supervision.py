"""Scheduler and supervisor as they really run: hangs, dead threads, moved clocks."""

import subprocess
import sys
import textwrap
import threading
import time
from datetime import UTC, datetime, timedelta

import pytest
import time_machine

from frostalert.schedule import LANES, Job, Schedule
from frostalert.supervisor import EXIT_HUNG, Supervisor

_FRAME = """
import sys, threading, time
from datetime import datetime, timedelta, UTC
from functools import partial
import frostalert.supervisor as supervision
from frostalert.schedule import LANES, Job, Schedule
from frostalert.supervisor import Supervisor

supervision._LOOK_EVERY_S = 0.2
limits = dict.fromkeys(LANES, 2.0)
supervisor = Supervisor(limits)
beats = [
    Job(name=lane, every=timedelta(seconds=1), run=partial(supervisor.beat, lane),
        lane=lane)
    for lane in LANES
]
{jobs}
schedule = Schedule([*beats, *more], on_end=supervisor.note_end)
schedule.start(datetime.now(UTC))
{then}
supervisor.watch()
schedule.stop(1.0)
"""


def run_frame(jobs: str, then: str = "") -> subprocess.CompletedProcess[str]:
    program = _FRAME.format(jobs=textwrap.dedent(jobs), then=textwrap.dedent(then))
    return subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_a_job_that_hangs_ends_the_process_with_all_stacks() -> None:
    done = run_frame(
        """
        def stuck():
            time.sleep(3600)
        more = [Job(name="stuck", every=timedelta(seconds=1), run=stuck, lane="fetch")]
        """
    )
    assert done.returncode == EXIT_HUNG
    assert "in stuck" in done.stderr
    assert "the lane fetch hangs" in done.stderr


def test_a_dead_scheduler_thread_is_noticed_though_it_says_that_it_runs() -> None:
    done = run_frame(
        "more = []",
        """
        from apscheduler.triggers.base import BaseTrigger
        class Broken(BaseTrigger):
            def get_next_fire_time(self, *_):
                raise RuntimeError("out of the trigger")
        time.sleep(1.5)
        job = schedule._scheduler.get_jobs()[0]
        job._modify(trigger=Broken())
        """,
    )
    assert done.returncode == EXIT_HUNG
    assert "hangs" in done.stderr


def test_a_job_that_raises_stays_scheduled_and_is_counted() -> None:
    supervisor = Supervisor()
    runs = []

    def bad() -> None:
        runs.append(1)
        raise ZeroDivisionError

    job = Job(name="bad", every=timedelta(seconds=1), run=bad, lane="house")
    schedule = Schedule([job], on_end=supervisor.note_end)
    schedule.start(datetime.now(UTC))  # noqa: TID251 - the scheduler's own clock
    time.sleep(2.6)
    schedule.stop()
    assert len(runs) >= 2
    assert supervisor.failing()["bad"] == len(runs)
    supervisor.note_end("bad", is_good=True)
    assert supervisor.failing() == {}


def test_after_a_backward_step_everything_runs_again_at_once() -> None:
    runs: list[float] = []
    supervisor = Supervisor(wall=lambda: datetime.now(UTC))  # noqa: TID251 - moved here
    job = Job(
        name="tick",
        every=timedelta(seconds=1),
        run=lambda: runs.append(time.monotonic()),
        lane="house",
    )
    with time_machine.travel(datetime(2026, 4, 12, tzinfo=UTC), tick=True) as traveller:
        schedule = Schedule([job])
        schedule.start(datetime.now(UTC))  # noqa: TID251 - moved here
        assert supervisor.jump() is None
        time.sleep(1.5)
        traveller.shift(-1800)
        stopped_at = len(runs)
        time.sleep(1.5)
        # Left alone, the scheduler would sleep through the half hour.
        assert len(runs) <= stopped_at + 1
        moved = supervisor.jump()
        assert moved is not None
        assert abs(moved + timedelta(minutes=30)) < timedelta(seconds=1)
        before = len(runs)
        schedule.replan(datetime.now(UTC))  # noqa: TID251 - moved here
        time.sleep(2.5)
        schedule.stop()
    assert len(runs) >= before + 2
    assert supervisor.jump() is not None  # and back again, when the travel ended


def test_a_job_that_never_ends_again_is_named() -> None:
    supervisor = Supervisor({"house": 0.05})
    supervisor.expect("daily line", timedelta(0), "house")
    time.sleep(0.1)
    supervisor.beat("house")
    assert supervisor.hung() == "the job daily line has not ended for 0 s"
    supervisor.note_end("daily line", is_good=False)
    assert supervisor.hung() is None


@pytest.mark.parametrize(("work_s", "is_idle"), [(0.5, True), (30.0, False)])
def test_the_end_waits_for_what_runs_but_not_for_ever(
    work_s: float, *, is_idle: bool
) -> None:
    begun, may_end = threading.Event(), threading.Event()

    def work() -> None:
        begun.set()
        may_end.wait(work_s)

    job = Job(name="work", every=timedelta(hours=1), run=work, lane="email")
    schedule = Schedule([job])
    schedule.start(datetime.now(UTC))  # noqa: TID251 - the scheduler's own clock
    assert begun.wait(5)
    begun_at = time.monotonic()
    assert schedule.stop(patience_s=2.0) is is_idle
    assert time.monotonic() - begun_at < 4.0
    may_end.set()


def test_lanes_do_not_wait_for_each_other() -> None:
    hold, ran = threading.Event(), threading.Event()
    jobs = [
        Job(name="slow", every=timedelta(hours=1), run=hold.wait, lane=LANES[0]),
        Job(name="quick", every=timedelta(hours=1), run=ran.set, lane=LANES[1]),
    ]
    schedule = Schedule(jobs)
    schedule.start(datetime.now(UTC))  # noqa: TID251 - the scheduler's own clock
    assert ran.wait(5)
    hold.set()
    schedule.stop()
