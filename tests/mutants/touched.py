"""Which tests run which lines of the package: watched while they run, as a plugin.

Loaded into pytest with `-p tests.mutants.touched`. Each process writes what it saw into
the folder that the environment names.
"""

import json
import os
from collections.abc import Generator
from pathlib import Path

import coverage
import pytest

FOLDER = "FROSTALERT_TOUCHED"
"""The variable that names the folder."""
SEEN, LASTED = "seen", "lasted"


class _Watch:
    """Coverage of the package, test by test, and how long each test takes."""

    def __init__(self, folder: Path, process: str) -> None:
        self._lasted_s: dict[str, float] = {}
        self._written = folder / f"{LASTED}.{process}.json"
        self._seen = coverage.Coverage(
            data_file=str(folder / f"{SEEN}.{process}"),
            config_file=False,
            source_pkgs=["frostalert"],
        )
        self._seen.start()

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, bool, bool]:
        """Say whose lines come now."""
        self._seen.switch_context(item.nodeid)
        return (yield)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Add up how long a test took."""
        past_s = self._lasted_s.get(report.nodeid, 0.0)
        self._lasted_s[report.nodeid] = past_s + report.duration

    def pytest_unconfigure(self) -> None:
        """Write down what was seen."""
        self._seen.stop()
        self._seen.save()
        self._written.write_text(json.dumps(self._lasted_s), encoding="utf-8")


def pytest_configure(config: pytest.Config) -> None:
    """Watch in every process that runs tests."""
    worker = os.environ.get("PYTEST_XDIST_WORKER")
    if worker is not None or not config.getoption("numprocesses", None):
        watch = _Watch(Path(os.environ[FOLDER]), worker or "alone")
        config.pluginmanager.register(watch, "watch")
