"""A machine whose clock was ahead: what it left behind must not hide the truth."""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.app import build_parts, jobs
from frostalert.clock import (
    CLOCK_OFF,
    BesideClock,
    CheckedClock,
    SystemClock,
    TimeKeeper,
    Unquestioned,
)
from frostalert.cycle.fetching import fetch_sources
from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import Tier
from frostalert.model.forecast import ForecastRun
from frostalert.model.notice import NightHistory
from frostalert.ports import Fetched, SourceMemory
from frostalert.service import Service
from frostalert.store.codec import history_text
from frostalert.store.open import open_store
from tests.scenario.test_service import Place, SteppedClock, place
from tests.support.commands import run_command
from tests.support.configs import config_text
from tests.support.grids import grid_text

__all__ = ["place"]
NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
AHEAD = timedelta(days=3)


def made_at(moment: datetime) -> ForecastRun:
    return parse_grid(grid_text(updated=moment), moment)


@dataclass
class Correcting:
    """A source whose answer puts the clock right, and that dates runs by the asking."""

    clock: SteppedClock
    name: str = "nws"
    updated_utc: datetime | None = None

    def fetch(self, memory: SourceMemory, now_utc: datetime) -> Fetched:
        self.clock.moment_utc = NOW
        run = made_at(NOW)
        made = self.updated_utc or now_utc
        run = replace(run, fetched_utc=now_utc, updated_utc=made)
        return Fetched(run=run, memory=memory)


def test_what_was_asked_for_by_a_wrong_clock_is_dated_by_the_right_one(
    tmp_path: Path,
) -> None:
    clock = SteppedClock(NOW + AHEAD)
    store = open_store(tmp_path)
    assert fetch_sources([Correcting(clock)], store, clock.now_utc) == {}
    assert store.newest_run_utc(NOW + AHEAD) == NOW
    store.database.close()


def test_a_forecast_from_the_time_to_come_is_refused_and_told(tmp_path: Path) -> None:
    clock = SteppedClock(NOW)
    store = open_store(tmp_path)
    source = Correcting(clock, updated_utc=NOW + AHEAD)
    faults = fetch_sources([source], store, clock.now_utc)
    assert "claims to be made at 2026-04-15" in faults["source-nws"]
    assert store.newest_run_utc(NOW + AHEAD) is None
    store.database.close()


def test_runs_and_nights_of_a_clock_that_was_ahead_hide_nothing(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    later = NOW + AHEAD
    store.save_run(Fetched(run=made_at(later), memory=SourceMemory()), "nws", later)
    assert store.newest_run_utc(NOW) is None
    assert store.recent_runs(NOW - AHEAD, NOW) == []
    good = Fetched(run=made_at(NOW), memory=SourceMemory())
    assert store.save_run(good, "nws", NOW)
    assert [run.updated_utc for run in store.recent_runs(NOW - AHEAD, NOW)] == [NOW]
    tonight = NightHistory(night=date(2026, 4, 12), told=Tier.PREPARE)
    with store.database.writing() as connection:
        for history in (
            tonight,
            *(NightHistory(night=date(2027, 1, 1 + day)) for day in range(22)),
        ):
            connection.execute(
                "INSERT INTO night_history VALUES (?, ?)",
                (history.night.isoformat(), history_text(history)),
            )
    assert store.night_histories(NOW) == {tonight.night: tonight}
    store.database.close()


@dataclass
class Doubted(Unquestioned):
    """A clock that no server has confirmed."""

    is_settled: bool = False
    is_sure: bool = False


def build(place: Place, keeper: TimeKeeper) -> Service:
    return Service(
        place.config, place.store, place.clock, build=build_parts, keeper=keeper
    )


def test_nothing_is_given_up_by_a_clock_that_was_not_compared(place: Place) -> None:
    place.clock.step(hours=9, minutes=45)
    place.forecast()
    place.service.fetch()
    place.clock.step(days=2)
    clock = Doubted()
    listed = {job.name: job for job in jobs(place.service, place.watchman, clock)}
    for name in ("relay email", "relay sms", "daily line", "daily copy", "tidy"):
        listed[name].run()
    assert "dead" not in place.store.counts()
    assert place.store.newest_run_utc(place.clock.now_utc()) is not None
    assert place.store.counts() == {"due": place.store.counts()["due"]}
    clock.is_settled = True
    place.service = build(place, clock)
    listed = {job.name: job for job in jobs(place.service, place.watchman, clock)}
    listed["relay sms"].run()
    assert "dead" not in place.store.counts()
    clock.is_sure = True
    listed["relay sms"].run()
    assert "dead" in place.store.counts()


def test_a_clock_is_waited_for_some_minutes(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = CheckedClock()
    settled = [clock.is_settled]
    clock.note(SystemClock().now_utc())
    settled.append(clock.is_settled)
    assert settled == [False, True]
    patient = CheckedClock()
    monkeypatch.setattr("frostalert.clock._PATIENCE_S", -1.0)
    assert patient.is_settled
    assert not patient.was_compared


def test_an_answer_bears_the_time_by_which_the_service_goes(tmp_path: Path) -> None:
    off = timedelta(days=20)
    now = SystemClock().now_utc() + off
    (tmp_path / "state").mkdir()
    store = open_store(tmp_path / "state")
    store.write_mark(CLOCK_OFF, str(off.total_seconds()))
    history = NightHistory(
        night=now.date(), told=Tier.PREPARE, said=Tier.PREPARE, revision=1
    )
    with store.database.writing() as connection:
        connection.execute(
            "INSERT INTO night_history VALUES (?, ?)",
            (history.night.isoformat(), history_text(history)),
        )
    config = config_text(state=str(tmp_path / "state"))
    (tmp_path / "frostalert.toml").write_text(config)
    done = run_command("ack", "--by", "Ines", cwd=tmp_path)
    assert "get ready: Ines, acting" in done.stdout
    [answer] = store.recent_answers(now)
    assert abs(answer.given_utc - now) < timedelta(minutes=10)
    assert BesideClock(None).now_utc() < now - timedelta(days=19)
    store.database.close()
