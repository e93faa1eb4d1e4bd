"""What stays in force when the file is broken, in ways that nobody foresaw as well."""

from pathlib import Path

import pytest

from frostalert.config import load
from frostalert.config.accepted import AcceptedConfig, settings_in_force
from frostalert.config.followed import FollowedConfig
from frostalert.config.load import load_settings, named_state_directory
from frostalert.errors import ConfigError
from frostalert.model.secret import Secret
from frostalert.store.open import open_store
from tests.support.commands import run_command
from tests.support.configs import config_text

STATUS = '\n[status]\ndirectory = "www"\n'


def problem_of(folder: Path, old: str, new: str) -> str:
    path = folder / "orchard.toml"
    text = config_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    with pytest.raises(ConfigError) as caught:
        load_settings(path, needs_secrets=False)
    return str(caught.value)


@pytest.mark.parametrize("written", ["22", "79200.0", '"21:30Z"', '"half nine"'])
def test_a_time_of_day_is_local_and_no_bare_number(
    tmp_path: Path, written: str
) -> None:
    quiet = f'channels = ["email"]\nquiet_from = {written}\nquiet_to = 06:00:00'
    said = problem_of(tmp_path, 'channels = ["email"]', quiet)
    assert 'quiet_from: "' in said
    assert "write it like 21:30:00" in said
    said = problem_of(
        tmp_path, "[forecast]", f"[schedule]\ndaily_line = {written}\n[forecast]"
    )
    assert "daily_line" in said


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('channels = ["email"]', 'channels = [["email"]]'),
        ("[email]\n", '[email]\nusername = "u"\npassword_file = "~nobody-here/x"\n'),
        ("[email]\n", '[email]\nusername = "u"\npassword_file = "a\\u0000b"\n'),
        ("[forecast]\n", '[readings]\ncsv = "~nobody-here/x"\n[forecast]\n5 = 5\n'),
    ],
)
def test_odd_values_leave_the_earlier_file_in_force(
    tmp_path: Path, old: str, new: str
) -> None:
    path = tmp_path / "orchard.toml"
    path.write_text(config_text())
    running = AcceptedConfig(path, tmp_path)
    path.write_text(config_text().replace(old, new, 1))
    assert running.look()
    assert running.problem
    restarted = AcceptedConfig(path, tmp_path)
    assert restarted.problem
    assert restarted.settings.farm.site.name == "Heron Bench"


def test_a_mistake_of_ours_leaves_the_earlier_file_in_force(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "orchard.toml"
    path.write_text(config_text())
    running = AcceptedConfig(path, tmp_path)
    path.write_text(config_text() + "\n")
    monkeypatch.setattr(load, "cross_checks", lambda *_: 1 / 0)
    assert running.look()
    assert "ZeroDivisionError" in str(running.problem)


def broken(text: str) -> str:
    return text.replace("plants = 36", "plants = = 36")


@pytest.mark.parametrize(
    ("storage", "named"),
    [
        ("", None),
        ('\n[storage]\ndirectory = "kept"\n', "kept"),
        ("\n[storage] # where\ncrops = \"c\"\n directory = 'kept'\n", "kept"),
    ],
)
def test_a_broken_file_says_its_own_state_folder(
    tmp_path: Path, storage: str, named: str | None
) -> None:
    path = tmp_path / "orchard.toml"
    expected = None if named is None else str(tmp_path / named)
    for more in (STATUS + storage, storage + STATUS):
        path.write_text(config_text(more=more))
        assert named_state_directory(path) == expected
        path.write_text(broken(config_text(more=more)))
        assert named_state_directory(path) == expected
    path.write_text(f'storage.directory = "top"\n{broken(config_text(more=STATUS))}')
    assert named_state_directory(path) == str(tmp_path / "top")


def test_folders_count_from_the_file(tmp_path: Path) -> None:
    path = tmp_path / "orchard.toml"
    path.write_text(config_text(state="kept", more=STATUS))
    settings = load_settings(path)
    assert settings.state_directory == str(tmp_path / "kept")
    assert settings.status_directory == str(tmp_path / "www")


def test_people_and_monitors_go_by_the_copy_while_the_file_is_broken(
    tmp_path: Path,
) -> None:
    path = tmp_path / "frostalert.toml"
    state = tmp_path / "state"
    state.mkdir()
    path.write_text(config_text(state=str(state)))
    AcceptedConfig(path, state)
    open_store(state).database.close()
    path.write_text(broken(config_text(state=str(state))))
    assert settings_in_force(path, state).farm.site.name == "Heron Bench"
    answered = run_command("ack", "--by", "Ines", cwd=tmp_path)
    assert "Nothing to answer" in answered.stdout
    assert "last accepted copy" in answered.stderr
    health = run_command("health", cwd=tmp_path)
    assert health.returncode == 2
    path.unlink()
    (state / "config.accepted.toml").unlink()
    gone = run_command("health", "--config", str(path), cwd=tmp_path)
    assert gone.returncode == 3


def test_the_page_s_process_has_an_edit_at_once_and_keeps_what_works(
    tmp_path: Path,
) -> None:
    path, state = tmp_path / "frostalert.toml", tmp_path / "state"
    text = config_text(state=str(state))
    path.write_text(text)
    followed = FollowedConfig(path, state)
    assert followed.settings().farm.site.name == "Heron Bench"
    path.write_text(text.replace("Heron Bench", "Crane Bench"))
    assert followed.settings().farm.site.name == "Crane Bench"
    path.write_text("[site")
    assert followed.settings().farm.site.name == "Crane Bench"


def test_a_secret_shows_nothing_of_itself_in_a_log_or_a_traceback() -> None:
    secret = Secret("hunter2-marker")
    assert "hunter2" not in f"{secret} {secret!r} {[secret]}"
    assert secret.reveal() == "hunter2-marker"


def test_a_broken_file_is_answered_beside_without_the_secrets(tmp_path: Path) -> None:
    """Whoever acknowledges a warning need not read the service's passwords."""
    path, state = tmp_path / "frostalert.toml", tmp_path / "state"
    secret = tmp_path / "smtp-password"
    secret.write_text("marker")
    state.mkdir()
    login = '[email]\nusername = "frost"\npassword_file = "smtp-password"'
    text = config_text(state=str(state)).replace("[email]", login)
    path.write_text(text)
    AcceptedConfig(path, state)
    secret.unlink()
    path.write_text("[site")
    assert settings_in_force(path, state).farm.site.name == "Heron Bench"
