"""The commands as a user runs them: the real program, its output and exit codes."""

import json
import os
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from frostalert.cli.demo import DEMO_NOW
from frostalert.config.example import example_text
from frostalert.forecast.file_source import load_run
from frostalert.model.warmth import Sighting
from frostalert.store.open import open_store
from tests.support.commands import run_command
from tests.support.configs import config_text
from tests.support.grids import frosty_hours, grid_text

NOW = "2026-04-12T17:00"
NIGHT_KEYS = {"night", "tier", "reason", "blocks"}
BLOCK_KEYS = {
    "block",
    "crop",
    "stage",
    "air_low_c",
    "air_low_from",
    "site_low_c",
    "dewpoint_at_low_c",
    "wet_bulb_low_c",
    "dry_bud_low_c",
    "wet_bud_low_c",
    "low_time_utc",
    "t10_c",
    "t90_c",
    "first_below_utc",
    "hours_below_t10",
    "kill_dry_pct",
    "kill_wet_pct",
    "probability_below_t10",
    "why",
}


def frostalert(
    *arguments: str, cwd: Path, can_open_all: bool = True, **environment: str
) -> subprocess.CompletedProcess[str]:
    return run_command(*arguments, cwd=cwd, can_open_all=can_open_all, **environment)


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    (tmp_path / "frostalert.toml").write_text(config_text(state=str(tmp_path / "st")))
    (tmp_path / "grid.json").write_text(grid_text(minimum_c=-4.0))
    return tmp_path


def test_tonight_prints_one_json_document(farm: Path) -> None:
    done = frostalert(
        "tonight", "--json", "--forecast", "grid.json", "--now", NOW, cwd=farm
    )
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout, parse_constant=pytest.fail)
    assert document["format"] == 1
    assert document["source"]["updated_utc"] == "2026-04-12T18:00:00Z"
    night = document["nights"][0]
    assert night.keys() >= NIGHT_KEYS
    assert (night["night"], night["tier"]) == ("2026-04-12", "prepare")
    block = night["blocks"][0]
    assert block.keys() >= BLOCK_KEYS
    assert block["air_low_c"] == -4.0
    assert block["air_low_from"] == "night minimum"
    assert block["site_low_c"] < -4.9
    assert block["t10_c"] == pytest.approx(-2.78)
    assert any("no history" in note for note in document["notes"])


def test_every_null_has_its_reason_and_nothing_else_has(farm: Path) -> None:
    (farm / "grid.json").write_text(
        grid_text(air_c=frosty_hours(hours=60), dewpoint_c=[None] * 60)
    )
    text = (farm / "frostalert.toml").read_text()
    (farm / "frostalert.toml").write_text(
        text.replace('"apricot"', '"strawberry"').replace('"full bloom"', '"popcorn"')
    )
    done = frostalert(
        "tonight", "--json", "--forecast", "grid.json", "--now", NOW, cwd=farm
    )
    document = json.loads(done.stdout)
    records = [document, *document["nights"]]
    records += [block for night in document["nights"] for block in night["blocks"]]
    for record in records:
        nulls = {name for name, value in record.items() if value is None}
        assert nulls == set(record["why"])
        assert all(record["why"].values())


def test_tonight_fits_eighty_columns_and_has_no_colour_when_piped(
    farm: Path,
) -> None:
    done = frostalert("tonight", "--forecast", "grid.json", "--now", NOW, cwd=farm)
    assert done.returncode == 0
    assert "\x1b" not in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 80
    assert ": get ready. " in done.stdout
    assert "fresh" in done.stdout


@pytest.mark.parametrize("command", ["tonight", "plan"])
def test_low_plants_without_equipment_get_what_a_house_has(
    farm: Path, command: str
) -> None:
    text = (farm / "frostalert.toml").read_text()
    low = text.replace('"apricot"', '"strawberry"').replace('"full bloom"', '"popcorn"')
    low = low.replace('"9 ft"', '"6 in"').replace('methods = ["micro-sprinklers"]', "")
    (farm / "frostalert.toml").write_text(low)
    done = frostalert(command, "--forecast", "grid.json", "--now", NOW, cwd=farm)
    assert done.returncode == 0, done.stderr
    assert "Sheets or blankets to the ground" in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 80


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("tonight", "--config", "none.toml"), 78, "no such file"),
        (("tonight", "--forecast", "none.json"), 65, "none.json: no such file"),
        (("tonight", "--forecast", "page.json"), 65, "web page"),
        (("tonight", "--forecast", "points.json"), 65, "/points answer"),
        (("tonight", "--forecast", "grid.json", "--now", "noon"), 64, "not a moment"),
        (("tonight", "--forecast", "."), 65, "cannot be read"),
        (("tonight", "--now", "9999-12-31T23:59"), 64, "no moment that"),
        (("once", "--fresh"), 64, "goes with a rehearsal"),
        (("stage", "Aprikots by the lane", "full bloom"), 64, "Apricots by the lane"),
        (("stage", "Apricots by the lane", "bloom"), 64, "full bloom"),
        (("test-message", "Bob"), 64, 'write one of "Ines"'),
        (("crops", "aprikot"), 64, "apricot"),
        (("frobnicate",), 2, "No such command"),
    ],
)
def test_mistakes_get_one_message_and_no_traceback(
    farm: Path, arguments: tuple[str, ...], code: int, words: str
) -> None:
    (farm / "page.json").write_text("<html>hotel</html>")
    (farm / "points.json").write_text(
        '{"properties": {"forecastGridData": "https://x.example"}}'
    )
    done = frostalert(*arguments, cwd=farm)
    assert words in " ".join(done.stderr.split())
    assert all(len(line) <= 80 for line in done.stderr.splitlines())
    assert "Traceback" not in done.stderr
    assert done.returncode == code


def test_without_a_configuration_the_places_are_named(tmp_path: Path) -> None:
    done = frostalert("tonight", cwd=tmp_path, FROSTALERT_CONFIG="")
    assert done.returncode == 78
    assert "--config" in done.stderr


def test_the_stage_is_written_and_its_comments_kept(tmp_path: Path) -> None:
    (tmp_path / "frostalert.toml").write_text(example_text())
    done = frostalert(
        "stage", "strawberry beds", "Open blossom", "--seen", "2026-04-15", cwd=tmp_path
    )
    assert "Strawberry beds: open blossom (was popcorn)" in done.stdout
    text = (tmp_path / "frostalert.toml").read_text()
    assert 'stage = "open blossom"\nstage_seen = 2026-04-15' in text
    assert text.count("#") == example_text().count("#")


def test_config_check_and_example(tmp_path: Path) -> None:
    example = frostalert("config", "example", cwd=tmp_path)
    (tmp_path / "frostalert.toml").write_text(example.stdout)
    bad = frostalert("config", "check", cwd=tmp_path)
    assert bad.returncode == 78
    assert "smtp-password" in bad.stderr
    assert "sms-token" in bad.stderr
    (tmp_path / "smtp-password").write_text("marker-secret")
    (tmp_path / "sms-token").write_text("marker-secret")
    good = frostalert("config", "check", cwd=tmp_path)
    assert good.returncode == 0
    assert "4 blocks, 2 people" in good.stdout
    assert "marker-secret" not in good.stdout
    assert "********" in good.stdout


def test_crops_shows_sources(tmp_path: Path) -> None:
    done = frostalert("crops", "tart-cherry", cwd=tmp_path)
    assert "from memory" not in done.stdout
    assert "Intermountain Tree Fruit" in " ".join(done.stdout.split())
    listed = frostalert("crops", cwd=tmp_path).stdout
    assert "apricot: apricot" in listed


def demo(tmp_path: Path, *more: str) -> "subprocess.CompletedProcess[str]":
    here, temporary = tmp_path / "here", tmp_path / "tmp"
    here.mkdir(exist_ok=True)
    temporary.mkdir(exist_ok=True)
    return frostalert("demo", *more, cwd=here, TMPDIR=str(temporary))


def test_the_demo_is_a_short_story_offline(tmp_path: Path) -> None:
    done = demo(tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert len(done.stdout.splitlines()) <= 40
    assert "invented" in done.stdout
    assert "Subject: Get ready from 4:40 pm" in done.stdout
    assert "GET READY from 4:40pm" in done.stdout
    assert "2 messages" in done.stdout
    # Nothing is left behind but the plotting library's own empty folder.
    assert [entry.name for entry in (tmp_path / "here").iterdir()] in ([], [".config"])


def test_the_demo_has_one_worst_block_and_its_first_job_is_its_subject(
    tmp_path: Path,
) -> None:
    said = demo(tmp_path).stdout
    text = said.partition("FROST Sun")[2].splitlines()[0]
    subject = said.partition("Subject: ")[2].splitlines()[0]
    jobs = said.partition("YOUR JOBS\n")[2].partition("\n\n")[0].splitlines()
    worst = said.partition("BLOCKS\n")[2].splitlines()[0]
    assert worst.startswith("Strawberry beds")
    assert "in Strawberry beds" in subject
    assert "23 F in Strawberry" in text
    first = re.match(r"\d+:\d\d [ap]m", jobs[0])
    assert first is not None
    assert subject.startswith(f"Get ready from {first.group()}:")
    assert f"GET READY from {first.group().replace(' ', '')}." in text
    afternoon = re.findall(r"(\d+:\d\d) pm", " ".join(jobs[:2] + jobs[-1:]))
    assert first.group() == f"{min(afternoon)} pm"


def test_the_demo_says_where_the_picture_is_and_shows_it_in_the_mail(
    tmp_path: Path,
) -> None:
    said = demo(tmp_path).stdout
    [place] = re.findall(r"\S+/mail\.html", said)
    page = Path(place)
    assert page.is_relative_to(tmp_path / "tmp")
    [picture] = re.findall(r'src="(night-[^"]+\.png)"', page.read_text())
    assert (page.parent / picture).read_bytes().startswith(b"\x89PNG")
    assert (page.parent / "all-numbers.html").is_file()
    assert load_run(page.parent / "forecast.json", DEMO_NOW).hours.count > 0


def test_the_whole_demo_has_the_table_and_the_messages_to_their_end(
    tmp_path: Path,
) -> None:
    said = demo(tmp_path, "--full").stdout
    assert "Nearest to harm" in said
    assert "Once water runs, KEEP IT ON" in said
    assert "frostalert demo --full" not in said
    short = demo(tmp_path).stdout
    assert "Nearest to harm" not in short
    assert "KEEP IT ON" not in short


def test_every_command_has_help(tmp_path: Path) -> None:
    top = frostalert("--help", cwd=tmp_path).stdout
    for command in (
        "run",
        "once",
        "tonight",
        "demo",
        "config",
        "stage",
        "crops",
        "test-message",
        "ack",
        "health",
        "web",
    ):
        assert command in top
        assert frostalert(command, "--help", cwd=tmp_path).returncode == 0
    assert frostalert("--version", cwd=tmp_path).stdout.startswith("frostalert ")


def test_a_stage_that_goes_backwards_asks_first(tmp_path: Path) -> None:
    path = tmp_path / "frostalert.toml"
    path.write_text(config_text())
    before = path.read_text()
    given = ("stage", "Apricots by the lane", "first white", "--seen", "2026-04-12")
    back = frostalert(*given, cwd=tmp_path)
    assert back.returncode == 1
    assert "buds do not go back" in " ".join(back.stdout.split())
    assert path.read_text() == before
    sure = frostalert(*given, "--yes", cwd=tmp_path)
    assert sure.returncode == 0
    assert 'stage = "first white"' in path.read_text()


def test_without_a_stage_what_was_seen_is_shown(tmp_path: Path) -> None:
    (tmp_path / "frostalert.toml").write_text(config_text(state=str(tmp_path / "s")))
    plain = frostalert("stage", "Apricots by the lane", cwd=tmp_path)
    assert "full bloom, seen 2026-04-10" in plain.stdout
    assert "there is no state yet" in plain.stdout
    (tmp_path / "s").mkdir()
    store = open_store(tmp_path / "s")
    store.note_sightings(
        [
            Sighting(
                block="Apricots by the lane",
                crop="apricot",
                stage="first white",
                seen=date(2026, 4, 3),
            )
        ]
    )
    store.database.close()
    shown = frostalert("stage", "Apricots by the lane", cwd=tmp_path)
    assert "2026-04-03  first white" in shown.stdout


def completed(
    folder: Path, typed: str, place: int
) -> "subprocess.CompletedProcess[str]":
    """What a shell is offered: the installed command is asked, as a shell does."""
    return subprocess.run(
        [str(Path(sys.executable).with_name("frostalert"))],
        cwd=folder,
        env={
            **os.environ,
            "HOME": str(folder),
            "_FROSTALERT_COMPLETE": "complete_bash",
            "COMP_WORDS": typed,
            "COMP_CWORD": str(place),
        },
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.mark.parametrize(
    ("typed", "place", "offered"),
    [
        ("frostalert st", 1, ["stage"]),
        ("frostalert stage Apr", 2, ["Apricots by the lane"]),
        ('frostalert stage "Apricots by the lane" full', 3, ["full bloom"]),
        ("frostalert crops pea", 2, ["peach", "pear"]),
        ("frostalert test-message I", 2, ["Ines"]),
        ("frostalert plan --ni", 2, ["--night"]),
    ],
)
def test_the_shell_completes_commands_and_names(
    tmp_path: Path, typed: str, place: int, offered: list[str]
) -> None:
    (tmp_path / "frostalert.toml").write_text(config_text())
    done = completed(tmp_path, typed, place)
    assert done.stdout.splitlines() == offered


def test_a_broken_configuration_offers_nothing_and_says_nothing(tmp_path: Path) -> None:
    (tmp_path / "frostalert.toml").write_text("[site]")
    done = completed(tmp_path, "frostalert stage Apr", 2)
    assert (done.stdout.strip(), done.stderr) == ("", "")


@pytest.mark.parametrize(
    ("arguments", "keys"),
    [
        (("plan", "--forecast", "grid.json", "--now", NOW), {"night", "plan", "why"}),
        (
            (
                "explain",
                "Apricots by the lane",
                "--forecast",
                "grid.json",
                "--now",
                NOW,
            ),
            {"block", "steps", "tier"},
        ),
        (("crops",), {"crops"}),
        (("crops", "pear"), {"crops"}),
        (("tonight", "--forecast", "grid.json", "--now", NOW), {"nights", "plan"}),
        (
            ("buds", "Apricots by the lane", "--dead", "3", "--of", "90"),
            {"block", "dead", "lost_pct"},
        ),
        (
            (
                *("trial", "--treated-dead", "3", "--treated-of", "60"),
                *("--alone-dead", "20", "--alone-of", "60"),
            ),
            {"trial", "can_tell"},
        ),
    ],
    ids=lambda value: value[0] if isinstance(value, tuple) else "",
)
def test_what_is_read_is_there_as_json(
    farm: Path, arguments: tuple[str, ...], keys: set[str]
) -> None:
    done = frostalert(*arguments, "--json", cwd=farm)
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    assert document["format"] == 1
    assert keys <= set(document)


def test_the_demo_in_full_says_one_hour_to_get_ready(tmp_path: Path) -> None:
    said = demo(tmp_path, "--full").stdout
    told = set(re.findall(r"[Gg]et ready from (\d+:\d+)", said))
    assert len(told) == 1, told
