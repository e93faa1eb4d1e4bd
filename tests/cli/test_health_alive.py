"""`frostalert health --alive`: whether the service runs, and nothing else."""

from pathlib import Path

from frostalert.store.lock import StateLock
from frostalert.store.open import make_state_directory
from tests.support.commands import run_command
from tests.support.configs import config_text


def test_it_asks_only_whether_the_service_runs(tmp_path: Path) -> None:
    state = make_state_directory(tmp_path / "state")
    (tmp_path / "frostalert.toml").write_text(config_text(state=str(state)))
    gone = run_command("health", "--alive", cwd=tmp_path)
    assert gone.returncode == 2
    assert "not running" in gone.stdout
    with StateLock(state):
        # No forecast, no state, no watcher: starting anew would mend none of it.
        runs = run_command("health", "--alive", cwd=tmp_path)
        assert runs.returncode == 0
        assert run_command("health", cwd=tmp_path).returncode == 3


def test_a_broken_configuration_does_not_count_as_dead(tmp_path: Path) -> None:
    state = make_state_directory(tmp_path / "state")
    config = config_text(state=str(state)).replace("46.2205", "146.2205")
    (tmp_path / "frostalert.toml").write_text(config)
    with StateLock(state):
        assert run_command("health", "--alive", cwd=tmp_path).returncode == 0
