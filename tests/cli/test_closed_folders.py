"""Folders that are closed to whoever calls: one message each, and no traceback."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from frostalert.cli.main import main
from frostalert.store.open import open_store
from tests.cli.test_commands import frostalert
from tests.support.commands import FOR_CLOSED, WITHOUT_ROOTS_KEYS
from tests.support.configs import config_text
from tests.support.grids import grid_text
from tests.support.needs import needs

pytestmark = FOR_CLOSED
POST = '\n[[sensors]]\nname = "Post"\nkind = "reference"\n'
BUDS = ("buds", "Apricots by the lane", "--dead", "3", "--of", "100")
ANSWERS = (
    *("--place", "46.2205, -119.2412", "--elevation", "410 ft"),
    *("--crop", "apricot, full bloom", "--email", "ines@heron-bench.example"),
    *("--time-zone", "America/Los_Angeles", "--forecast", "grid.json"),
)


@contextmanager
def closed(folder: Path) -> Iterator[None]:
    folder.chmod(0)
    try:
        yield
    finally:
        folder.chmod(0o700)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    (tmp_path / "grid.json").write_text(grid_text(minimum_c=-4.0))
    state = tmp_path / "st"
    state.mkdir()
    open_store(state).database.close()
    text = config_text(state=str(state), nws_url="http://127.0.0.1:9", more=POST)
    (tmp_path / "frostalert.toml").write_text(text)
    return tmp_path


def asked(place: Path, *words: str) -> "subprocess.CompletedProcess[str]":
    done = frostalert(*words, cwd=place, can_open_all=False)
    assert "Traceback" not in done.stderr
    assert "Errno 13" not in done.stdout + done.stderr
    return done


def told(done: "subprocess.CompletedProcess[str]") -> str:
    return " ".join((done.stdout + done.stderr).split())


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("health",), 3),
        (("season",), 1),
        (("reading", "Post", "27 degF"), 1),
        (("ack", "--by", "Ines"), 1),
        (("past", "--springs", "1"), 1),
        (("replay", "--from", "2026-04-01", "--to", "2026-04-02"), 1),
        (("once",), 1),
        (BUDS, 1),
        (("stage", "Apricots"), 1),
        (
            ("once", "--fresh", "--forecast", "grid.json", "--now", "2026-04-12T15:00"),
            1,
        ),
    ],
)
def test_a_closed_state_is_one_message_with_what_to_do(
    place: Path, words: tuple[str, ...], code: int
) -> None:
    with closed(place / "st"):
        done = asked(place, *words)
    assert done.returncode == code
    assert f"{place / 'st'}" in told(done)
    assert "Permission denied; call it as a user who may, for instance with sudo" in (
        told(done)
    )


@pytest.mark.parametrize("command", ["tonight", "plan"])
def test_what_looks_without_the_state_says_so(place: Path, command: str) -> None:
    with closed(place / "st"):
        done = asked(place, command)
    # No source answers here: the forecasts are all that it could have gone by.
    assert done.returncode == 69
    assert "with sudo; judged by the forecasts alone" in told(done)


def test_the_doctor_does_not_take_a_closed_state_for_none(place: Path) -> None:
    with closed(place / "st"):
        done = asked(place, "doctor")
    assert f"BAD service: the state in {place / 'st'} cannot be used" in told(done)
    assert "no state yet" not in told(done)
    assert "unit: " in told(done)


def test_the_copy_in_a_closed_state_does_not_hide_what_is_wrong(place: Path) -> None:
    (place / "frostalert.toml").write_text(
        f'nonsense = 1\n[storage]\ndirectory = "{place / "st"}"\n'
    )
    with closed(place / "st"):
        done = asked(place, "ack", "--by", "Ines")
        health = asked(place, "health")
    assert done.returncode == 78
    assert "nonsense: unknown key" in told(done)
    assert health.returncode == 3


def test_a_closed_folder_of_crops_is_a_mistake_with_its_place(place: Path) -> None:
    crops = place / "own" / "crops"
    crops.mkdir(parents=True)
    path = place / "frostalert.toml"
    path.write_text(
        path.read_text().replace("[storage]\n", f'[storage]\ncrops = "{crops}"\n')
    )
    for folder in (crops, crops.parent):
        with closed(folder):
            done = asked(place, "config", "check")
        assert done.returncode == 78
        assert f"{crops} cannot be read: Permission denied" in told(done)


IN_MEMORY = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from frostalert.store.steady import FailoverStore
store = FailoverStore(Path(sys.argv[1]), datetime.now(UTC))
store.write_mark("a", "b")
print(store.trouble)
"""


def test_a_service_with_a_closed_state_goes_on_in_memory(place: Path) -> None:
    before = WITHOUT_ROOTS_KEYS if os.geteuid() == 0 else ()
    with closed(place / "st"):
        done = subprocess.run(
            [*before, sys.executable, "-c", IN_MEMORY, str(place / "st")],
            capture_output=True,
            text=True,
            check=False,
        )
    assert "Traceback" not in done.stderr
    assert "frostalert.sqlite3 cannot be reached: Permission denied" in done.stdout


def test_what_nobody_foresaw_about_a_file_is_one_message(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def app() -> None:
        raise PermissionError(13, "Permission denied", "/x/y")

    monkeypatch.setattr("frostalert.cli.main.app", app)
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 1
    assert "frostalert: /x/y cannot be used: Permission denied; call it as" in (
        " ".join(capsys.readouterr().err.split())
    )


def test_a_stage_for_a_folder_that_cannot_be_written_leaves_no_name_of_ours(
    place: Path,
) -> None:
    before = (place / "frostalert.toml").read_text()
    place.chmod(0o500)
    try:
        done = asked(place, "stage", "Apricots", "green fruit", "--yes")
    finally:
        place.chmod(0o700)
    assert done.returncode == 78
    assert f"cannot be written in {place}: Permission denied; call it as" in told(done)
    assert "tmp" not in told(done).replace(f"{place}", "")
    assert (place / "frostalert.toml").read_text() == before


@pytest.mark.parametrize("words", [("tonight",), ("health",), ("ack", "--by", "Ines")])
def test_a_closed_folder_of_configurations_is_not_passed_over(
    tmp_path: Path, words: tuple[str, ...]
) -> None:
    usual = tmp_path / ".config" / "frostalert"
    usual.mkdir(parents=True)
    with closed(usual):
        done = asked(tmp_path, *words)
    assert done.returncode == (3 if words == ("health",) else 78)
    assert f"{usual}/frostalert.toml: cannot be looked at: Permission denied" in (
        told(done)
    )
    assert "--config" in told(done)


@needs("setpriv", as_root=True)
def test_a_closed_folder_of_the_caller_is_passed_over(place: Path) -> None:
    usual = place / ".config" / "frostalert"
    usual.mkdir(parents=True)
    (place / "frostalert.toml").rename(usual / "frostalert.toml")
    here = place / "here"
    here.mkdir(mode=0o600)
    # As `sudo -u frostalert` leaves it: one stands in it, and may not look.
    done = subprocess.run(
        [*WITHOUT_ROOTS_KEYS, sys.executable, "-m", "frostalert", "config", "check"],
        cwd=here,
        env={**os.environ, "HOME": str(place)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Traceback" not in done.stderr
    assert done.returncode == 0


@pytest.mark.parametrize("to", ["lock/x.toml", "lock/deeper/x.toml"])
def test_a_first_configuration_for_a_closed_folder_is_refused(
    place: Path, to: str
) -> None:
    (place / "lock" / "deeper").mkdir(parents=True)
    with closed(place / "lock"):
        done = asked(place, "init", *ANSWERS, "--to", to)
    assert done.returncode == 64
    assert f"{to} cannot be written: Permission denied; call it as" in told(done)


def test_a_first_configuration_is_refused_before_the_first_question(
    place: Path,
) -> None:
    done = asked(place, "init", "--to", "nowhere/x.toml")
    assert done.returncode == 64
    assert "nowhere/x.toml cannot be written: No such file or directory" in told(done)
    assert "Latitude" not in told(done)
