"""Every command that README and the other pages name is run as it stands there."""

import re
import shlex
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.config.example import example_text
from frostalert.config.load import load_settings
from frostalert.forecast.nws import parse_grid
from frostalert.ports import Fetched, SourceMemory
from frostalert.store.open import open_store
from tests.adapters.test_nws import Office
from tests.cli.test_commands import frostalert
from tests.support.grids import grid_text
from tests.support.plans import night_grid
from tests.support.servers import HttpServer, Reply, http_server

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
FOLDERS = ("config", "deploy", "frostalert", "tests")
PAGES = [README, *((ROOT / name / "README.md").read_text() for name in FOLDERS)]
WORDS = {
    "BLOCK": '"Sweet cherries"',
    "STAGE": '"first bloom"',
    "SENSOR": '"Post by the shed"',
    "VALUE": '"27.5 degF"',
    "PERSON": "Ines",
    "NAME": "Ines",
    "DATE": "2026-04-12",
    "FILE": "grid.json",
    "[CROP]": "apple",
}
# The daemon and the page run until they are told to end: their own tests start them.
FOREVER = {"run", "web"}
# What a command may end with where nothing is the matter with it: a state that is not
# there yet, a service that does not run, a mail server that does not exist.
ALSO_GOOD = {
    "health": {1, 2, 3},
    "doctor": {1},
    "test-message": {1, 75},
    "once": {75},
    "ack": {0, 64},
    # Without network it says what it needs.
    "past": {69},
}


def named() -> list[str]:
    found = [
        text
        for page in PAGES
        for pattern in (r"`(frostalert [^`]+)`", r"(?m)^ {4}(frostalert .+)$")
        for text in re.findall(pattern, page)
    ]
    return sorted({" ".join(text.split()) for text in found})


def command(text: str) -> list[str]:
    for word, value in WORDS.items():
        text = text.replace(word, value)
    return shlex.split(text)[1:]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    place = tmp_path_factory.mktemp("readme")
    office = Office()
    office.grid = Reply(200, grid_text())
    with http_server(office) as server:
        prepare(place, server)
        yield place


def prepare(place: Path, server: HttpServer) -> None:
    """The example, at hand: a forecast service, a recorded answer, a state."""
    text = example_text().replace(
        'sources = ["nws", "met-norway"]', 'sources = ["nws"]'
    )
    text = text.replace(
        '#: nws_url = "https://api.weather.gov"', f'nws_url = "{server.url}"'
    )
    text = text.replace(
        '#: directory = "/var/lib/frostalert"', f'directory = "{place}/state"'
    )
    # No archive is asked by a test: this one is not there.
    text = text.replace(
        '#: previous_runs_url = "https://previous-runs-api.open-meteo.com"',
        'previous_runs_url = "http://127.0.0.1:9"',
    )
    assert "127.0.0.1:9" in text
    text = text.replace("smtp.mail.example", "127.0.0.1").replace(
        "port = 587", "port = 9"
    )
    (place / "frostalert.toml").write_text(text)
    for name in ("smtp-password", "sms-token"):
        (place / name).write_text("invented\n")
    (place / "grid.json").write_text(night_grid(-3.0))
    farm = load_settings(place / "frostalert.toml", needs_secrets=False).farm
    assert farm.sensors
    (place / "state").mkdir()
    store = open_store(place / "state")
    made = datetime(2026, 4, 12, 20, tzinfo=UTC)
    for hour in range(3):
        now = made + timedelta(hours=hour)
        run = parse_grid(night_grid(-3.0, updated=now), now)
        store.save_run(Fetched(run=run, memory=SourceMemory()), "nws", now)
    store.database.close()


@pytest.mark.parametrize("text", named())
def test_the_command_runs(folder: Path, text: str) -> None:
    arguments = command(text)
    name = arguments[0]
    if name in FOREVER:
        arguments = [name, "--help"]
    if text in {"frostalert trial", "frostalert init", "frostalert stage"}:
        # They ask at a terminal: their own tests type the answers.
        arguments = [name, "--help"]
    if name == "--install-completion":
        # It would change the shell of whoever runs the tests.
        arguments = ["--help"]
    if name == "explain":
        arguments += ["--forecast", "grid.json", "--now", "2026-04-12T14:45"]
    if name == "ack" and len(arguments) == 1:
        arguments += ["--by", "Ines"]
    done = frostalert(*arguments, cwd=folder, TMPDIR=str(folder))
    good = {0} | ALSO_GOOD.get(name, set())
    words = done.stdout + done.stderr
    assert done.returncode in good, words
    assert "Traceback" not in words
    assert words.strip()


def test_the_warning_that_the_readme_shows_is_the_demonstrations(
    tmp_path: Path,
) -> None:
    shown = re.findall(r"```text\n(.*?)```", README, re.DOTALL)
    assert len(shown) == 2
    said = frostalert("demo", cwd=tmp_path, TMPDIR=str(tmp_path)).stdout.splitlines()
    for line in "".join(shown).splitlines():
        assert line in said


def test_the_readme_names_every_option_that_it_explains() -> None:
    for name, option in (("plan", "--what-if"), ("plan", "--calendar")):
        assert option in README
        assert option in frostalert(name, "--help", cwd=ROOT).stdout


def test_nothing_is_left_to_fill_in() -> None:
    for text in named():
        assert not re.search(r"\b[A-Z]{4,}\b", " ".join(command(text))), text
