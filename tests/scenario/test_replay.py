"""A week that was lived through is replayed, as it was and with other rules."""

import json
import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.config.load import load_settings
from frostalert.cycle.cycle import run_cycle
from frostalert.cycle.judging import known_facts
from frostalert.cycle.replay import Replayed, replay
from frostalert.forecast.file_source import FileSource
from frostalert.model.site import Farm
from frostalert.physics.nights import night_window
from frostalert.store.open import FILE_NAME, open_store
from frostalert.store.state import StateStore
from tests.cli.test_commands import frostalert
from tests.support.configs import config_text
from tests.support.grids import frosty_hours, grid_text

START = datetime(2026, 4, 11, 20, tzinfo=UTC)
NIGHT = date(2026, 4, 12)
HOURS = 44


def live_through(folder: Path) -> StateStore:
    """Two days of hourly cycles, the forecast getting colder by and by."""
    (folder / "orchard.toml").write_text(config_text(state=str(folder)))
    farm = load_settings(folder / "orchard.toml", needs_secrets=False).farm
    store = open_store(folder)
    for hour in range(HOURS):
        now = START + timedelta(hours=hour)
        low = 2.0 - 5.0 * min(1.0, hour / 24.0)
        body = grid_text(
            air_c=frosty_hours(low_c=low, hours=96),
            updated=now,
            first=START.replace(hour=12) - timedelta(days=0),
        )
        (folder / "grid.json").write_text(body)
        run_cycle(farm, [FileSource(folder / "grid.json")], store, now)
    return store


@pytest.fixture(scope="module")
def lived(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("lived")
    live_through(folder).database.close()
    return folder


def again(folder: Path, change: tuple[str, str] = ("", "")) -> list[Replayed]:
    text = (folder / "orchard.toml").read_text().replace(*change)
    (folder / "other.toml").write_text(text)
    farm: Farm = load_settings(folder / "other.toml", needs_secrets=False).farm
    store = open_store(folder)
    begin = night_window(NIGHT - timedelta(days=1), _zone(farm)).start_utc
    end = night_window(NIGHT, _zone(farm)).end_utc
    try:
        facts = known_facts(store, begin, store.runs_between(begin, end))
        return replay(farm, facts, begin, end)
    finally:
        store.database.close()


def _zone(farm: Farm):  # type: ignore[no-untyped-def]
    from zoneinfo import ZoneInfo  # noqa: PLC0415

    return ZoneInfo(farm.site.time_zone)


def first_told(said: list[Replayed], kind: str) -> datetime:
    return min(
        item.moment_utc
        for item in said
        if item.item.say == kind and item.item.night == NIGHT
    )


def test_the_replay_says_what_was_said(lived: Path) -> None:
    store = open_store(lived)
    with store.database.reading() as connection:
        rows = connection.execute(
            "SELECT said, min(decided_utc) AS at FROM decision "
            "WHERE night = ? GROUP BY said",
            (NIGHT.isoformat(),),
        ).fetchall()
    store.database.close()
    lived_through = {row["said"]: datetime.fromisoformat(row["at"]) for row in rows}
    said = again(lived)
    for kind in ("outlook", "prepare", "act"):
        # The lived cycles came on the hour; the replay looks at the minute itself.
        apart = lived_through[kind] - first_told(said, kind)
        assert timedelta(0) <= apart <= timedelta(hours=1)


def test_more_time_for_preparation_calls_earlier(lived: Path) -> None:
    longer = (
        "[forecast]",
        '[schedule]\npreparation = "6 h"\n\n[forecast]',
    )
    usual, early = again(lived), again(lived, longer)
    assert first_told(early, "prepare") == first_told(usual, "prepare") - timedelta(
        hours=3
    )


def test_the_command_prints_it_and_changes_nothing(lived: Path, tmp_path: Path) -> None:
    place = tmp_path / "copy"
    shutil.copytree(lived, place)
    text = (place / "orchard.toml").read_text().replace(str(lived), str(place))
    (place / "frostalert.toml").write_text(text)
    before = (place / FILE_NAME).read_bytes()
    dates = ("--from", "2026-04-11", "--to", "2026-04-12")
    done = frostalert("replay", *dates, cwd=place)
    assert (done.returncode, done.stderr) == (0, "")
    assert "night of 2026-04-12: prepare" in done.stdout
    assert "messages about" in done.stdout
    assert (place / FILE_NAME).read_bytes() == before
    document = json.loads(frostalert("replay", *dates, "--json", cwd=place).stdout)
    assert {"prepare", "act"} <= {item["say"] for item in document["said"]}


@pytest.mark.parametrize(
    ("dates", "words", "code"),
    [
        (("--from", "2026-04-12", "--to", "2026-04-11"), "lies before", 64),
        (("--from", "soon", "--to", "2026-04-11"), "is not a date", 64),
        (("--from", "2020-04-11", "--to", "2020-04-11"), "No forecast is stored", 1),
        (("--from", "2999-04-11", "--to", "2999-04-11"), "is still to come", 64),
    ],
)
def test_what_cannot_be_replayed_is_told(
    lived: Path, dates: tuple[str, ...], words: str, code: int
) -> None:
    done = frostalert("replay", *dates, "--config", "orchard.toml", cwd=lived)
    assert done.returncode == code
    assert words in done.stdout + done.stderr
