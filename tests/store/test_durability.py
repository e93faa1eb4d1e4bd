"""What is committed survives: synced, torn, and killed in mid-change."""

import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from frostalert.store.backup import Condition, examine
from frostalert.store.migrations import MIGRATIONS
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

_DIES_AT = """
import os, signal, sys
from pathlib import Path
from frostalert.store import migrations
from frostalert.store.open import open_store

left = int(sys.argv[2])

def some_of(statements):
    global left
    for statement in statements:
        if not left:
            os.kill(os.getpid(), signal.SIGKILL)
        left -= 1
        yield statement

migrations.MIGRATIONS = tuple((n, some_of(made)) for n, made in migrations.MIGRATIONS)
open_store(Path(sys.argv[1]))
"""
"""Brings an earlier form along, and is killed before one of its statements."""
STATEMENTS = range(sum(len(made) for _, made in MIGRATIONS[1:]))


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


@pytest.mark.parametrize("count", STATEMENTS[:: len(STATEMENTS) // 8])
def test_a_kill_in_the_middle_of_a_migration_is_harmless(
    tmp_path: Path, count: int
) -> None:
    write_first_form(tmp_path)
    done = subprocess.run(
        [sys.executable, "-c", _DIES_AT, str(tmp_path), str(count)], check=False
    )
    assert done.returncode == -signal.SIGKILL
    assert examine(tmp_path / FILE_NAME) is Condition.SOUND
    # Whole steps alone were kept: what the next start goes on from.
    before = _forms(tmp_path)
    assert before == [name for name, _ in MIGRATIONS][: len(before)]
    assert sum(len(made) for _, made in MIGRATIONS[1 : len(before)]) <= count
    store = open_store(tmp_path)
    assert store.counts() == {"due": 1}
    store.database.close()
    assert _forms(tmp_path) == [name for name, _ in MIGRATIONS]


def _forms(folder: Path) -> list[str]:
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        rows = connection.execute("SELECT name FROM migration ORDER BY rowid")
        return [row[0] for row in rows]
