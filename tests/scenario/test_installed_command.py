"""The command of an installed machine: the real script, in mounts of its own.

User, program, configuration and state of the service are put where the script looks for
them, and nobody outside sees it.
"""

import csv
import os
import shlex
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
import vobject

from frostalert.config.example import example_text
from frostalert.store.open import open_store
from tests.support.needs import needs
from tests.support.plans import night_grid

pytestmark = needs("unshare", "setpriv", as_root=True)

ROOT = Path(__file__).parents[2]
COMMAND = ROOT / "deploy" / "frostalert-command.sh"
USER_ID = 61_337
OPEN_UP = """
open_up() {
    # Lay a folder anew, open to all and with room for new names; what is in it stays.
    mkdir -p "$KEPT$1"
    mount --rbind "$1" "$KEPT$1"
    mount -t tmpfs -o mode=755 tmpfs "$1"
    for child in "$KEPT$1"/* "$KEPT$1"/.[!.]*; do
        here="$1/${child##*/}"
        if [ -L "$child" ]; then cp -P "$child" "$here"
        elif [ -d "$child" ]; then mkdir "$here"; mount --rbind "$child" "$here"
        elif [ -f "$child" ]; then : > "$here"; mount --bind "$child" "$here"
        fi
    done
}
lay() {
    mkdir -p "$2"
    mount --bind "$1" "$2"
}
"""


class Machine:
    """A machine with the service installed, for a caller who is root."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.home = folder / "home"
        self.home.mkdir(mode=0o700)
        self.grid = folder / "grid.json"
        self.grid.write_text(night_grid(-3.0))
        self._write_users()
        self._write_installation()

    def _write_users(self) -> None:
        for name, entry in (
            ("passwd", f"x:{USER_ID}:{USER_ID}::/nonexistent:/usr/sbin/nologin"),
            ("group", f"x:{USER_ID}:"),
        ):
            known = Path("/etc", name).read_text().splitlines()
            others = [line for line in known if not line.startswith("frostalert:")]
            text = "\n".join([*others, f"frostalert:{entry}", ""])
            (self.folder / name).write_text(text)

    def _write_installation(self) -> None:
        for name in ("bin", "etc", "state", "caller"):
            (self.folder / name).mkdir()
        (self.folder / "etc" / "frostalert.toml").write_text(example_text())
        program = self.folder / "bin" / "frostalert"
        python = f"PYTHONPATH={ROOT} exec {sys.executable} -m frostalert"
        program.write_text(f'#!/bin/sh\n{python} "$@"\n')
        program.chmod(0o755)
        caller = self.folder / "caller" / "frostalert"
        caller.write_text(COMMAND.read_text())
        caller.chmod(0o755)
        state = self.folder / "state"
        open_store(state).database.close()
        for path in (state, *state.iterdir()):
            os.chown(path, USER_ID, USER_ID)

    def run(self, command: str) -> "subprocess.CompletedProcess[str]":
        """Return what a line of the caller's shell did, typed in the caller's home."""
        opened = ["/etc", "/opt", "/var/lib", "/var/cache", *_closed_to_others()]
        preparation = [
            OPEN_UP,
            *(f"open_up {shlex.quote(place)}" for place in dict.fromkeys(opened)),
            f"mount --bind {self.folder}/passwd /etc/passwd",
            f"mount --bind {self.folder}/group /etc/group",
            f"lay {self.folder}/etc /etc/frostalert",
            f"lay {self.folder}/bin /opt/frostalert/bin",
            f"lay {self.folder}/state /var/lib/frostalert",
            f"cd {self.home}",
            f"PATH={self.folder}/caller:$PATH",
            command,
        ]
        return subprocess.run(
            ["unshare", "-m", "sh", "-ec", "\n".join(preparation)],
            env={
                "PATH": os.environ["PATH"],
                "HOME": str(self.home),
                "KEPT": str(self.folder / "kept"),
            },
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )

    def plan(self, more: str) -> "subprocess.CompletedProcess[str]":
        """Return what came of a plan for a night of the example."""
        return self.run(
            f"frostalert plan --forecast {self.grid} --now 2026-04-12T14:45 {more}"
        )


def _closed_to_others() -> list[str]:
    """Return the folders on the way to the program that are closed to other users."""
    ways = (ROOT, Path(sys.prefix), Path(sys.base_prefix).resolve())
    return sorted(
        str(folder)
        for folder in {step for way in ways for step in way.parents}
        if not folder.stat().st_mode & stat.S_IXOTH
    )


@pytest.fixture
def machine() -> Iterator[Machine]:
    # Not in pytest's folder: that is closed to the service's user.
    with tempfile.TemporaryDirectory(dir="/tmp") as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield Machine(folder)


def test_a_command_of_the_service_s_user_makes_no_noise(machine: Machine) -> None:
    done = machine.plan("&& stat -c '%U %a' /var/cache/frostalert")
    assert (done.returncode, done.stderr) == (0, "")
    assert "JOBS BY THE HOUR" in done.stdout
    assert done.stdout.splitlines()[-1] == "frostalert 700"


def test_what_it_keeps_belongs_to_the_service(machine: Machine) -> None:
    done = machine.run('frostalert reading "Post by the shed" "27.5 degF"')
    assert (done.returncode, done.stderr) == (0, "")
    kept = list((machine.folder / "state").iterdir())
    assert kept
    assert {path.stat().st_uid for path in kept} == {USER_ID}


def test_the_caller_s_shell_writes_the_calendar(machine: Machine) -> None:
    done = machine.plan("--calendar - > night.ics")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    written = machine.home / "night.ics"
    assert written.stat().st_uid == os.geteuid()
    assert len(vobject.readOne(written.read_text()).vevent_list) > 5


def test_the_caller_s_shell_writes_the_season(machine: Machine) -> None:
    done = machine.run("frostalert season --csv - > season.csv")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    with (machine.home / "season.csv").open(newline="") as file:
        assert "night" in next(csv.reader(file))


def test_a_file_that_the_service_may_not_write_is_refused_with_the_way_out(
    machine: Machine,
) -> None:
    done = machine.plan("--calendar night.ics")
    assert done.returncode == 64
    words = " ".join(done.stderr.split())
    assert "--calendar night.ics: cannot be written: Permission denied" in words
    assert "--calendar - > night.ics" in words
    assert list(machine.home.iterdir()) == []
