"""What is committed survives: synced, torn, and killed in mid-change."""

import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from frostalert.store.backup import Condition, examine
from frostalert.store.open import FILE_NAME, open_store
from tests.store.test_migrations import write_first_form
from tests.support.needs import needs

_COMMITS = """
import sys
from pathlib import Path
from frostalert.store.open import open_store
store = open_store(Path(sys.argv[1]))
for number in range(20):
    store.write_mark("count", str(number))
"""


@needs("strace")
def test_every_commit_is_synced(tmp_path: Path) -> None:
    open_store(tmp_path).database.close()
    done = subprocess.run(
        [
            *("strace", "-f", "-c", "-e", "trace=fsync,fdatasync"),
            *(sys.executable, "-c", _COMMITS, str(tmp_path)),
        ],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    if "ptrace" in done.stderr and "not permitted" in done.stderr:
        pytest.skip(
            "strace may not trace here: in a container, start it with "
            "--cap-add SYS_PTRACE"
        )
    assert done.returncode == 0, done.stderr
    calls = [
        int(line.split()[3])
        for line in done.stderr.splitlines()
        if re.search(r"\bf(data)?sync$", line)
    ]
    assert sum(calls) >= 20


def test_a_log_torn_anywhere_leaves_a_sound_file_with_the_earlier_commits(
    tmp_path: Path,
) -> None:
    live = tmp_path / "live"
    live.mkdir()
    store = open_store(live)
    chance = random.Random(3)  # noqa: S311 - no secret
    for number in range(30):
        store.write_mark(f"m{number:02}", "x" * 300)
    log = (live / f"{FILE_NAME}-wal").read_bytes()
    for turn in range(25):
        place = tmp_path / f"torn{turn}"
        place.mkdir()
        shutil.copy(live / FILE_NAME, place / FILE_NAME)
        cut = chance.randrange(len(log) + 1)
        (place / f"{FILE_NAME}-wal").write_bytes(log[:cut])
        with closing(sqlite3.connect(place / FILE_NAME)) as connection:
            assert connection.execute("PRAGMA quick_check").fetchone()[0] == "ok"
            try:
                rows = connection.execute("SELECT name FROM mark ORDER BY name")
                kept = [row[0] for row in rows]
            except sqlite3.OperationalError:
                kept = []  # torn before the tables were made
        assert kept == [f"m{number:02}" for number in range(len(kept))]
    store.database.close()


def test_a_kill_in_the_middle_of_a_migration_is_harmless(tmp_path: Path) -> None:
    chance = random.Random(5)  # noqa: S311 - no secret
    for turn in range(6):
        place = tmp_path / str(turn)
        place.mkdir()
        write_first_form(place)
        process = subprocess.Popen(
            [sys.executable, "-c", _COMMITS, str(place)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        time.sleep(chance.uniform(0.2, 1.2))
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert examine(place / FILE_NAME) is Condition.SOUND
        store = open_store(place)
        assert store.counts() == {"due": 1}
        store.database.close()
