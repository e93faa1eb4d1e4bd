"""A season's ledger: hits, misses and false alarms as the thermometer has them."""

import csv
import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.cycle.cycle import run_cycle
from frostalert.cycle.ledger import (
    ledger_summary,
    predicted_kill_pct,
    season_ledger,
)
from frostalert.cycle.ledger_rows import ledger_line
from frostalert.forecast.file_source import FileSource
from frostalert.messages.wording import Wording
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.ledger import BudCount, LedgerNight, Outcome
from frostalert.model.notice import Receipt
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.warmth import Sighting
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.cli.test_commands import frostalert
from tests.support.configs import config_text
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.holdings import make_block, make_holding

NIGHT = date(2026, 4, 12)
NOON = datetime(2026, 4, 12, 19, tzinfo=UTC)
DAY = timedelta(days=1)
POST = Sensor(name="Post", kind=SensorKind.REFERENCE)
HOLDING = replace(make_holding(make_block(cold_spot_delta_c=0.0)), sensors=(POST,))


@pytest.fixture
def store(tmp_path: Path):  # type: ignore[no-untyped-def]
    made = open_store(tmp_path)
    yield made
    made.database.close()


def live(store: StateStore, folder: Path, low_c: float, days: int) -> None:
    """An afternoon with a forecast, and whatever is said sent at once."""
    air = frosty_hours(low_c=low_c)
    path = folder / f"grid{days}.json"
    path.write_text(grid_text(air_c=air, first=FIRST + days * DAY, wind_kmh=1.8))
    for hours in (3, 6):
        now = NOON + days * DAY + timedelta(hours=hours)
        run_cycle(HOLDING, [FileSource(path)], store, now)
        for row in store.unsent(now, is_forced=True):
            store.mark_sending(row, now)
            store.mark_sent(row, Receipt(provider_id="1", is_confirmed=False), now)


def read(store: StateStore, low_c: float, days: int) -> None:
    """A night of readings, its low before dawn."""
    sunset = NOON + days * DAY + timedelta(hours=7)
    readings = [
        Reading(
            sensor="Post",
            at_utc=sunset + timedelta(minutes=30 * n),
            air_c=low_c + max(0.0, 21 - n) * 0.3,
        )
        for n in range(26)
    ]
    store.add_readings(readings)


def nights(store: StateStore, count: int = 4) -> list[LedgerNight]:
    return season_ledger(HOLDING, store, NIGHT, NIGHT + count * DAY)


def test_call_and_cold_together_are_a_hit_and_apart_a_miss_or_a_false_alarm(
    store: StateStore, tmp_path: Path
) -> None:
    plan = ((-5.0, -5.5), (9.0, -6.0), (-5.0, 4.0), (9.0, 8.0))
    for days, (forecast, measured) in enumerate(plan):
        live(store, tmp_path, forecast, 2 * days)
        read(store, measured, 2 * days)
    found = [line for line in nights(store, 8) if line.measured_low_c is not None]
    assert [line.outcome for line in found] == [
        Outcome.HIT,
        Outcome.MISS,
        Outcome.FALSE_ALARM,
        Outcome.QUIET,
    ]
    hit = found[0]
    assert hit.calls.highest in (Tier.PREPARE, Tier.ACT)
    assert hit.lead is not None
    assert hit.lead > timedelta(hours=3)
    assert hit.harm_from_c is not None
    assert hit.measured_low_c is not None
    assert hit.measured_low_c == pytest.approx(-5.5, abs=0.3)
    assert hit.measured_low_c < hit.harm_from_c
    [first, lead, *_] = ledger_summary(found)
    assert "1 hits, 1 misses, 1 false alarms, 1 quiet" in first
    assert lead.startswith("From the first call to the hour of need: median")


def test_without_a_thermometer_nothing_is_claimed(
    store: StateStore, tmp_path: Path
) -> None:
    live(store, tmp_path, -5.0, 0)
    [line, *_] = nights(store)
    assert line.outcome is Outcome.NOT_MEASURED
    assert "say nothing of hits and misses" in ledger_summary([line])[-1]


def test_each_night_counts_the_stage_that_was_seen_by_then(
    store: StateStore, tmp_path: Path
) -> None:
    live(store, tmp_path, -3.0, 0)
    now = predicted_kill_pct(HOLDING, store, "Apricots", NIGHT)
    store.note_sightings(
        [
            Sighting(
                block="Apricots",
                crop="apricot",
                stage="first white",
                seen=NIGHT - 3 * DAY,
            )
        ]
    )
    then = predicted_kill_pct(HOLDING, store, "Apricots", NIGHT)
    assert now is not None
    assert then is not None
    assert then < now
    assert predicted_kill_pct(HOLDING, store, "Apricots", NIGHT + 20 * DAY) is None


def test_answers_and_counts_stand_in_the_line(
    store: StateStore, tmp_path: Path
) -> None:
    live(store, tmp_path, -5.0, 0)
    store.record_answer(
        Answer(
            person="Ines",
            night=NIGHT,
            tier=Tier.PREPARE,
            revision=1,
            kind=AnswerKind.ACTING,
            given_utc=NOON + timedelta(hours=4),
        )
    )
    store.save_bud_count(BudCount(block="Apricots", night=NIGHT, dead=3, counted=9))
    store.save_bud_count(BudCount(block="Apricots", night=NIGHT, dead=37, counted=120))
    line = nights(store)[0]
    assert line.calls.answers == ("Ines: acting",)
    assert [(item.dead, item.counted) for item in line.counts] == [(37, 120)]
    assert line.calls.messages > 0


def test_the_command_prints_and_writes_it(tmp_path: Path) -> None:
    state = tmp_path / "s"
    state.mkdir()
    (tmp_path / "frostalert.toml").write_text(config_text(state=str(state)))
    none = frostalert("season", "--from", "2026-04-01", cwd=tmp_path)
    assert none.returncode == 1
    store = open_store(state)
    live(store, tmp_path, -5.0, 0)
    store.database.close()
    span = ("--from", "2026-04-01", "--to", "2026-04-20")
    done = frostalert("season", *span, "--csv", "out.csv", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "2026-04-12" in done.stdout
    assert "not measured" in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 80
    rows = list(csv.DictReader((tmp_path / "out.csv").read_text().splitlines()))
    assert rows[0]["night"] == "2026-04-12"
    alone = frostalert("season", *span, "--csv", "-", cwd=tmp_path)
    assert (alone.returncode, alone.stderr) == (0, "")
    assert list(csv.DictReader(alone.stdout.splitlines())) == rows
    both = frostalert("season", *span, "--csv", "-", "--json", cwd=tmp_path)
    assert (both.returncode, both.stdout) == (64, "")
    document = json.loads(frostalert("season", *span, "--json", cwd=tmp_path).stdout)
    assert document["nights"][0]["said"] in ("prepare", "act")
    backwards = frostalert(
        "season", "--from", "2026-04-20", "--to", "2026-04-01", cwd=tmp_path
    )
    assert backwards.returncode == 64
    count = frostalert(
        "buds",
        "Apricots by the lane",
        "--dead",
        "37",
        "--of",
        "120",
        "--night",
        "2026-04-12",
        cwd=tmp_path,
    )
    assert "Kept for the night of 2026-04-12. Predicted that afternoon" in count.stdout
    shown = frostalert("season", *span, cwd=tmp_path).stdout
    assert "37 of 120 dead" in " ".join(shown.split())


def test_a_call_for_one_night_is_none_for_another_that_it_mentions(
    store: StateStore, tmp_path: Path
) -> None:
    # Frost tonight and, for an outlook in the same mail, in three nights.
    tonight, later = frosty_hours(low_c=-5.0), frosty_hours(low_c=-5.0)
    path = tmp_path / "grid.json"
    path.write_text(
        grid_text(air_c=[*tonight, *later[24:], *later], first=FIRST, wind_kmh=1.8)
    )
    now = NOON + timedelta(hours=6)
    run_cycle(HOLDING, [FileSource(path)], store, now)
    for row in store.unsent(now, is_forced=True):
        store.mark_sending(row, now)
        store.mark_sent(row, Receipt(provider_id="1", is_confirmed=False), now)
    calls = store.calls(NIGHT, NIGHT + 3 * DAY)
    assert calls[NIGHT].first_call_utc == now
    mentioned = [night for night in calls if night > NIGHT and calls[night].messages]
    assert mentioned
    assert all(calls[night].first_call_utc is None for night in mentioned)


def test_harm_is_reckoned_where_the_reference_sensor_hangs(
    store: StateStore, tmp_path: Path
) -> None:
    hollow = make_block(cold_spot_delta_c=-3.0)
    farm = replace(HOLDING, blocks=(hollow,))
    live(store, tmp_path, -1.0, 0)
    read(store, -0.5, 0)
    line = season_ledger(farm, store, NIGHT, NIGHT)[0]
    # The site's air is what the sensor reads; the hollow is three degrees colder, so
    # that its buds die while the post still reads more than they can bear.
    assert line.forecast_low_c == pytest.approx(-1.0, abs=0.1)
    assert line.harm_from_c is not None
    alarm_c = {row.stage: row.alarm_c for row in hollow.crop.stages}["full bloom"]
    assert line.harm_from_c > alarm_c + 2.5
    assert line.outcome is Outcome.HIT


def test_a_withdrawn_night_says_so_in_its_line(
    store: StateStore, tmp_path: Path
) -> None:
    path = tmp_path / "grid.json"
    for hours, low_c in ((5, -5.0), (6, 9.0), (7, 9.0), (8, 9.0)):
        now = NOON + timedelta(hours=hours)
        air = frosty_hours(low_c=low_c)
        path.write_text(grid_text(air_c=air, updated=now - timedelta(minutes=5)))
        run_cycle(HOLDING, [FileSource(path)], store, now)
    [line] = season_ledger(HOLDING, store, NIGHT, NIGHT)
    assert line.calls.highest is Tier.PREPARE
    assert line.calls.is_withdrawn
    assert "; withdrawn" in ledger_line(line, Wording(HOLDING.site, NOON))
