"""A warning does not wait for a plan that takes too long; the plan follows."""

import threading
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from frostalert.cycle import deciding
from frostalert.cycle.cycle import CycleResult, Workshop, redecide
from frostalert.cycle.planning import plan_nights
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message, Reason
from frostalert.model.start import StartState
from frostalert.patience import PlanBench
from frostalert.store.open import open_store
from tests.scenario.test_taken_back import AFTERNOON, Night
from tests.support.plans import CHERRIES, HEATERS, TWO_IN_THE_AFTERNOON, planting

SLOW_S = 1.5


class Slow:
    """A board on which a plan takes its time, and who looks on it."""

    def __init__(self, folder: Path) -> None:
        farm = planting(CHERRIES, equipment=(HEATERS,))
        self.night = Night(farm=farm, folder=folder, store=open_store(folder))
        self.bench = PlanBench(patience_s=30.0)
        self.plans: list[date] = []

    def plan(self, *given: Any) -> Any:
        self.plans += given[1]
        time.sleep(SLOW_S)
        return plan_nights(*given)

    def look(self, wait: timedelta) -> tuple[CycleResult, list[Message]]:
        """What a look decides, and what it says to Ines by mail."""
        now, store = TWO_IN_THE_AFTERNOON + wait, self.night.store
        known = {row.message.key for row in store.unsent(now, is_forced=True)}
        work = Workshop(bench=self.bench)
        result = redecide(self.night.farm, store, now, workshop=work)
        rows = [row.message for row in store.unsent(now, is_forced=True)]
        return result, [
            m
            for m in rows
            if m.key not in known
            and m.person == "Ines"
            and m.channel is ChannelKind.EMAIL
        ]

    def wait_for_the_plan(self) -> None:
        end = time.monotonic() + 30.0
        while not self.bench.has_news():
            assert time.monotonic() < end
            time.sleep(0.02)


@pytest.fixture
def slow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Slow:
    made = Slow(tmp_path)
    # The forecast is stored, and nothing said of it yet.
    monkeypatch.setattr(made.night.store, "record_decision", lambda *_: 0)
    made.night.look(AFTERNOON)
    monkeypatch.undo()
    monkeypatch.setattr(deciding, "plan_nights", made.plan)
    made.bench = PlanBench(patience_s=0.2)
    return made


def test_the_bare_warning_is_queued_first_and_the_plan_follows(slow: Slow) -> None:
    begun_s = time.monotonic()
    result, [bare] = slow.look(AFTERNOON)
    assert time.monotonic() - begun_s < SLOW_S
    assert result.decision.nights[0].remember.is_plan_owed
    assert result.decision.nights[0].remember.starts == ()
    assert "Heaters" not in bare.text
    slow.wait_for_the_plan()
    result, [full] = slow.look(AFTERNOON + timedelta(minutes=1))
    assert result.decision.nights[0].why is Reason.PLAN_FOLLOWS
    assert "Heaters" in full.text
    remember = result.decision.nights[0].remember
    assert not remember.is_plan_owed
    assert [start.state for start in remember.starts] == [StartState.PLANNED]
    # Said once; and nothing is made anew of the same forecast.
    for minutes in (2, 3):
        _, more = slow.look(AFTERNOON + timedelta(minutes=minutes))
        assert more == []
    tonight = result.decision.nights[0].night
    assert slow.plans.count(tonight) == 1
    assert "START" not in bare.subject
    slow.night.store.database.close()


def test_a_plan_that_is_there_in_time_goes_with_the_warning(slow: Slow) -> None:
    slow.bench = PlanBench(patience_s=30.0)
    result, [mail] = slow.look(AFTERNOON)
    assert "Heaters" in mail.text
    assert not result.decision.nights[0].remember.is_plan_owed
    assert not slow.bench.has_news()
    slow.night.store.database.close()


def test_two_slow_plans_share_one_patience(slow: Slow) -> None:
    bench, may_end = PlanBench(patience_s=1.0), threading.Event()

    def is_made_late() -> None:
        may_end.wait(60.0)

    bench.begin()
    begun_s = time.monotonic()
    for days in range(3):
        night = (TWO_IN_THE_AFTERNOON + timedelta(days=days)).date()
        assert bench.made(night, None, is_made_late) == (None, True)
    # Between one patience and three.
    assert time.monotonic() - begun_s < 2.5
    may_end.set()
    slow.night.store.database.close()


def test_a_plan_that_nobody_asks_for_any_more_is_news_once(slow: Slow) -> None:
    night = TWO_IN_THE_AFTERNOON.date()
    slow.bench.begin()
    assert slow.bench.made(night, None, lambda: time.sleep(0.4)) == (None, True)
    assert not slow.bench.has_news()
    slow.wait_for_the_plan()
    slow.bench.begin()
    assert not slow.bench.has_news()
    slow.night.store.database.close()
