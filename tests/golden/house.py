"""The real service with its jobs, on a clock that steps; the world stands at the ports.

Configuration, state and pages lie in the working folder and are named relative to it,
so that no message holds the name of a folder of this machine.
"""

import logging
import os
from collections.abc import Iterator
from contextlib import ExitStack, chdir, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch
from zoneinfo import ZoneInfo

import time_machine
from typer.testing import CliRunner

from frostalert.app import jobs
from frostalert.cli.main import app
from frostalert.config.accepted import AcceptedConfig
from frostalert.errors import DeliveryError, ForecastUnavailableError, Refusal
from frostalert.forecast.file_source import load_run
from frostalert.forecast.nws_official import parse_alerts
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Arrival, ArrivalState, Message, Receipt
from frostalert.model.official import OfficialWord
from frostalert.ports import Fetched, SourceMemory
from frostalert.schedule import Job
from frostalert.service import Parts, Service
from frostalert.store.lock import StateLock
from frostalert.store.open import make_state_directory
from frostalert.store.steady import FailoverStore
from frostalert.transport import HttpSession
from frostalert.watchman import Watchman
from tests.golden.weather import Weather

ZONE = ZoneInfo("America/Los_Angeles")
CONFIG, STATE = Path("frostalert.toml"), Path("state")
_MEMORY = Path("/dev/shm")  # noqa: S108 - in memory, where there is such a folder
_AGE = timedelta(minutes=10)
_OURS = ("FROSTALERT_CONFIG", "STATE_DIRECTORY", "XDG_STATE_HOME", "XDG_CONFIG_HOME")


def april(moment: str) -> datetime:
    """A moment at the site, such as "12 16:10": day of April, hour."""
    day, clock = moment.split()
    local = datetime.combine(date(2026, 4, int(day)), time.fromisoformat(clock), ZONE)
    return local.astimezone(UTC)


@contextmanager
def empty_folder() -> Iterator[None]:
    """Work in an empty folder that is home, in the zone of nobody."""
    place = _MEMORY if _MEMORY.is_dir() and os.access(_MEMORY, os.W_OK) else None
    with TemporaryDirectory(dir=place) as folder, chdir(folder), ExitStack() as stack:
        changed = {"HOME": folder, "TZ": "UTC", "COLUMNS": "80"}
        kept = {k: v for k, v in os.environ.items() if k not in _OURS}
        stack.enter_context(patch.dict(os.environ, kept | changed, clear=True))
        stack.enter_context(patch.object(logging.getLogger("frostalert"), "level", 99))
        yield


def command(*arguments: str, at_utc: datetime) -> str:
    """What a command prints at a moment, with its exit code if that is not 0."""
    with time_machine.travel(at_utc, tick=False):
        done = CliRunner().invoke(app, list(arguments), catch_exceptions=False)
    end = f"[exit code {done.exit_code}]\n" if done.exit_code else ""
    return f"{done.stdout}{done.stderr}{end}"


@dataclass
class Sent:
    """A message that was handed over, and when."""

    at_utc: datetime
    message: Message
    is_repeat: bool


@dataclass
class House:
    """A service and all that is around it."""

    config_text: str
    now_utc: datetime
    weather: Weather = field(default_factory=Weather)
    world: Weather | None = None
    """What the second source says, if there is one."""
    is_source_away: bool = False
    updated_utc: datetime | None = None
    """When the forecast was made, if it stays the same; else ten minutes ago."""
    refusing: set[ChannelKind] = field(default_factory=set)
    alerts: str | None = None
    has_links: bool = False
    sent: list[Sent] = field(default_factory=list)
    is_settled: bool = True
    is_sure: bool = True
    off: timedelta = timedelta(0)
    problem: str | None = None

    def __post_init__(self) -> None:
        """Start the service."""
        CONFIG.write_text(self.config_text)
        self._lock = StateLock(make_state_directory(STATE))
        self._lock.__enter__()
        self.start()

    def ticks_s(self) -> float:
        """Return the seconds of a clock that nobody sets."""
        return 0.0

    def start(self) -> None:
        """Build everything anew on what is stored, as after a start."""
        config = AcceptedConfig(CONFIG, STATE)
        self.store = FailoverStore(STATE, self.now_utc)
        service = Service(
            config,
            self.store,
            _Clock(self),
            build=self._parts,
            links=lambda _: _Links() if self.has_links else None,
        )
        watchman = Watchman(
            self.store,
            _Clock(self),
            lambda: service.settings,
            HttpSession("golden"),
            keeper=self,
        )
        service.ask_for_faults(watchman.faults)
        watchman.beat()
        self._work: list[tuple[Job, datetime]] = [
            (job, self.now_utc) for job in jobs(service, watchman, self)
        ]

    def stop(self) -> None:
        """End the service."""
        self.store.database.close()

    def close(self) -> None:
        """End it for good."""
        self.stop()
        self._lock.__exit__(None, None, None)

    def until(self, moment: str, *, step_min: int = 10) -> None:
        """Let time pass until a moment, and everything happen that is due."""
        end = april(moment)
        while self.now_utc < end:
            self._run_due()
            step = timedelta(minutes=step_min)
            self.now_utc = min(end, self.now_utc + step)
        self._run_due()

    def pass_time(self, *, minutes: int) -> None:
        """Let some minutes pass at once, and everything happen that is due."""
        self.now_utc += timedelta(minutes=minutes)
        self._run_due()

    def sleep(self, moment: str) -> None:
        """Let time pass in which the machine is off."""
        self.stop()
        self.now_utc = april(moment)
        self.start()

    def change(self, old: str, new: str) -> None:
        """Change the configuration."""
        text = CONFIG.read_text()
        assert old in text
        CONFIG.write_text(text.replace(old, new))

    def command(self, *arguments: str) -> str:
        """What a command beside the service prints now."""
        given = [*arguments, "--config", str(CONFIG)]
        return command(*given, at_utc=self.now_utc)

    def _run_due(self) -> None:
        """Run every job whose time has come."""
        for place, (job, due_utc) in enumerate(self._work):
            if due_utc <= self.now_utc:
                job.run()
                self._work[place] = (job, self.now_utc + job.every)

    def _parts(self, settings: Any) -> Parts:
        """What the service works with, in place of the network."""
        channels = {kind: _Channel(self, kind) for kind in ChannelKind}
        sources = [_Source(self, "nws")]
        if self.world is not None:
            sources.append(_Source(self, "open-meteo"))
        return Parts(
            settings=settings,
            sources=list(sources),
            notifiers=dict(channels),
            readers={ChannelKind.SMS: channels[ChannelKind.SMS]},
            plotter=_Plotter(),
            official=_Office(self) if self.alerts is not None else None,
        )


@dataclass
class _Clock:
    """The house's clock."""

    house: House

    def now_utc(self) -> datetime:
        """What it shows."""
        return self.house.now_utc


class _Plotter:
    """Draws nothing: what a picture shows stands in words beside it."""

    def draw(self, chart: object) -> bytes:
        """Bytes in place of a picture."""
        del chart
        return b"picture"


class _Links:
    """Makes links that hold no secret."""

    def link(self, person: Any, occasion: Any) -> str | None:
        """A link for a person, if there is something to answer."""
        if not occasion.said:
            return None
        return f"https://frost.heron-bench.example/answer/{person.name}"


@dataclass
class _Office:
    """A weather service that has issued a warning."""

    house: House

    def ask(self, now_utc: datetime) -> OfficialWord:
        """What is in force."""
        alerts = parse_alerts(self.house.alerts or "", now_utc)
        return OfficialWord(asked_utc=now_utc, alerts=alerts)


@dataclass
class _Source:
    """A forecast source: through a file, as recorded answers are read."""

    house: House
    name: str

    def fetch(self, memory: SourceMemory, now_utc: datetime) -> Fetched:
        """The forecast of the moment, or that there is none."""
        house = self.house
        if house.is_source_away:
            raise ForecastUnavailableError(self.name, "no answer")
        updated = house.updated_utc or now_utc - _AGE
        place = Path(f"{self.name}.json")
        if self.name == "nws":
            place.write_text(house.weather.grid_at(updated))
        else:
            assert house.world is not None
            place.write_text(house.world.world_at(updated))
        return Fetched(run=load_run(place, now_utc), memory=memory)


@dataclass
class _Channel:
    """A channel that takes everything, or nothing."""

    house: House
    kind: ChannelKind

    def send(self, message: Message, *, is_repeat: bool) -> Receipt:
        """Take a message."""
        if self.kind in self.house.refusing:
            raise DeliveryError(self.kind, Refusal.MISCONFIGURED, "535 no such user")
        sent = Sent(self.house.now_utc, message, is_repeat)
        self.house.sent.append(sent)
        return Receipt(provider_id=message.key, is_confirmed=True)

    def arrival(self, provider_id: str) -> Arrival:
        """Say that a text arrived."""
        del provider_id
        return Arrival(state=ArrivalState.DELIVERED, detail="ok")
