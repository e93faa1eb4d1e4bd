"""One daemon a state folder, and whoever asks about it takes nothing."""

import fcntl
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from frostalert.errors import StoreBusyError
from frostalert.store.lock import StateLock, is_held
from frostalert.store.open import make_state_directory, open_store
from frostalert.store.share import share_of
from tests.support.needs import needs

ASKING = (
    "import sys; from pathlib import Path; from frostalert.store.lock import is_held\n"
    "while True: is_held(Path(sys.argv[1]))"
)


def test_it_is_known_who_holds_it(tmp_path: Path) -> None:
    assert not is_held(tmp_path)
    with StateLock(tmp_path):
        assert is_held(tmp_path)
        with pytest.raises(StoreBusyError), StateLock(tmp_path):
            pass
        # Who was refused lets nothing go that is not its own.
        assert is_held(tmp_path)
    assert not is_held(tmp_path)


def test_whoever_asks_without_end_keeps_nobody_from_starting(tmp_path: Path) -> None:
    with StateLock(tmp_path):
        pass
    asking = [
        subprocess.Popen([sys.executable, "-c", ASKING, str(tmp_path)])
        for _ in range(2)
    ]
    try:
        end = time.monotonic() + 4.0
        taken = 0
        while time.monotonic() < end:
            with StateLock(tmp_path):
                taken += 1
        assert taken > 100
        assert all(process.poll() is None for process in asking)
    finally:
        for process in asking:
            process.kill()
            process.wait()


def test_a_file_that_cannot_be_opened_lets_no_second_daemon_in(tmp_path: Path) -> None:
    with StateLock(tmp_path):
        # As where the card went read-only, or the file is another user's.
        (tmp_path / "lock").unlink()
        (tmp_path / "lock").mkdir()
        with pytest.raises(StoreBusyError), StateLock(tmp_path):
            pass
        assert is_held(tmp_path)


def test_a_daemon_of_an_earlier_version_is_seen(tmp_path: Path) -> None:
    descriptor = os.open(tmp_path / "lock", os.O_RDWR | os.O_CREAT)
    fcntl.flock(descriptor, fcntl.LOCK_EX)
    with pytest.raises(StoreBusyError), StateLock(tmp_path):
        pass
    os.close(descriptor)
    with StateLock(tmp_path):
        pass


AS_ANOTHER = """
import os, sys
from pathlib import Path
from frostalert.errors import StoreBusyError, StoreError
from frostalert.store.lock import StateLock
os.setgid(65534); os.setuid(65534)
try:
    StateLock(Path(sys.argv[1])).__enter__()
except StoreBusyError:
    print("busy")
except StoreError:
    print("unusable")
"""


@needs("true", as_root=True)
def test_another_users_daemon_is_not_doubted(tmp_path: Path) -> None:
    for folder in (tmp_path, *list(tmp_path.parents)[:3]):
        folder.chmod(0o755)
    state = make_state_directory(tmp_path / "state")

    def asked() -> str:
        return subprocess.run(
            [sys.executable, "-c", AS_ANOTHER, str(state)],
            capture_output=True,
            text=True,
            check=True,
            cwd=Path(__file__).parents[2],
        ).stdout.strip()

    with StateLock(state):
        assert asked() == "busy"
    # Nobody runs on it: then the warnings go out from memory.
    assert asked() == "unusable"


def test_a_folder_that_was_open_to_others_is_closed(tmp_path: Path) -> None:
    state = tmp_path / "state"
    state.mkdir(mode=0o755)
    state.chmod(0o755)
    before = os.umask(0o022)
    try:
        make_state_directory(state)
        store = open_store(state)
        store.write_mark("a", "b")
        modes = {path.name: path.stat().st_mode & 0o777 for path in state.iterdir()}
        store.database.close()
    finally:
        os.umask(before)
    assert state.stat().st_mode & 0o777 == 0o700
    assert modes["frostalert.sqlite3"] == 0o600
    assert set(modes.values()) == {0o600}


TABLE = r"""
22 1 254:0 / / rw - ext4 /dev/root rw
30 22 0:40 / /mnt/barn rw - nfs4 barn:/state rw
31 30 254:1 / /mnt/barn/disk rw - ext4 /dev/sdb1 rw
32 22 0:41 / /mnt/my\040share rw - cifs //nas/share rw
33 22 0:42 / /mnt/pc rw - fuse.sshfs pc: rw
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/var/lib/frostalert", None),
        ("/mnt/barn", "nfs4"),
        ("/mnt/barn/state", "nfs4"),
        ("/mnt/barn/disk/state", None),
        ("/mnt/barnyard", None),
        ("/mnt/my share/state", "cifs"),
        ("/mnt/pc/state", "fuse.sshfs"),
    ],
)
def test_a_network_share_is_told_from_a_disk(
    tmp_path: Path, folder: str, kind: str | None
) -> None:
    table = tmp_path / "mountinfo"
    table.write_text(TABLE.lstrip())
    assert share_of(Path(folder), table) == kind
    assert share_of(tmp_path) is None
