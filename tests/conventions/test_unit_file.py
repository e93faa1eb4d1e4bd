"""The systemd unit, checked offline where systemd's own checker is at hand."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.support.needs import needs

DEPLOY = Path(__file__).parents[2] / "deploy"
UNIT = DEPLOY / "frostalert.service"
MOST_EXPOSED = 2.0


@pytest.fixture(
    params=[
        "frostalert.service",
        "frostalert-web.service",
        "frostalert-copy.service",
    ]
)
def runnable(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """A unit with a program that exists in place of ours, which is not installed."""
    unit = DEPLOY / request.param
    text = re.sub(r"ExecStart=\S+", "ExecStart=/bin/true", unit.read_text())
    copy: Path = tmp_path / unit.name
    copy.write_text(text)
    return copy


@needs("systemd-analyze")
def test_the_unit_verifies_without_a_word(runnable: Path) -> None:
    done = subprocess.run(
        ["systemd-analyze", "verify", str(runnable)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    # An unknown directive only prints a warning: any output is a failure.
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


@needs("systemd-analyze")
def test_the_unit_is_little_exposed(runnable: Path) -> None:
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=yes", str(runnable)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    found = re.search(r"exposure level for \S+: ([\d.]+)", done.stdout)
    assert found is not None, done.stdout + done.stderr
    assert float(found[1]) <= MOST_EXPOSED


def test_the_unit_restarts_for_ever_but_not_on_a_broken_configuration() -> None:
    text = UNIT.read_text()
    for line in (
        "Restart=always",
        "StartLimitIntervalSec=0",
        "RestartPreventExitStatus=78",
        "NoNewPrivileges=yes",
        "ProtectSystem=strict",
        "StateDirectory=frostalert",
    ):
        assert f"\n{line}\n" in text


@needs("systemd-analyze")
def test_the_timer_verifies_without_a_word(tmp_path: Path) -> None:
    for name in ("frostalert-copy.timer", "frostalert-copy.service"):
        shutil.copy(DEPLOY / name, tmp_path)
    done = subprocess.run(
        ["systemd-analyze", "verify", str(tmp_path / "frostalert-copy.timer")],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


@pytest.mark.parametrize("name", ["install.sh", "uninstall.sh"])
def test_a_script_does_nothing_unless_it_is_told_to(name: str) -> None:
    done = subprocess.run(
        ["sh", str(DEPLOY / name)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[0] == "Nothing is done without --do-it. The steps:"
    assert any(line.startswith("would run: ") for line in lines)
    assert not any(line.startswith("+ ") for line in lines)


def test_what_is_installed_is_what_is_removed() -> None:
    units = {
        path.name for path in DEPLOY.iterdir() if path.suffix in (".service", ".timer")
    }
    for name in ("install.sh", "uninstall.sh"):
        text = (DEPLOY / name).read_text()
        assert set(re.findall(r"frostalert[a-z-]*\.(?:service|timer)", text)) == units
