"""Commands as processes of their own, forked from one that has its libraries loaded.

Loading them takes a second or two, and the tests run hundreds of commands. What a
command does and prints is the same; what depends on how it starts is tested by starting
it the slow way.
"""

import atexit
import contextlib
import importlib
import json
import os
import subprocess
import sys
import time
import traceback
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from frostalert.cli.commands import COMMANDS
from tests.support.needs import needs

_PATIENCE_S = 120.0
WITHOUT_ROOTS_KEYS = (
    "setpriv",
    "--bounding-set=-dac_override,-dac_read_search",
)
FOR_CLOSED = needs(*("setpriv",) if os.geteuid() == 0 else ())
"""Mark of a test that closes a folder to the command."""
_LOADED = (
    "frostalert.cli.main",
    "frostalert.report.night_picture",
    "metpy.calc",
    "matplotlib.backends.backend_agg",
    "scipy.optimize",
    "tomlkit",
)


def run_command(
    *arguments: str, cwd: Path, can_open_all: bool = True, **environment: str
) -> "subprocess.CompletedProcess[str]":
    """Return what a command of the program did, in a folder that is its home.

    Root may open what is closed to it; one that cannot needs `FOR_CLOSED`.
    """
    with TemporaryDirectory() as folder:
        asked = {
            "arguments": arguments,
            "cwd": str(cwd),
            "environment": {**os.environ, "HOME": str(cwd), **environment},
            "out": f"{folder}/out",
            "err": f"{folder}/err",
        }
        code = int(_nursery(can_open_all=can_open_all).ask(asked))
        said, complained = (Path(folder, name).read_text() for name in ("out", "err"))
    command = ["frostalert", *arguments]
    return subprocess.CompletedProcess(command, code, said, complained)


class _Nursery:
    """The process that has everything loaded and only ever forks."""

    def __init__(self, *, can_open_all: bool) -> None:
        as_root = os.geteuid() == 0
        before = WITHOUT_ROOTS_KEYS if as_root and not can_open_all else ()
        self._process = subprocess.Popen(
            [*before, sys.executable, "-m", "tests.support.commands"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[2],
        )
        atexit.register(self._process.kill)

    def ask(self, asked: dict[str, Any]) -> str:
        """Return the exit code of a command."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(asked) + "\n")
        self._process.stdin.flush()
        return self._process.stdout.readline()


@cache
def _nursery(*, can_open_all: bool) -> _Nursery:
    """Return this process's nursery; the first command waits for it to load."""
    return _Nursery(can_open_all=can_open_all)


def _serve() -> None:
    """Fork a command for each line that is asked."""
    for name in _LOADED:
        importlib.import_module(name)
    for command in COMMANDS:
        command.load()
    for line in sys.stdin:
        asked = json.loads(line)
        child = os.fork()
        if child == 0:
            _become(asked)
        sys.stdout.write(f"{_wait(child)}\n")
        sys.stdout.flush()


def _wait(child: int) -> int:
    """Return a child's exit code, as a subprocess would give it; no wait for ever."""
    end = time.monotonic() + _PATIENCE_S
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        if time.monotonic() > end:
            os.kill(child, 9)
        time.sleep(0.01)


def _become(asked: dict[str, Any]) -> None:
    """Be the command, and end."""
    for place, name in ((0, os.devnull), (1, asked["out"]), (2, asked["err"])):
        flags = os.O_RDONLY if place == 0 else os.O_WRONLY | os.O_CREAT
        os.dup2(os.open(name, flags), place)
    os.chdir(asked["cwd"])
    os.environ.clear()
    os.environ.update(asked["environment"])
    time.tzset()
    sys.argv = ["frostalert", *asked["arguments"]]
    code = 0
    try:
        importlib.import_module("frostalert.cli.main").main()
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(end.code is not None)
    except BaseException:  # noqa: BLE001 - as the interpreter does
        traceback.print_exc()
        code = 1
    with contextlib.suppress(OSError):
        sys.stdout.flush()
        sys.stderr.flush()
    os._exit(code)


if __name__ == "__main__":
    _serve()
