"""`frostalert buds` and `frostalert trial` as a grower runs them the morning after."""

from datetime import timedelta
from pathlib import Path

import pytest

from frostalert.clock import SystemClock
from frostalert.config.example import example_text
from frostalert.store.open import open_store
from tests.cli.test_commands import frostalert


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "frostalert.toml").write_text(example_text())
    return tmp_path


def test_a_count_says_how_sure_it_is_and_what_to_write_down(folder: Path) -> None:
    done = frostalert(
        "buds", "Sweet cherries", "--dead", "60", "--of", "100", cwd=folder
    )
    assert done.returncode == 0
    words = " ".join(done.stdout.split())
    assert "60 % (50 to 70 % at 95 %, of 100) of the buds cut are dead." in words
    assert "Crop that can still be had: 40 % of a full one (30 to 50 %)" in words
    assert "write buds_lost_pct = 60" in words
    assert "How to sample" in words
    assert max(len(line) for line in done.stdout.splitlines()) <= 88


def test_a_crop_without_a_published_share_gets_no_outlook(folder: Path) -> None:
    done = frostalert("buds", "Strawberry beds", "--dead", "3", "--of", "8", cwd=folder)
    assert "what the crop will be is not said" in " ".join(done.stdout.split())
    assert "cut more before you decide anything" in done.stdout


def test_a_trial_with_too_few_buds_says_so(folder: Path) -> None:
    counts = ["--treated-dead", "12", "--treated-of", "60"]
    few = frostalert(
        "trial", *counts, "--alone-dead", "15", "--alone-of", "60", cwd=folder
    )
    assert "Too few to tell" in few.stdout
    enough = frostalert(
        "trial", *counts, "--alone-dead", "35", "--alone-of", "60", cwd=folder
    )
    assert "more than chance, if limbs or rows were chosen by lot" in enough.stdout
    assert "p under 0.001" in enough.stdout


def test_counts_that_cannot_be_are_refused(folder: Path) -> None:
    done = frostalert("buds", "Sweet cherries", "--dead", "9", "--of", "3", cwd=folder)
    assert done.returncode == 64
    assert "cannot be" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("given", ["3.5", "three", ""])
def test_a_count_that_is_not_whole_says_what_to_write(folder: Path, given: str) -> None:
    for arguments in (
        ("buds", "Sweet cherries", "--of", "9", "--dead", given),
        ("past", "--springs", given),
    ):
        done = frostalert(*arguments, cwd=folder)
        assert done.returncode == 2
        assert f'"{given}" is not a whole number; write it like 12' in done.stderr


def test_a_count_of_a_night_to_come_is_refused(folder: Path) -> None:
    text = example_text().replace("[storage]", '[storage]\ndirectory = "state"')
    (folder / "frostalert.toml").write_text(text)
    (folder / "state").mkdir()
    store = open_store(folder / "state")
    count = ("buds", "Sweet cherries", "--dead", "3", "--of", "90", "--night")
    today = SystemClock().now_utc().date()
    for night in ("2099-04-12", str(today + timedelta(days=1))):
        done = frostalert(*count, night, cwd=folder)
        assert (done.returncode, done.stdout) == (64, "")
        words = " ".join(done.stderr.split())
        assert f"--night {night} is not over: a count is of buds that a past" in words
    assert store.bud_counts() == ()
    past = str(today - timedelta(days=3))
    assert frostalert(*count, past, cwd=folder).returncode == 0
    assert [item.night.isoformat() for item in store.bud_counts()] == [past]
    store.database.close()


def test_few_buds_decide_nothing_and_a_second_count_says_what_it_replaces(
    folder: Path,
) -> None:
    text = example_text().replace("[storage]", '[storage]\ndirectory = "state"')
    (folder / "frostalert.toml").write_text(text)
    (folder / "state").mkdir()
    open_store(folder / "state").database.close()
    first = ("buds", "Sweet cherries", "--dead", "37", "--of", "120")
    assert "replaces" not in frostalert(*first, cwd=folder).stdout
    done = frostalert("buds", "Sweet cherries", "--dead", "0", "--of", "5", cwd=folder)
    words = " ".join(done.stdout.split())
    assert "cut more before you decide anything" in words
    assert "This replaces 37 of 120 counted earlier for that night" in words
    assert "write buds_lost_pct" not in words
