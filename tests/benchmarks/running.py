"""What it costs to keep the daemon running.

    python -m tests.benchmarks.running

Lets the daemon's own jobs run through 2,000 hourly cycles of simulated time against
servers of HTTP and SMTP on loopback, beside a bare `import metpy.calc` in the same run.
Then starts the real daemon for 100 blocks and five people, and takes the time from a
new forecast to the last mail. The weather is invented; bytes count without compression.
"""

import json
import os
import re
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from frostalert.clock import SystemClock
from tests.benchmarks.aim import Aim
from tests.benchmarks.core import CROPS
from tests.benchmarks.services import Services
from tests.support.configs import config_text
from tests.support.servers import MailBox, http_server, smtp_server

CYCLES = 2000
_CYCLE, _ROUND = timedelta(hours=1), timedelta(minutes=15)
_START = datetime(2026, 3, 1, 15, tzinfo=UTC)
_SEASON_DAYS = 120
_WARM_UP = 0.1
_PATIENCE_S = 120.0
_BY_TEXT = 'channels = ["sms"]\nphone = "+15095550142"'
_BARE = (
    "import metpy.calc, os; "
    "pages = int(open('/proc/self/statm').read().split()[1]); "
    "print(pages * os.sysconf('SC_PAGE_SIZE') / 1e6)"
)


@dataclass
class Cost:
    """What was measured."""

    days: float
    bare_mb: float
    early_mb: float
    late_mb: float
    processor_s_a_day: float
    state_mb_a_season: float
    mails: int
    requests_a_day: dict[str, float] = field(default_factory=dict)
    kilobytes_a_day: dict[str, float] = field(default_factory=dict)

    def rows(self) -> list[tuple[str, str]]:
        """Return one figure a row."""
        ratio = self.late_mb / self.bare_mb
        found = [
            ("bare import metpy.calc, memory", f"{self.bare_mb:.0f} MB"),
            ("memory after a tenth of the cycles", f"{self.early_mb:.0f} MB"),
            ("memory at the end", f"{self.late_mb:.0f} MB, {ratio:.2f} times the bare"),
            ("processor time", f"{self.processor_s_a_day:.1f} s a day"),
            ("growth of the state", f"{self.state_mb_a_season:.1f} MB a season"),
            ("mails sent", f"{self.mails} in {self.days:.0f} days"),
        ]
        for source, count in sorted(self.requests_a_day.items()):
            size = self.kilobytes_a_day[source]
            found.append((source, f"{count:.0f} requests, {size:.0f} kB a day"))
        return found


def bare_mb() -> float:
    """Return the memory of a process that has only imported MetPy. [MB]"""
    done = subprocess.run(
        [sys.executable, "-c", _BARE], check=True, capture_output=True, text=True
    )
    return float(done.stdout)


def _today() -> str:
    """Return the true date."""
    return f"{SystemClock().now_utc():%Y-%m-%d}"


def write_config(folder: Path, smtp_port: int, url: str, more: str = "") -> Path:
    """Write a configuration that asks all three services on loopback."""
    services = (
        'sources = ["nws", "met-norway", "open-meteo"]\n'
        f'met_norway_url = "{url}/met"\nopen_meteo_url = "{url}/om"\n'
    )
    text = config_text(smtp_port=smtp_port, nws_url=url, state=str(folder / "state"))
    # The daemon lives by the true date, and a stage seen last spring says nothing.
    text = re.sub(r"(?m)^stage_seen = \S+", f"stage_seen = {_today()}", text)
    path = folder / "frostalert.toml"
    text = text.replace("[forecast]\n", f"[forecast]\n{services}")
    text = text.replace(_BY_TEXT, 'channels = ["email"]\nemail = "tobias@example.org"')
    path.write_text(text + more)
    return path


def run_cycles(cycles: int) -> Cost:
    """Return what some hourly cycles of simulated time cost."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        box, services = MailBox(), Services(_START)
        port = stack.enter_context(smtp_server(box)).port
        url = stack.enter_context(http_server(services)).url
        path = write_config(folder, port, url)
        state = folder / "state"
        state.mkdir()
        daemon = stack.enter_context(_Simulated(path, state))
        rounds = cycles * (_CYCLE // _ROUND)
        figures = []
        for number in range(rounds):
            services.now_utc = _START + number * _ROUND
            figures.append(daemon.step(services.now_utc))
        early, late = figures[int(rounds * _WARM_UP)], figures[-1]
        days = (rounds - 1) * _ROUND / timedelta(days=1)
        grown_mb = late["state_mb"] - figures[0]["state_mb"]
        used_s = late["processor_s"] - figures[0]["processor_s"]
        return Cost(
            days=days,
            bare_mb=bare_mb(),
            early_mb=early["resident_mb"],
            late_mb=late["resident_mb"],
            processor_s_a_day=used_s / days,
            state_mb_a_season=grown_mb / days * _SEASON_DAYS,
            mails=len(box.mails),
            requests_a_day={n: c / days for n, c in services.requests.items()},
            kilobytes_a_day={
                n: c / 1e3 / days for n, c in services.received_bytes.items()
            },
        )


class _Simulated:
    """The process that is measured: it alone, without the servers."""

    def __init__(self, path: Path, state: Path) -> None:
        module = "tests.benchmarks.simulated_daemon"
        self._process = subprocess.Popen(
            [sys.executable, "-m", module, str(path), str(state)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[2],
        )

    def __enter__(self) -> "_Simulated":
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.communicate()

    def step(self, moment_utc: datetime) -> dict[str, float]:
        """Let the jobs run at a moment; return memory, processor time and size."""
        given, answers = self._process.stdin, self._process.stdout
        assert given is not None
        assert answers is not None
        given.write(f"{moment_utc.isoformat()}\n")
        given.flush()
        line = answers.readline()
        if not line:
            message = "the simulated daemon ended; its own words stand above"
            raise RuntimeError(message)
        return {name: float(value) for name, value in json.loads(line).items()}


def time_to_last_mail_s(blocks: int, people: int) -> float:
    """Return how long the real daemon takes from a forecast to the last mail. [s]"""
    now_utc = datetime.now(UTC)  # noqa: TID251 - the real daemon's own clock
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        box, services = MailBox(), Services(now_utc, freezes_every_days=1)
        port = stack.enter_context(smtp_server(box)).port
        url = stack.enter_context(http_server(services)).url
        more = [_block(n) for n in range(blocks - 1)]
        more += [_person(n) for n in range(people - 2)]
        write_config(folder, port, url, "".join(more))
        process = subprocess.Popen(
            [sys.executable, "-m", "frostalert", "run"],
            cwd=folder,
            env={**os.environ, "HOME": str(folder)},
            stderr=subprocess.DEVNULL,
        )
        stack.callback(process.wait)
        stack.callback(process.kill)
        _wait_for_all(box, people)
        assert services.grid_served_s is not None
        return time.monotonic() - services.grid_served_s


def _wait_for_all(box: MailBox, people: int) -> None:
    """Wait until everybody has been written to."""
    end = time.monotonic() + _PATIENCE_S
    while len({str(mail["To"]) for mail in box.mails}) < people:
        if time.monotonic() > end:
            message = f"only {len(box.mails)} mails in {_PATIENCE_S:.0f} s"
            raise RuntimeError(message)
        time.sleep(0.02)


def _block(number: int) -> str:
    """Return one more block, each with a cold spot of its own."""
    crop, stage, height = CROPS[number % len(CROPS)]
    return (
        f'\n[[blocks]]\nname = "Row {number}"\ncrop = "{crop}"\nstage = "{stage}"\n'
        f'stage_seen = {_today()}\nplants = 40\nheight = "{height} m"\n'
        f'cold_spot = "-{number % 30 / 10} degC"\n'
    )


def _person(number: int) -> str:
    """Return one more person who is written to."""
    return (
        f'\n[[people]]\nname = "Helper {number}"\nchannels = ["email"]\n'
        f'email = "helper-{number}@heron-bench.example"\n'
    )


MOST_TIMES_BARE = 1.15
MOST_GROWTH = 1.02
"""How much more memory the end may take than the first tenth: none, but for noise."""


def aims(cycles: int = CYCLES) -> list[Aim]:
    """Return what the daemon costs, beside a bare import."""
    cost = run_cycles(cycles)
    return [
        Aim(
            name="daemon, memory at the end, times a bare import",
            value=cost.late_mb / cost.bare_mb,
            limit=MOST_TIMES_BARE,
        ),
        Aim(
            name="daemon, memory at the end, times that after a tenth",
            value=cost.late_mb / cost.early_mb,
            limit=MOST_GROWTH,
        ),
        Aim(
            name="daemon, processor time a day", value=cost.processor_s_a_day, unit="s"
        ),
        Aim(name="state, growth a season", value=cost.state_mb_a_season, unit="MB"),
        Aim(
            name="forecast to the fifth mail, 100 blocks",
            value=time_to_last_mail_s(blocks=100, people=5),
            unit="s",
        ),
    ]


def main() -> None:
    """Print one figure a line."""
    cost = run_cycles(CYCLES)
    took_s = time_to_last_mail_s(blocks=100, people=5)
    rows = [*cost.rows(), ("forecast to the fifth mail, 100 blocks", f"{took_s:.1f} s")]
    for name, value in rows:
        print(f"{name:<38} {value}")  # noqa: T201


if __name__ == "__main__":
    main()
