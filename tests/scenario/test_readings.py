"""From a thermometer to a phone: by hand and by a file, through the service's jobs."""

import os
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.app import build_parts
from frostalert.clock import SystemClock
from frostalert.config.accepted import AcceptedConfig
from frostalert.cycle.planning import plan_night
from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import Tier
from frostalert.model.nights import Facts
from frostalert.model.plan import Plan, Task, TaskKind
from frostalert.model.progress import Progress
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.observations import load_rows, parse_rows
from frostalert.risk.assess import assess_all
from frostalert.service import Service
from frostalert.store.open import open_store
from tests.adapters.test_nws import Office
from tests.cli.test_commands import frostalert
from tests.scenario.test_service import SteppedClock
from tests.support.configs import config_text
from tests.support.grids import frosty_hours, grid_text
from tests.support.plans import (
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    planting,
)
from tests.support.servers import Reply, http_server

EVENING = datetime(2026, 4, 13, 4, 30, tzinfo=UTC)  # 21:30 local
SENSORS = """
[[sensors]]
name = "Post"
kind = "reference"

[readings]
csv = "readings.csv"
unit = "degF"
"""


class Night:
    """A service on a night that is forecast to be mild."""

    def __init__(self, folder: Path, url: str) -> None:
        self.csv = folder / "readings.csv"
        self.path = folder / "orchard.toml"
        text = config_text(nws_url=url, state=str(folder), more=SENSORS)
        self.path.write_text(text)
        self.clock = SteppedClock(EVENING)
        self.store = open_store(folder)
        config = AcceptedConfig(self.path, folder)
        self.service = Service(config, self.store, self.clock, build=build_parts)

    def kinds(self) -> list[str]:
        rows = self.store.unsent(self.clock.now_utc(), is_forced=True)
        return [row.message.subject_kind.value for row in rows]


@pytest.fixture
def night(tmp_path: Path) -> Iterator[Night]:
    office = Office()
    body = grid_text(air_c=frosty_hours(low_c=6.5), updated=EVENING, cloud_pct=90.0)
    office.grid = Reply(200, body)
    with http_server(office) as server:
        made = Night(tmp_path, server.url)
        yield made
        made.store.database.close()


def test_a_cold_line_in_the_file_calls_people_within_the_minute(night: Night) -> None:
    night.service.fetch()
    assert "act" not in night.kinds()
    night.csv.write_text("time,sensor,value\n2026-04-12T21:28-07:00,Post,28.1\n")
    night.service.take_readings()
    night.service.look()
    assert "act" in night.kinds()
    rows = night.store.unsent(EVENING, is_forced=True)
    mails = [row.message for row in rows if row.message.html is not None]
    mail = next(item.text for item in mails if "act" in item.key)
    assert "Post read -2.2 C (28 F)" in " ".join(mail.split())


BED = planting(replace(STRAWBERRIES, cold_spot_delta_c=-2.0))
GUARDED = replace(
    BED,
    sensors=tuple(
        Sensor(name=name, kind=SensorKind.REFERENCE) for name in ("Post", "Shed")
    ),
)
AFTERNOON = TWO_IN_THE_AFTERNOON + timedelta(hours=1, minutes=40)


def plan_by(*readings: Reading, now: datetime = AFTERNOON) -> Plan:
    """The plan of a mild afternoon before a frost, by some readings."""
    run = parse_grid(night_grid(-2.0, wind_kmh=20.0), now)
    nights = assess_all(GUARDED, Facts(runs=(run,), readings=readings), now)
    return plan_night(nights, nights.assessment.nights[0], Progress())


def slip(sensor: str = "Post", at: datetime = AFTERNOON) -> Reading:
    """A reading far below what the afternoon is."""
    return Reading(sensor=sensor, at_utc=at, air_c=-2.5)


def covers_off(plan: Plan) -> tuple[list[Task], Task]:
    """A plan's jobs, and the taking off of covers apart."""
    [off] = [task for task in plan.tasks if task.kind is TaskKind.COVERS_OFF]
    return [task for task in plan.tasks if task is not off], off


def test_one_reading_that_nobody_bears_out_takes_nothing_out_of_a_plan() -> None:
    plain, slipped = plan_by(), plan_by(slip())
    assert [item.method.name for item in plain.chosen] == ["row cover"]
    assert slipped.chosen == plain.chosen
    # The air that a cold slip lowers thaws later: covers may stay on for longer.
    (jobs, off), (slipped_jobs, slipped_off) = map(covers_off, (plain, slipped))
    assert slipped_jobs == jobs
    assert slipped_off.start_utc >= off.start_utc


@pytest.mark.parametrize(
    ("second", "counts"),
    [
        (slip("Shed"), True),
        (slip("Post", AFTERNOON - timedelta(minutes=10)), True),
        # The same slip told again at once is no second look.
        (slip("Post", AFTERNOON - timedelta(minutes=1)), False),
    ],
)
def test_a_second_look_makes_a_far_reading_count(
    second: Reading, *, counts: bool
) -> None:
    assert (plan_by(slip(), second).chosen != plan_by().chosen) == counts


def test_people_are_warned_by_a_reading_that_nobody_bears_out() -> None:
    run = parse_grid(night_grid(8.0), AFTERNOON)
    facts = Facts(runs=(run,))
    calm = assess_all(GUARDED, facts, AFTERNOON)
    warned = assess_all(GUARDED, replace(facts, readings=(slip(),)), AFTERNOON)
    assert calm.assessment.nights[0].tier is Tier.NONE
    assert warned.assessment.nights[0].tier.rank > Tier.NONE.rank
    # What it brings in is planned for as well.
    plan = plan_night(warned, warned.assessment.nights[0], Progress())
    assert [item.method.name for item in plan.chosen] == ["row cover"]


def test_a_line_that_is_taken_in_twice_counts_once(night: Night) -> None:
    night.csv.write_text("time,sensor,value\n2026-04-12T21:28-07:00,Post,45\n")
    night.service.take_readings()
    night.service.take_readings()
    assert len(night.store.readings_since(EVENING - timedelta(hours=1))) == 1


def test_a_file_that_cannot_be_read_is_told(night: Night) -> None:
    night.service.fetch()
    night.csv.write_text("when,what\n1,2\n")
    night.service.take_readings()
    night.service.look()
    assert "operator" in night.kinds()
    night.csv.unlink()
    night.service.take_readings()


def test_a_sensor_that_nobody_named_is_kept_and_not_believed(night: Night) -> None:
    night.csv.write_text("time,sensor,value\n2026-04-12T21:28-07:00,Pole,28\n")
    night.service.take_readings()
    [kept] = night.store.readings_since(EVENING - timedelta(hours=1))
    assert kept.problem == "there is no sensor of that name"


def test_lines_are_read_one_by_one_and_bad_ones_named() -> None:
    text = (
        "sensor,value,time\n"
        "Post,32,2026-04-12T21:28-07:00\n"
        "Post,32,2026-04-12T21:28\n"
        "Post,cold,2026-04-12T21:29-07:00\n"
        "Post,33,0001-01-01T00:00:00+05:00\n"
        f"Post,{'3' * 200_000},2026-04-12T21:29-07:00\n"
        "Post,50,2026-04-12T21:30-07:00\n"
    )
    readings, problems = parse_rows(text, "degF")
    assert [item.air_c for item in readings] == [0.0, 10.0]
    assert len(problems) == 4
    assert "line 3" in problems[0]
    assert "no offset" in problems[0]


def test_a_line_that_is_being_written_waits_for_its_end(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_text("time,sensor,value\n2026-04-12T21:28-07:00,Post,3")
    assert load_rows(path, "degC", SystemClock().now_utc()) == ([], [])
    # A file that has rested is whole, with or without the end of its last line.
    rested = path.stat().st_mtime - 120.0
    os.utime(path, (rested, rested))
    [item], problems = load_rows(path, "degC", SystemClock().now_utc())
    assert (item.air_c, problems) == (3.0, [])


@pytest.mark.parametrize(
    ("arguments", "words", "code"),
    [
        (("Post", "28 degF"), "Post: 28 degF at", 0),
        (("Post", "200 degF"), "Kept, not believed: air is never as", 0),
        (("Post", "28.5"), '"28.5" has no unit', 64),
        (("Pole", "28 degF"), 'there is no sensor "Pole"; known are "Post"', 64),
        (("Post", "28 degF", "--at", "noon"), '--at "noon" is not a moment', 64),
    ],
)
def test_a_reading_by_hand(
    night: Night, arguments: tuple[str, ...], words: str, code: int
) -> None:
    done = frostalert(
        "reading", *arguments, "--config", "orchard.toml", cwd=night.path.parent
    )
    assert done.returncode == code
    assert words in " ".join((done.stdout + done.stderr).split())


def by_hand(night: Night, *arguments: str) -> str:
    done = frostalert(
        "reading", *arguments, "--config", "orchard.toml", cwd=night.path.parent
    )
    assert done.returncode == 0, done.stderr
    return " ".join(done.stdout.split())


def told_at(night: Night, words: str) -> str:
    return by_hand(night, "Post", words, "--at", "2026-04-12T21:28-07:00")


def test_a_reading_far_from_what_is_expected_is_asked_back(night: Night) -> None:
    night.service.fetch()
    cold, warm = told_at(night, "20 degF"), told_at(night, "60.5 degF")
    assert "Post: 20 degF at Sun Apr 12, 9:28 pm PDT. Kept, not confirmed." in cold
    assert "That is 32 F colder than expected there at this hour." in cold
    assert "it takes nothing out of a plan" in cold
    assert "A reading of that moment was kept before." in warm


def test_a_warm_reading_that_may_lack_its_minus_is_asked_back(night: Night) -> None:
    night.service.fetch()
    assert "Is a minus missing?" in told_at(night, "60.5 degF")
    assert "not confirmed" not in by_hand(night, "Post", "49 degF")


def test_taking_back_what_was_never_believed_leaves_the_good_reading(
    night: Night,
) -> None:
    night.service.fetch()
    told_at(night, "49 degF")
    later = ("--at", "2026-04-12T21:29-07:00")
    assert "not believed" in by_hand(night, "Post", "149 degF", *later)
    said = " ".join(by_hand(night, "Post", "--take-back").split())
    assert "149 F was not believed anyway" in said
    assert "the earlier readings stay" in said
    kept = night.store.readings_since(night.clock.now_utc() - timedelta(days=1))
    assert [item.problem is None for item in kept] == [True, False]


def test_a_reading_of_a_moment_to_come_is_refused(night: Night) -> None:
    ahead = SystemClock().now_utc() + timedelta(days=300)
    done = frostalert(
        *("reading", "Post", "28 degF", "--at", ahead.isoformat()),
        *("--config", "orchard.toml"),
        cwd=night.path.parent,
    )
    assert done.returncode == 64
    assert "lies in the future: it is " in " ".join(done.stderr.split())
    assert night.store.readings_since(EVENING - timedelta(days=1)) == ()


def test_a_reading_of_a_moment_can_be_taken_back(night: Night) -> None:
    at = ("--at", "2026-04-12T21:28-07:00")
    told_at(night, "49 degF")
    by_hand(night, "Post", "48.5 degF", "--at", "2026-04-12T21:29-07:00")
    assert "Post has no reading of Sun Apr 12, 8:00 pm PDT to take back." in by_hand(
        night, "Post", "--take-back", "--at", "2026-04-12T20:00-07:00"
    )
    assert "9:28 pm PDT: 49 F is taken back" in by_hand(
        night, "Post", "--take-back", *at
    )
    kept = night.store.readings_since(EVENING - timedelta(days=1))
    assert [item.problem is None for item in kept] == [False, True]


def test_a_reading_can_be_taken_back(night: Night) -> None:
    night.service.fetch()
    told_at(night, "28 degF")
    assert "Post, Sun Apr 12, 9:28 pm PDT: 28 F is taken back" in by_hand(
        night, "Post", "--take-back"
    )
    night.service.look()
    assert "act" not in night.kinds()
    assert "no reading that could be taken back" in by_hand(
        night, "Post", "--take-back"
    )
