"""What holds for every run: no clock over property tests, skips told in words."""

from collections import Counter
from collections.abc import Generator

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import engine

from tests.support.order import slowest_first

# How long an example takes says how busy the machine is; a test that hangs is ended by
# pytest's own limit.
settings.register_profile(
    "at leisure", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("at leisure")
# A failure is told before pytest's own limit is over, as small as it is by then; five
# minutes, the library's own bound, look like a hang. [s]
engine.MAX_SHRINKING_SECONDS = 20


def pytest_collection_modifyitems(
    config: pytest.Config, items: list[pytest.Item]
) -> None:
    """Begin with the slowest, in every worker: a run ends with its last test."""
    workers = getattr(config, "workerinput", {}).get("workercount", 1)
    items[:] = slowest_first(items, lambda item: item.nodeid, workers)


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter,
) -> Generator[None]:
    """Say at the very end what was skipped, why, and how to have it run."""
    yield
    skipped = terminalreporter.stats.get("skipped", [])
    terminalreporter.write_sep("=", "What was skipped, and why")
    for line in skip_lines(skipped) or ["Nothing was skipped."]:
        terminalreporter.write_line(line)


def skip_lines(skipped: list[pytest.TestReport | pytest.CollectReport]) -> list[str]:
    """Return each reason once, with the files and how many tests it holds for."""
    reasons: dict[str, Counter[str]] = {}
    for report in skipped:
        said = report.longrepr[2] if isinstance(report.longrepr, tuple) else "no reason"
        files = reasons.setdefault(said.removeprefix("Skipped: "), Counter())
        files[report.nodeid.partition("::")[0]] += 1
    lines = []
    for reason, files in sorted(reasons.items()):
        lines.append(f"- {reason}")
        lines += [f"    {_tests(count)} in {name}" for name, count in files.items()]
    return lines


def _tests(count: int) -> str:
    return "1 test" if count == 1 else f"{count} tests"
