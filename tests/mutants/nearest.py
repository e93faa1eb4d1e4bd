"""Which tests a change is tried against: those that run the changed line."""

import ast
import json
import os
import re
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from coverage import CoverageData

from tests.mutants.kinds import Mutant
from tests.mutants.touched import FOLDER, LASTED, SEEN

WATCHED = (
    *("tests/unit", "tests/config", "tests/store", "tests/golden", "tests/scenario"),
    *("tests/adapters", "frostalert"),
)
"""The tests that are watched: all but the tools, the browser and whole seasons."""
UNSEEN = (
    *(
        "scenario/test_daemon.py",
        "scenario/test_daemon_faults.py",
        "scenario/test_once.py",
    ),
    *(
        "scenario/test_past.py",
        "scenario/test_kill_loop.py",
        "scenario/test_secrets.py",
    ),
    *("scenario/test_supervision.py", "scenario/test_web_process.py"),
    *("scenario/test_installed_command.py", "store/test_durability.py"),
    "adapters/test_dead_networks.py",
)
"""Of them those that run the program as a process: which lines it runs is not seen."""
MOST_S = 90.0
"""How long the tests of one change take at most, added up without the change."""
_PROCESSES = 2
_KEPT_WORDS, _QUICK_S = "tests/golden/", 1.0
_Contexts = Mapping[int, frozenset[str]]


@dataclass(frozen=True)
class Touched:
    """Which tests ran which lines.

    Parameters
    ----------
    by_line : mapping
        For each file, seen from the project's folder: line to the tests that ran it.
    lasted_s : mapping of str to float
        How long each test took. [s]
    sources : mapping of str to str
        The package's files as they were.
    """

    by_line: Mapping[str, _Contexts]
    lasted_s: Mapping[str, float]
    sources: Mapping[str, str]

    def tests_of(self, mutant: Mutant) -> tuple[str, ...]:
        """Return the tests that run what was changed, the quickest first.

        What stands outside of functions runs when it is loaded: of it, those tests
        count that run lines with the name that is given there, and the quick ones of
        the kept words. Where there are none, those that run anything of the file.
        """
        tree = self._trees[mutant.path]
        found = self._of_lines(mutant.path, _lines_around(tree, mutant))
        for name in () if found else _names_given(tree, mutant):
            found |= self._users_of(name) | self._quick_words
        if not found:
            found = frozenset().union(*self.by_line.get(mutant.path, {}).values())
        return self._within(found, f"{Path(mutant.path).stem}.py")

    @cached_property
    def _quick_words(self) -> frozenset[str]:
        return frozenset(
            test
            for test, lasted_s in self.lasted_s.items()
            if test.startswith(_KEPT_WORDS) and lasted_s <= _QUICK_S
        )

    @cached_property
    def _trees(self) -> dict[str, ast.Module]:
        return {path: ast.parse(source) for path, source in self.sources.items()}

    def _of_lines(self, path: str, lines: range) -> frozenset[str]:
        by_line = self.by_line.get(path, {})
        return frozenset().union(*(by_line.get(n, frozenset()) for n in lines))

    def _users_of(self, name: str) -> frozenset[str]:
        """Return the tests that run a line on which a name stands."""
        pattern = re.compile(rf"\b{re.escape(name)}\b")
        return frozenset().union(
            *(
                self.by_line.get(path, {}).get(number, frozenset())
                for path, source in self.sources.items()
                for number, line in enumerate(source.splitlines(), 1)
                if pattern.search(line)
            )
        )

    def _within(self, found: frozenset[str], own: str) -> tuple[str, ...]:
        """Return as many of some tests as there is time for, the quickest first.

        The kept words and the tests that bear the file's name come before all others:
        they were written to see just that. Then one of each file, and a second: tests
        of one file see much the same.
        """
        turns: Counter[str] = Counter()
        order = []
        for test in sorted(found, key=self._by):
            file = test.partition("::")[0]
            order.append((not _is_first(test, own), turns[file], self._by(test)))
            turns[file] += 1
        chosen, total_s = [], 0.0
        for *_, (_, test) in sorted(order):
            if total_s + self._by(test)[0] <= MOST_S:
                chosen.append(test)
                total_s += self._by(test)[0]
        return tuple(sorted(chosen, key=self._by))

    def _by(self, test: str) -> tuple[float, str]:
        return self.lasted_s.get(test, 0.0), test


def _is_first(test: str, own: str) -> bool:
    return test.startswith(_KEPT_WORDS) or own in test


def watch(
    root: Path, sources: Mapping[str, str], tests: tuple[str, ...] = WATCHED
) -> Touched:
    """Run the tests without a change, and return which lines each of them runs.

    Raises
    ------
    RuntimeError
        If a test fails: what it says of a change would mean nothing.
    """
    with tempfile.TemporaryDirectory(prefix="touched-") as name:
        command = ["-m", "pytest", "-q", "-p", "tests.mutants.touched"]
        command += [f"-n{_PROCESSES}", "--dist=worksteal", *tests]
        command += [f"--ignore=tests/{name}" for name in UNSEEN]
        done = subprocess.run(
            [sys.executable, *command],
            cwd=root,
            env={**_without_workers(), FOLDER: name},
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            message = f"without a change the tests fail:\n{done.stdout[-2000:]}"
            raise RuntimeError(message)
        return read(Path(name), root, sources)


def _without_workers() -> dict[str, str]:
    """Return the environment without what tells a test run that it is a worker."""
    return {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_XDIST")}


def read(folder: Path, root: Path, sources: Mapping[str, str]) -> Touched:
    """Return what the processes of a run wrote into a folder."""
    lasted_s: dict[str, float] = {}
    for path in folder.glob(f"{LASTED}.*.json"):
        for test, more_s in json.loads(path.read_text(encoding="utf-8")).items():
            lasted_s[test] = lasted_s.get(test, 0.0) + more_s
    data = CoverageData(no_disk=True)
    for path in folder.glob(f"{SEEN}.*"):
        part = CoverageData(basename=str(path))
        part.read()
        data.update(part)
    by_line = {}
    for file in data.measured_files():
        lines = data.contexts_by_lineno(file).items()
        by_line[os.path.relpath(file, root)] = {
            line: frozenset(test for test in tests if test) for line, tests in lines
        }
    return Touched(by_line, lasted_s, sources)


def _lines_around(tree: ast.Module, mutant: Mutant) -> range:
    """Return the lines of the smallest statement around a change.

    Of a statement that holds others those lines alone that stand before them.
    """
    around = list(_around(tree, mutant.line))
    if not any(isinstance(node, ast.FunctionDef) for node in around):
        return range(0)
    smallest = around[-1]
    last = smallest.end_lineno or smallest.lineno
    body = getattr(smallest, "body", None)
    if isinstance(body, list) and body:
        last = max(smallest.lineno, body[0].lineno - 1)
    return range(smallest.lineno, last + 1)


def _names_given(tree: ast.Module, mutant: Mutant) -> Iterator[str]:
    """Give the names that a change outside of functions concerns."""
    for node in reversed(list(_around(tree, mutant.line))):
        if isinstance(node, ast.Assign):
            yield from (t.id for t in node.targets if isinstance(t, ast.Name))
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            yield node.target.id
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name
            return


def _around(tree: ast.Module, line: int) -> Iterator[ast.stmt]:
    """Give the statements around a line, the largest first."""
    for node in ast.walk(tree):
        if isinstance(node, ast.stmt) and (
            node.lineno <= line <= (node.end_lineno or node.lineno)
        ):
            yield node
