"""The place of a case: its configuration, its state, its servers, its service."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import time_machine

from frostalert.app import build_service
from frostalert.clock import CheckedClock
from frostalert.config.accepted import AcceptedConfig
from frostalert.model.assessment import NightKind
from frostalert.model.learned import ForecastObservation, GainNight, NowcastPair
from frostalert.model.warmth import DayAir
from frostalert.risk.nowcast_error import VERSION
from frostalert.service import Service
from frostalert.store.lock import StateLock
from frostalert.store.open import make_state_directory, open_store
from frostalert.store.state import StateStore
from tests.adapters.test_nws import points
from tests.agreement.cases import SENSOR, ZONE, Case, Plant, Reads, Trouble
from tests.agreement.weather import grid_of, point_of
from tests.support.servers import MailBox, Reply, Seen, http_server, smtp_server

_DAY = timedelta(days=1)
_FRESH = timedelta(minutes=40)
_LEARNING_VERSION = 1
METHODS = {"Line": "micro-sprinklers", "Pots": "propane heaters", "Cloth": "row cover"}
_EQUIPMENT = {
    "Line": 'flow = "11 gpm"\narea = "2200 ft2"\nset_up = "40 min"',
    "Pots": 'count = 12\narea = "2500 ft2"\ntime_each = "3 min"\n'
    'heat_each = "40000 BTU/h"\n'
    'burns = "0.44 gal/h"\nfuel = "56 gal"\nset_up = "1 h"',
    "Cloth": 'area = "900 ft2"\nweight = "1.5 oz/yd2"\nhands = 0\nset_up = "75 min"',
}


@dataclass(eq=False)
class Servers:
    """The forecasts, the text receiver and the mail server of one process."""

    url: str = ""
    smtp_port: int = 0
    case: Case | None = None
    now_utc: datetime = datetime(2026, 1, 1, tzinfo=UTC)
    is_early: bool = False

    def answer(self, seen: Seen) -> Reply:
        """Answer as the services do, with the weather of the case in hand."""
        case = self.case
        assert case is not None
        if seen.path.startswith("/messages"):
            return Reply(201, '{"id": "SM1"}')
        if seen.path.startswith("/v1/"):
            if case.trouble is Trouble.SECOND_MISSING or self._has_fallen_silent():
                return Reply(404)
            return Reply(200, point_of(case.point, self.now_utc))
        if case.trouble is Trouble.FIRST_MISSING:
            return Reply(404)
        if seen.path.startswith("/points/"):
            return Reply(200, points("https://api.weather.gov"))
        return Reply(200, grid_of(case.grid, self._made_utc(case)))

    def _has_fallen_silent(self) -> bool:
        """Return whether the second source answers no more."""
        assert self.case is not None
        return self.case.trouble is Trouble.SECOND_OLD and not self.is_early

    def _made_utc(self, case: Case) -> datetime:
        """Return when the grid was made that is answered now."""
        if case.trouble is Trouble.FIRST_STALE:
            # It made no new one: what is stale at the end was there at the beginning.
            return min(case.now_utc - case.grid_age, self.now_utc - _FRESH)
        return self.now_utc - case.grid_age


@contextmanager
def servers() -> Iterator[Servers]:
    """Give real servers on loopback, for one case after another."""
    found = Servers()
    with http_server(found.answer) as web, smtp_server(MailBox()) as mail:
        found.url, found.smtp_port = web.url, mail.port
        yield found


@dataclass(eq=False)
class Place:
    """A case on disk."""

    case: Case
    folder: Path
    servers: Servers
    now_utc: datetime

    @property
    def config(self) -> Path:
        """The configuration of the service."""
        return self.folder / "frostalert.toml"

    @property
    def state(self) -> Path:
        """The state of the service."""
        return self.folder / "state"

    @property
    def page(self) -> Path:
        """Where the service writes its page."""
        return self.folder / "page"

    @property
    def kept(self) -> Path:
        """The state as it was before the minute that counts."""
        return self.folder / "kept"

    @contextmanager
    def at(self, moment_utc: datetime) -> Iterator[None]:
        """Let it be a moment, for the program and for the servers."""
        self.servers.case, self.servers.now_utc = self.case, moment_utc
        with time_machine.travel(moment_utc, tick=False):
            yield


def make_place(case: Case, folder: Path, given: Servers) -> Place:
    """Return a case on disk, its state filled with what was learned before."""
    place = Place(case, folder, given, case.now_utc)
    place.config.write_text(config_text(place, place.folder))
    make_state_directory(place.state)
    first = case.earlier_utc or case.now_utc
    with place.at(first), _store(place.state) as store:
        _fill(store, case)
    return place


def keep_state(place: Place) -> None:
    """Keep the state as it is now, before the minute that counts."""
    shutil.copytree(place.state, place.kept)


def copy_state(place: Place) -> Path:
    """Return a new folder with the state that was kept, and a configuration for it."""
    folder = Path(tempfile.mkdtemp(prefix="copy-", dir=place.folder))
    shutil.copytree(place.kept, folder / "state")
    (folder / "frostalert.toml").write_text(config_text(place, folder))
    return folder


@contextmanager
def running_service(place: Place) -> Iterator[tuple[Service, StateStore]]:
    """Give the service as the program builds it, on the state of a place."""
    with ExitStack() as stack:
        stack.enter_context(StateLock(place.state))
        store = open_store(place.state)
        stack.callback(store.database.close)
        config = AcceptedConfig(place.config, place.state)
        service, _ = build_service(config, store, CheckedClock(), dict)
        yield service, store


@contextmanager
def _store(directory: Path) -> Iterator[StateStore]:
    """Give the store of a folder."""
    with StateLock(directory):
        store = open_store(directory)
        try:
            yield store
        finally:
            store.database.close()


def _fill(store: StateStore, case: Case) -> None:
    """Put into the state what nights and days before have taught."""
    for source, nights, error_c in case.pairs:
        store.save_pairs(
            [
                ForecastObservation(
                    night=case.night - (n + 2) * _DAY,
                    source=source,
                    kind=kind,
                    forecast_low_c=1.0,
                    observed_low_c=1.0 + error_c + 0.3 * (n % 3 - 1),
                )
                # A night of each kind in turn, so that whichever comes is known.
                for n, kind in zip(range(nights), _kinds(), strict=False)
            ],
            _LEARNING_VERSION,
        )
        store.save_nowcasts(
            [
                NowcastPair(
                    night=case.night - (n + 2) * _DAY,
                    guess_c=1.0,
                    low_c=1.0 + error_c + 0.3 * (n % 3 - 1),
                    version=VERSION,
                )
                for n in range(nights)
            ]
        )
    store.save_gain_nights(
        [
            GainNight(
                equipment="Pots",
                night=case.night - (n + 3) * _DAY,
                delta_c=case.gain_c,
            )
            for n in range(case.gain_nights)
        ]
    )
    if case.warm_days is not None:
        store.save_day_air(
            [
                DayAir(
                    day=case.night - n * _DAY,
                    low_c=case.warm_days - 12.0,
                    high_c=case.warm_days,
                    is_measured=True,
                )
                for n in range(1, 16)
            ]
        )


def _kinds() -> Iterator[NightKind]:
    """Give the kinds of night, the commonest most often."""
    while True:
        yield from (NightKind.RADIATION, NightKind.RADIATION, NightKind.MIXED)
        yield from (NightKind.RADIATION, NightKind.ADVECTION)


def reading_text(case: Case, moment_utc: datetime) -> str:
    """Return what the thermometer reads, with its unit."""
    [expected] = case.grid.air_c([moment_utc])
    by = -case.read_by_c if case.reads is Reads.COLD else case.read_by_c
    return f"{expected + by:.1f} degC"


def config_text(place: Place, folder: Path) -> str:
    """Return the configuration of a case, its state in a folder."""
    case, given = place.case, place.servers
    named = ", ".join(f'"{name}"' for name in case.sources)
    return f"""\
config_version = 1

[site]
name = "Heron Bench"
latitude = 46.2205
longitude = -119.2412
elevation = "125 m"
time_zone = "{ZONE.key}"
units = "{"us" if case.is_us else "metric"}"
uphill = "NW"

{"".join(_block_text(plant, case) for plant in case.blocks)}
{"".join(_equipment_text(plant) for plant in case.blocks if plant.equipment)}
[supplies]
hands = 2
crew = ["Ines", "Tobias"]
water = "12000 gal"

[[sensors]]
name = "{SENSOR}"
kind = "reference"

[[people]]
name = "Ines"
channels = ["email", "sms"]
email = "ines@heron-bench.example"
phone = "+15095550142"

[[people]]
name = "Tobias"
channels = ["sms"]
phone = "+15095550177"
turn = {1 + case.seed % 2}

[email]
host = "127.0.0.1"
port = {given.smtp_port}
security = "none"
sender = "frost@heron-bench.example"

[sms]
url = "{given.url}/messages"
fields = {{ To = "{{phone}}", Body = "{{text}}" }}

[forecast]
sources = [{named}]
contact = "us@heron-bench.example"
nws_url = "{given.url}"
open_meteo_url = "{given.url}"

[storage]
directory = "{folder / "state"}"

[status]
directory = "{folder / "page"}"
"""


def _block_text(plant: Plant, case: Case) -> str:
    """Return the section of a block."""
    seen = case.night - plant.stage_age_days * _DAY
    method = METHODS[plant.equipment] if plant.equipment else ""
    lines = [
        "[[blocks]]",
        f'name = "{plant.name}"',
        f'crop = "{plant.crop}"',
        f'stage = "{plant.stage}"',
        f"stage_seen = {seen}",
        f"plants = {800 if plant.name == 'Bed' else 30}",
        f'height = "{plant.height}"',
        f'cold_spot = "{plant.cold_spot_f:g} degF"',
        'area = "80 m2"' if plant.name == "Bed" else 'canopy = "9 ft"',
    ]
    if case.crop_value:
        lines.append("crop_value = 2400")
    if method:
        lines.append(f'methods = ["{method}"]')
    return "\n".join([*lines, "", ""])


def _equipment_text(plant: Plant) -> str:
    """Return the section of what protects a block."""
    name = plant.equipment or ""
    return (
        f'[[equipment]]\nname = "{name}"\nmethod = "{METHODS[name]}"\n'
        f'blocks = ["{plant.name}"]\n{_EQUIPMENT[name]}\n\n'
    )
