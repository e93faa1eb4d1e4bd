"""No job needs more than a quarter of its lane's limit, and none holds another up."""

import inspect
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from frostalert import service, watchman
from frostalert.app import jobs
from frostalert.clock import Unquestioned
from frostalert.cycle import proof
from frostalert.model.channel import CHANNELS
from frostalert.notify.email import EmailNotifier
from frostalert.plan.allocation import PLAN_TIME_S, time_share_s
from frostalert.schedule import LANES, Schedule
from frostalert.supervisor import LIMITS_S
from frostalert.transport import HttpSession
from tests.scenario.test_service import Place, place

__all__ = ["place"]
STATE_MB = 2 * 38.0 + 2 * 7 * 15.0
"""Two seasons by the benchmark of running, and as much again for a large planting."""
SLOW_DISK_MB_S = 1.0
QUESTIONS = 7
"""Points and grid; MET Norway; Open-Meteo and its ensemble; alerts and a station."""


def default(kind: type, name: str) -> float:
    return float(inspect.signature(kind).parameters[name].default)


def test_each_lane_has_four_times_what_its_longest_job_needs() -> None:
    call_s = default(HttpSession, "deadline_s")
    mail_s = default(EmailNotifier, "deadline_s")
    round_s = service._LONGEST_ROUND.total_seconds()
    needs = {
        "email": round_s + mail_s,
        "sms": round_s + call_s,
        "fetch": QUESTIONS * call_s,
        "watch": max(proof._ROUND.total_seconds() + 10.0, call_s),
        "decide": 20.0 + PLAN_TIME_S,
        "copy": STATE_MB / SLOW_DISK_MB_S,
        "house": 20.0,
    }
    assert set(needs) == set(LANES) == set(LIMITS_S)
    assert {row.lane for row in CHANNELS} <= set(needs)
    for lane, needed_s in needs.items():
        assert needed_s <= LIMITS_S[lane] / 4, lane


def test_a_copy_that_takes_long_holds_up_nothing_else(
    place: Place, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    begun, may_end = threading.Event(), threading.Event()

    def slow_copy(*_: object) -> None:
        begun.set()
        may_end.wait(60)

    monkeypatch.setattr(watchman, "make_backup", slow_copy)
    work = jobs(place.service, place.watchman, Unquestioned())
    ended: set[str] = set()
    schedule = Schedule(work, on_end=lambda name, _: ended.add(name))
    schedule.start(datetime.now(UTC))  # noqa: TID251 - the scheduler's own clock
    try:
        assert begun.wait(10)
        others = {job.name for job in work} - {"daily copy"}
        end = time.monotonic() + 30.0
        while ended != others:
            assert time.monotonic() < end, others - ended
            time.sleep(0.05)
    finally:
        may_end.set()
        schedule.stop()


def test_a_plan_has_one_budget_of_time_however_often_it_chooses() -> None:
    assert sum(time_share_s(before) for before in range(40)) <= PLAN_TIME_S
