"""`frostalert stage`: the weekly look, block by block, in a real terminal."""

import os
import pty
import subprocess
import sys
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from frostalert.clock import SystemClock
from frostalert.config.load import load_settings
from frostalert.model.job_sheet import BlockLimit, JobSheet
from frostalert.model.site import Block
from frostalert.model.warmth import PhoneLook, Sighting
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.cli.test_commands import frostalert
from tests.support.configs import config_text

ZONE = ZoneInfo("America/Los_Angeles")
CHERRIES = """
[[blocks]]
name = "Sweet cherries"
crop = "sweet-cherry"
plants = 20
stage = "first white"
stage_seen = 2026-04-10  # by Tobias
height = "9 ft"
cold_spot = "0 degF"
"""


def today() -> date:
    return SystemClock().now_utc().astimezone(ZONE).date()


@pytest.fixture
def file(tmp_path: Path) -> Path:
    seen = today() - timedelta(days=6)
    text = config_text(state=str(tmp_path / "s"), more=CHERRIES)
    path = tmp_path / "frostalert.toml"
    path.write_text(text.replace("2026-04-10", seen.isoformat()))
    return path


def test_a_stage_of_last_season_is_not_offered_as_the_same(
    file: Path, store: StateStore
) -> None:
    del store
    seen = today() - timedelta(days=231)
    file.write_text(
        file.read_text().replace(
            (today() - timedelta(days=6)).isoformat(), seen.isoformat()
        )
    )
    # Half awake: Enter names nothing here. Then the second stage that is offered.
    done = typed(file.parent, "\n2\ns\n")
    said = " ".join(done.stdout.split())
    assert "not looked at this season (full bloom seen 231 days ago" in said
    assert "Enter is none of these" in said
    assert "Enter = the same" not in said
    assert "buds do not go back" not in said
    first = blocks(file)["Apricots by the lane"]
    assert (first.stage, first.stage_seen) == ("swollen bud", today())
    assert blocks(file)["Sweet cherries"].stage_seen == seen


@pytest.fixture
def store(tmp_path: Path) -> Iterator[StateStore]:
    (tmp_path / "s").mkdir()
    made = open_store(tmp_path / "s")
    yield made
    made.database.close()


def typed(folder: Path, keys: str, *more: str) -> "subprocess.CompletedProcess[str]":
    """What the command does with keys that are typed at a terminal."""
    ours, its = pty.openpty()
    os.write(ours, keys.encode())
    try:
        return subprocess.run(
            [sys.executable, "-m", "frostalert", "stage", *more],
            cwd=folder,
            env={**os.environ, "HOME": str(folder)},
            stdin=its,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
    finally:
        os.close(ours)
        os.close(its)


def blocks(path: Path) -> dict[str, Block]:
    farm = load_settings(path, needs_secrets=False).farm
    return {block.name: block for block in farm.blocks}


def blocks_seen(path: Path) -> str:
    return blocks(path)["Apricots by the lane"].stage_seen.isoformat()


def by_phone(path: Path, stage: str, seen: date) -> PhoneLook:
    block = blocks(path)["Apricots by the lane"]
    return PhoneLook(
        sighting=Sighting(block=block.name, crop="apricot", stage=stage, seen=seen),
        person="Ines",
        file_stage=block.stage,
        file_seen=block.stage_seen,
    )


def test_enter_says_the_same_and_a_number_the_next(file: Path) -> None:
    done = typed(file.parent, "1\n\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert "Apricots by the lane: full bloom, seen 6 days ago." in done.stdout
    assert "Enter = the same today, 1 in the shuck" in done.stdout
    said = " ".join(done.stdout.split())
    assert "in the shuck (was full bloom), seen today. Tonight's limit" in said
    # After six days without a look the next stage was assumed, which bears less.
    white = "Sweet cherries: first white (was first white), seen today."
    assert f"{white} Tonight's limit goes from 28 F to 27 F." in said
    now = blocks(file)
    assert now["Apricots by the lane"].stage == "in the shuck"
    assert now["Sweet cherries"].stage == "first white"
    assert {block.stage_seen for block in now.values()} == {today()}
    assert "# by Tobias" in file.read_text()


def test_a_wrong_answer_is_undone_and_all_stages_can_be_had(file: Path) -> None:
    # Wrong, back, all stages, the first of them: dormant. Then the second block.
    done = typed(file.parent, "1\nb\n?\n1\ns\n")
    assert done.returncode == 0
    assert blocks(file)["Apricots by the lane"].stage == "dormant"
    assert blocks(file)["Sweet cherries"].stage == "first white"
    assert "1 dormant, 2 " in done.stdout
    assert "harvested" in done.stdout


def test_backwards_is_asked_back_and_what_is_none_asked_again(file: Path) -> None:
    names = blocks(file)["Apricots by the lane"].crop.stage_names
    white = names.index("first white") + 2
    done = typed(file.parent, f"9\n?\n{white}\nn\n\ns\n")
    assert "9 is none of these" in done.stdout
    assert "buds do not go back" in " ".join(done.stdout.split())
    assert blocks(file)["Apricots by the lane"].stage == "full bloom"


def test_whoever_breaks_off_or_skips_all_writes_nothing(file: Path) -> None:
    before = file.read_text()
    assert typed(file.parent, "1\n\x04").returncode == 1
    skipped = typed(file.parent, "s\ns\n")
    assert "Nothing was written." in skipped.stdout
    assert file.read_text() == before


def test_without_a_terminal_it_says_what_to_write(file: Path) -> None:
    done = frostalert("stage", cwd=file.parent)
    assert done.returncode == 64
    said = " ".join(done.stderr.split())
    assert 'frostalert stage "Apricots by the lane" STAGE' in said
    assert 'frostalert stage "Sweet cherries" STAGE' in said


@pytest.mark.parametrize(
    "words",
    [
        ("apr", "in the shuck"),
        ("apricots", "by", "the", "lane", "in", "the", "shuck"),
        ("APRICOTS by", "in the", "shuck"),
    ],
    ids=" ".join,
)
def test_names_need_no_quotes_and_no_end(file: Path, words: tuple[str, ...]) -> None:
    done = frostalert("stage", *words, cwd=file.parent)
    assert (done.returncode, done.stderr) == (0, "")
    assert blocks(file)["Apricots by the lane"].stage == "in the shuck"


def test_a_beginning_of_two_names_is_refused_with_both(file: Path) -> None:
    file.write_text(file.read_text() + CHERRIES.replace("Sweet", "Sweeter"))
    done = frostalert("stage", "sweet", "full bloom", cwd=file.parent)
    assert done.returncode == 64
    said = " ".join(done.stderr.split())
    assert '"sweet" may be "Sweet cherries" or "Sweeter cherries"' in said
    whole = frostalert("stage", "sweet", "cherries", "full", "bloom", cwd=file.parent)
    assert whole.returncode == 0
    assert blocks(file)["Sweet cherries"].stage == "full bloom"
    assert blocks(file)["Sweeter cherries"].stage == "first white"


def test_what_was_sent_by_phone_is_known_and_written_with_the_rest(
    file: Path, store: StateStore
) -> None:
    yesterday = today() - timedelta(days=1)
    store.note_phone_look(by_phone(file, "in the shuck", yesterday))
    shown = frostalert("stage", "apr", cwd=file.parent)
    assert "in the shuck, seen" in shown.stdout
    done = frostalert("stage", "sweet", "full bloom", cwd=file.parent)
    assert f"seen {yesterday} by Ines, by phone" in " ".join(done.stdout.split())
    apricots = blocks(file)["Apricots by the lane"]
    assert (apricots.stage, apricots.stage_seen) == ("in the shuck", yesterday)
    assert store.phone_looks() == ()


def test_the_check_of_the_file_minds_what_was_sent_by_phone(
    file: Path, store: StateStore
) -> None:
    file.write_text(file.read_text().replace(blocks_seen(file), "2025-04-10", 1))
    old = frostalert("config", "check", cwd=file.parent)
    assert "in another season" in " ".join(old.stdout.split())
    store.note_phone_look(by_phone(file, "in the shuck", today()))
    done = frostalert("config", "check", cwd=file.parent)
    said = " ".join(done.stdout.split())
    assert f"in the shuck, seen {today()} by Ines" in said
    assert "Apricots by the lane: full bloom was seen" not in said


def test_the_check_says_when_it_goes_by_the_file_alone(file: Path) -> None:
    (file.parent / "s").mkdir()
    (file.parent / "s" / "frostalert.sqlite3").write_text("no database at all")
    done = frostalert("config", "check", cwd=file.parent)
    assert done.returncode == 0
    assert "by the file alone, without stages by phone" in done.stdout


def test_tonights_limit_is_the_one_that_the_service_goes_by(
    file: Path, store: StateStore
) -> None:
    limit = BlockLimit(block="Apricots by the lane", stage="assumed", limit_c=0.0)
    store.save_job_sheet(
        JobSheet(
            night=today(), made_utc=SystemClock().now_utc(), jobs=(), limits=(limit,)
        )
    )
    done = frostalert("stage", "apr", "in the shuck", cwd=file.parent)
    assert "limit goes from 32 F to " in " ".join(done.stdout.split())


def test_another_systems_ends_of_lines_stay(file: Path) -> None:
    text = file.read_text()
    file.write_bytes(text.replace("\n", "\r\n").encode())
    assert frostalert("stage", "apr", "in the shuck", cwd=file.parent).returncode == 0
    written = file.read_bytes()
    assert written.count(b"\r\n") == written.count(b"\n") == text.count("\n")
