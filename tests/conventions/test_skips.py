"""A run tells what it skipped, why, and how to have it run."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.needs import lacking, lacking_modules

CONFTEST = Path(__file__).parents[1] / "conftest.py"
ONE = """
import pytest

@pytest.mark.parametrize("number", [1, 2])
@pytest.mark.skipif(True, reason="ip is missing: apt install iproute2")
def test_by_mark(number):
    raise AssertionError

def test_inside():
    pytest.skip("ip is missing: apt install iproute2")

def test_that_runs():
    assert True
"""
OTHER = "import pytest\npytest.skip('no FOLDER: set it', allow_module_level=True)\n"


def end_of_run(folder: Path, *arguments: str) -> list[str]:
    """Run what stands in a folder, with this project's conftest; return its words."""
    shutil.copy(CONFTEST, folder)
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-rfExX", *arguments],
        cwd=folder,
        env={k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout.splitlines()


@pytest.mark.parametrize("arguments", [(), ("--quiet", "--numprocesses", "2")])
def test_each_reason_stands_once_before_the_closing_line(
    tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    (tmp_path / "test_one.py").write_text(ONE)
    (tmp_path / "test_other.py").write_text(OTHER)
    *_, title, first, where, second, whole, closing = end_of_run(tmp_path, *arguments)
    assert " What was skipped, and why " in title
    assert first == "- ip is missing: apt install iproute2"
    assert where == "    3 tests in test_one.py"
    assert second == "- no FOLDER: set it"
    assert whole == "    1 test in test_other.py"
    assert "1 passed, 4 skipped in " in closing


def test_a_run_that_skips_nothing_says_so(tmp_path: Path) -> None:
    (tmp_path / "test_it.py").write_text("def test_it():\n    assert True\n")
    *_, last, closing = end_of_run(tmp_path, "--quiet")
    assert last == "Nothing was skipped."
    assert "1 passed in " in closing


def test_what_is_missing_is_named_with_its_package(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    for name in ("ip", "chromedriver"):
        assert lacking(name).startswith(f"{name} is missing: apt install ")
    assert lacking("chromedriver").endswith(" chromium-driver")
    (tmp_path / "strace").write_text("")
    (tmp_path / "strace").chmod(0o755)
    assert lacking("strace") == ""


def test_a_missing_module_is_named_with_the_extra_that_brings_it() -> None:
    assert lacking_modules("pytest") == ""
    words = lacking_modules("pytest", "no_such_module", "nor_this")
    assert words.startswith("no_such_module and nor_this are missing: pip install ")
    assert words.endswith("'.[test]'")


def test_an_ordinary_user_hears_that_it_takes_root(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    assert "run the tests as root" in lacking("unshare", as_root=True)
