"""A copy of the tree in which one change after another is tried.

Each try is a process of its own, forked after the heavy libraries were loaded and
before anything of the package was: so it begins at once, and finds the changed file.
"""

import os
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.mutants.kinds import Mutant

ROOT = Path(__file__).parents[2]
COPIED = ("frostalert", "tests", "config", "deploy")
FILES = ("pyproject.toml", "README.md", "DEVELOPERS.md")
HEAVY = (
    "hypothesis", "jinja2", "metpy.calc", "numpy", "pydantic", "requests",
    "scipy.optimize", "scipy.stats", "typer",
)  # fmt: skip
_LOOK_S = 0.05
_FIRST = 30
_LONGEST_WARM_UP_S = 120.0
_NO_TESTS = int(pytest.ExitCode.NO_TESTS_COLLECTED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What became of one change: "killed", "survived" or "timed out".

    Attributes
    ----------
    by : str
        How many tests it was tried against.
    """

    mutant: Mutant
    end: str
    by: str = ""
    lasted_s: float = 0.0


class Workshop:
    """One copy of the tree.

    Parameters
    ----------
    root : Path
        The tree that is copied; it is only read.
    """

    def __init__(self, root: Path = ROOT) -> None:
        for name in HEAVY:
            __import__(name)
        self.root = root
        self.folder = Path(tempfile.mkdtemp(prefix="mutants-"))
        for name in COPIED:
            if (root / name).is_dir():
                skipped = shutil.ignore_patterns("__pycache__", "*.sqlite3*")
                shutil.copytree(root / name, self.folder / name, ignore=skipped)
        for name in FILES:
            if (root / name).is_file():
                shutil.copy2(root / name, self.folder)

    def close(self) -> None:
        """Leave nothing behind."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def warm_up(self, tests: Sequence[str]) -> None:
        """Have all that some tests load compiled, once for all tries."""
        self._run(tests, _LONGEST_WARM_UP_S, "--collect-only", is_kept=True)

    def attempt(self, mutant: Mutant, tests: Sequence[str], most_s: float) -> Tried:
        """Return what the tests make of one change; the file is put back.

        The first tests begin alone: most changes end there, and begin sooner so.
        """
        path = self.folder / mutant.path
        source, begun = path.read_text(encoding="utf-8"), time.monotonic()
        # Two files of one second and one length are one to Python's own store.
        for stored in path.parent.glob(f"__pycache__/{path.stem}.*"):
            stored.unlink()
        path.write_text(mutant.apply(source), encoding="utf-8")
        end = "survived"
        try:
            for part in filter(None, (tests[:_FIRST], tests[_FIRST:])):
                left_s = most_s - (time.monotonic() - begun)
                code = self._run(part, left_s)
                if code not in (0, _NO_TESTS):
                    end = "timed out" if code is None else "killed"
                    break
        finally:
            path.write_text(source, encoding="utf-8")
        lasted_s = time.monotonic() - begun
        return Tried(
            mutant=mutant, end=end, by=f"{len(tests)} tests", lasted_s=lasted_s
        )

    def _run(
        self, tests: Sequence[str], most_s: float, *options: str, is_kept: bool = False
    ) -> int | None:
        """Return how some tests ended; None where they took too long."""
        child = os.fork()
        if child == 0:
            self._be_tests([*options, *tests], is_kept=is_kept)
        latest = time.monotonic() + most_s
        while time.monotonic() < latest:
            ended, status = os.waitpid(child, os.WNOHANG)
            if ended:
                code = os.waitstatus_to_exitcode(status)
                return code if code >= 0 else 1
            time.sleep(_LOOK_S)
        os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return None

    def _be_tests(self, tests: Sequence[str], *, is_kept: bool) -> None:
        """Run some tests in the copy, and end with their exit code."""
        code = 1
        try:
            os.setpgid(0, 0)
            os.chdir(self.folder)
            log = os.open(
                self.folder / "log.txt", os.O_WRONLY | os.O_CREAT | os.O_TRUNC
            )
            os.dup2(log, 1)
            os.dup2(log, 2)
            others = [p for p in sys.path if p and Path(p).resolve() != self.root]
            sys.path[:] = [str(self.folder), *others]
            os.environ["PYTHONPATH"] = str(self.folder)
            sys.dont_write_bytecode = not is_kept
            # Whoever tries may have loaded its own tree: the copy is loaded anew.
            ours = ("tests", "frostalert")
            for name in [n for n in sys.modules if n.split(".")[0] in ours]:
                del sys.modules[name]
            options = ["-x", "-q", "--no-header", "--tb=short", "-n0", "-rN"]
            options += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
            options += ["-p", "no:cacheprovider", f"--rootdir={self.folder}"]
            code = int(pytest.main([*options, *tests]))
        except BaseException:  # noqa: BLE001 - it is a process of its own, and ends here
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
