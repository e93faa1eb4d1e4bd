"""`frostalert plan` and the plan in the other outputs."""

import json
from pathlib import Path
from typing import Any

import pytest
import vobject

from frostalert.config.example import example_text
from tests.cli.test_commands import frostalert
from tests.support.plans import night_grid

NOW = "2026-04-12T14:45"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "frostalert.toml").write_text(example_text())
    (tmp_path / "grid.json").write_text(night_grid(-3.0))
    (tmp_path / "mild.json").write_text(night_grid(14.0, high_c=22.0))
    return tmp_path


def plan(folder: Path, *more: str, grid: str = "grid.json") -> Any:
    return frostalert("plan", "--forecast", grid, "--now", NOW, *more, cwd=folder)


def test_it_prints_the_plan_within_eighty_columns(folder: Path) -> None:
    done = plan(folder)
    assert (done.returncode, done.stderr) == (0, "")
    for words in (
        "Planned for 2 people",
        "Lane line (micro-sprinklers)",
        "WATER AND FUEL",
        "JOBS BY THE HOUR",
        "Ines: ",
        "LEFT OUT\n- Concord arbour: no method is listed for it.",
        "Local codes, the fire department and licensed",
    ):
        assert words in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 80


def test_what_if_shows_the_other_plan_beside_it(folder: Path) -> None:
    done = plan(folder, "--what-if", "hands=1, tank=800 gal")
    assert done.returncode == 0
    beside = done.stdout.partition("WHAT IF hands=1, tank=800 gal")[2]
    assert "Apricots by the lane: Lane line, enough -> nothing" in beside
    assert "% of what your own plan saves" in beside


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ("hand=1", '"hand=1" is no change (hands, tank, refill, without)'),
        ("hands=none", "hands must be a whole number"),
        ("hands=0", "hands must be a whole number"),
        ("tank=800", '"800" has no unit'),
        ("without=Nothing", 'there is no equipment "Nothing"; known are "Lane line"'),
    ],
)
def test_a_what_if_that_cannot_be_read_is_told_what_to_write(
    folder: Path, given: str, words: str
) -> None:
    done = plan(folder, "--what-if", given)
    assert done.returncode == 64
    assert words in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr


def test_a_night_without_danger_needs_no_plan_and_says_which(folder: Path) -> None:
    done = plan(folder, grid="mild.json")
    assert done.returncode == 0
    assert done.stdout.startswith("No plan for the night of 2026-04-12: none.")
    beyond = plan(folder, "--night", "2026-05-30")
    assert "The forecast reaches the nights from 2026-04-12" in beyond.stdout
    assert beyond.returncode == 69
    for night in ("2026-05-30", "2026-04-01"):
        values = plan(folder, "--night", night, "--json")
        assert values.returncode == 69
        assert json.loads(values.stdout)["plan"] is None
    wrong = plan(folder, "--night", "tomorrow")
    assert (wrong.returncode, "not a date" in wrong.stderr) == (64, True)


def test_it_writes_the_calendar(folder: Path) -> None:
    done = plan(folder, "--calendar", "night.ics")
    assert done.returncode == 0
    calendar = vobject.readOne((folder / "night.ics").read_text())
    assert len(calendar.vevent_list) > 5
    refused = plan(folder, "--calendar", "no/such/folder.ics")
    assert refused.returncode == 64
    assert "cannot be written" in refused.stderr


def test_a_calendar_on_standard_output_stands_there_alone(folder: Path) -> None:
    done = plan(folder, "--calendar", "-")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("BEGIN:VCALENDAR")
    assert len(vobject.readOne(done.stdout).vevent_list) > 5
    mild = plan(folder, "--calendar", "-", grid="mild.json")
    assert (mild.returncode, mild.stdout) == (0, "")
    assert mild.stderr.startswith("No plan for the night of 2026-04-12: none.")


@pytest.mark.parametrize(
    ("more", "named"),
    [(("--json",), "--json"), (("--what-if", "hands=1"), "--what-if")],
)
def test_nothing_else_is_printed_into_the_calendar(
    folder: Path, more: tuple[str, ...], named: str
) -> None:
    done = plan(folder, "--calendar", "-", *more)
    assert (done.returncode, done.stdout) == (64, "")
    assert f"prints that file alone: leave {named} out" in done.stderr


def nulls_of(record: dict[str, Any]) -> set[str]:
    return {name for name, value in record.items() if value is None}


def test_the_plan_stands_in_the_json_with_a_reason_for_every_null(
    folder: Path,
) -> None:
    done = frostalert(
        "tonight", "--json", "--forecast", "grid.json", "--now", NOW, cwd=folder
    )
    document = json.loads(done.stdout, parse_constant=pytest.fail)
    made = document["plan"]
    assert made["night"] == "2026-04-12"
    assert {"Lane line", "Bed covers"} <= {item["equipment"] for item in made["chosen"]}
    records = [made, *made["chosen"], *made["refused"], *made["budgets"]]
    records += [*made["tasks"], *(i["water"] for i in made["chosen"] if i["water"])]
    for record in records:
        assert nulls_of(record) == set(record["why"])


def test_no_plan_in_the_json_has_its_reason(folder: Path) -> None:
    done = frostalert(
        "tonight", "--json", "--forecast", "mild.json", "--now", NOW, cwd=folder
    )
    document = json.loads(done.stdout)
    assert document["plan"] is None
    assert "no block is at risk" in document["why"]["plan"]
