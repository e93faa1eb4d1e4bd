"""The world around the service: a clock, a source, channels, people, a process.

Only what stands at the ports is ours; the service, its jobs, the policy, the store and
the relay are the real ones, on a real file.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from frostalert.agronomy.crops import find_crop
from frostalert.app import jobs
from frostalert.cycle.cycle import CycleResult
from frostalert.errors import (
    DeliveryError,
    ForecastFormatError,
    ForecastUnavailableError,
    Refusal,
    StoreBusyError,
    StoreError,
)
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.channel import ChannelKind
from frostalert.model.forecast import ForecastRun
from frostalert.model.notice import (
    Arrival,
    ArrivalState,
    Decision,
    Message,
    NightDecision,
    Receipt,
    Subject,
)
from frostalert.model.settings import Settings, SourceSettings
from frostalert.model.site import Block, Farm, Person, Rules
from frostalert.ports import Fetched, SourceMemory
from frostalert.schedule import Job
from frostalert.service import Parts, Service
from frostalert.store.connection import Database
from frostalert.store.lock import StateLock
from frostalert.store.open import FILE_NAME, open_beside
from frostalert.store.steady import FailoverStore
from frostalert.transport import HttpSession
from frostalert.watchman import Watchman
from tests.season.faults import Fault, FaultKind
from tests.season.moments import Moments
from tests.season.people import Crowd, Sketches
from tests.season.thermometer import POST, READINGS, write_readings
from tests.season.weather import COLD_SPOT_C, RUN_EVERY, SOURCES, ZONE, Season
from tests.support.holdings import SITE
from tests.support.plans import HEATERS

_UNKNOWN_SHARE = 0.02
_ANSWER_SHARE, _AWAY_SHARE = 0.6, 0.4


class CrashError(BaseException):
    """The process dies here: nothing below may catch it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """A message that reached a phone or a mailbox."""

    at_utc: datetime
    message: Message
    is_repeat: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What was decided about one night, with the messages that came of it."""

    decided_utc: datetime
    item: NightDecision
    keys: frozenset[str]


@dataclass(frozen=True, slots=True)
class Chance:
    """What the service made of a night at a moment.

    The chance of harm, 0 to 1, and the low of the deciding buds to come. [degC]
    """

    at_utc: datetime
    chance: float | None
    bud_c: float
    tier: Tier


@dataclass
class World:
    """Everything outside the service, with true time."""

    season: Season
    folder: Path
    now_utc: datetime
    random: np.random.Generator
    faults: list[Fault] = field(default_factory=list)
    active: dict[FaultKind, Fault] = field(default_factory=dict)
    delivered: list[Delivery] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)
    unsure: set[str] = field(default_factory=set)
    """Keys of messages of which an outcome was not known to the service."""
    lost: set[str] = field(default_factory=set)
    last_made_utc: datetime | None = None
    """When the newest whole forecast was made that the service got."""
    answered: set[date] = field(default_factory=set)
    moments: Moments = field(default_factory=Moments)
    """Every look of the service, with what was true then."""
    chances: dict[date, list[Chance]] = field(default_factory=dict)
    sources: tuple[str, ...] = SOURCES
    has_thermometer: bool = True
    has_equipment: bool = False
    """Whether there are heaters: then plans are made, and each start is called for."""
    crash_in: int | None = None
    """Calls to the outside until the process dies in one of them."""
    in_channel: Callable[[], object] | None = None
    crowd: Crowd | None = None
    """People as they are; None for the steady three, of whom one answers."""
    sketches: Sketches = field(default_factory=Sketches)

    def told_by(self, key: str) -> list[NightDecision]:
        """Return what a message tells, night by night, by its key.

        Two decisions may fall into one second: the moment does not say which it was.
        """
        own = key.removesuffix("|fallback")
        return [told.item for told in self.told if own in told.keys]

    def people_at(self, moment_utc: datetime) -> tuple[Person, ...]:
        """Return who is on the list at a moment."""
        return PEOPLE if self.crowd is None else self.crowd.list_at(moment_utc)

    def is_on(self, kind: FaultKind) -> bool:
        """Return whether a fault is on."""
        return kind in self.active

    def maybe_crash(self) -> None:
        """Die, if it is time to."""
        if self.crash_in is None:
            return
        self.crash_in -= 1
        if self.crash_in < 0:
            self.crash_in = None
            raise CrashError


@dataclass
class WallClock:
    """The machine's clock: true time and whatever it was moved by."""

    world: World
    offset: timedelta = timedelta(0)
    is_settled = is_sure = True
    off = timedelta(0)
    problem: str | None = None

    def ticks_s(self) -> float:
        """Return the seconds of a clock that nobody sets."""
        return self.world.now_utc.timestamp()

    def now_utc(self) -> datetime:
        """Return what the machine believes."""
        return self.world.now_utc + self.offset


@dataclass
class Source:
    """A forecast source; what goes wrong with one goes wrong with the other."""

    world: World
    name: str

    def fetch(self, memory: SourceMemory, now_utc: datetime) -> Fetched:
        """Return the newest run, or fail as the world has it."""
        world = self.world
        world.maybe_crash()
        if world.is_on(FaultKind.SOURCE_DOWN) or world.is_on(FaultKind.LINE_DOWN):
            raise ForecastUnavailableError(self.name, "scripted")
        if world.is_on(FaultKind.SOURCE_WRONG):
            raise ForecastFormatError(self.name, "a log-in page came back")
        made = world.now_utc
        stuck = world.active.get(FaultKind.SOURCE_STUCK)
        if stuck is not None:
            made = stuck.start_utc
        stamp = made.timestamp() // RUN_EVERY.total_seconds()
        made = datetime.fromtimestamp(stamp * RUN_EVERY.total_seconds(), UTC)
        run = world.season.forecast(made, SOURCES.index(self.name))
        if world.is_on(FaultKind.SOURCE_GAP):
            run = _with_gap(run, world.now_utc)
        else:
            world.last_made_utc = made
        return Fetched(run=replace(run, fetched_utc=now_utc), memory=memory)


def _with_gap(run: ForecastRun, now_utc: datetime) -> ForecastRun:
    """Return a run that lacks the small hours of the present night."""
    air = run.hours.air_c.copy()
    local = now_utc.astimezone(ZONE)
    morning = datetime.combine(local.date(), time(2), tzinfo=ZONE)
    if local.hour >= 9:
        morning += timedelta(days=1)
    start = int((morning - run.hours.first_utc) / timedelta(hours=1))
    air[max(0, start) : max(0, start + 6)] = np.nan
    return replace(run, hours=replace(run.hours, air_c=air))


@dataclass
class Channel:
    """A channel: takes, refuses, loses or forgets to answer."""

    world: World
    kind: ChannelKind

    def send(self, message: Message, *, is_repeat: bool) -> Receipt:
        """Take a message, or fail as the world has it."""
        world = self.world
        if world.in_channel is not None:
            world.in_channel()
        world.maybe_crash()
        self._fail(message)
        if world.random.random() < _UNKNOWN_SHARE:
            world.unsure.add(message.key)
            if world.random.random() < 0.5:
                self._deliver(message, is_repeat=is_repeat)
            raise DeliveryError(self.kind, Refusal.UNKNOWN_OUTCOME, "hung up")
        if self.kind is ChannelKind.SMS and world.is_on(FaultKind.SMS_LOSES):
            world.lost.add(message.key)
        else:
            self._deliver(message, is_repeat=is_repeat)
        # Dying here leaves an outcome that nobody knows.
        if world.crash_in == 0 or world.is_on(FaultKind.CRASH_SENDING):
            world.unsure.add(message.key)
        if world.active.pop(FaultKind.CRASH_SENDING, None) is not None:
            raise CrashError
        world.maybe_crash()
        return Receipt(provider_id=message.key, is_confirmed=True)

    def arrival(self, provider_id: str) -> Arrival:
        """Return what became of a message."""
        if provider_id in self.world.lost:
            return Arrival(state=ArrivalState.FAILED, detail="no such phone")
        return Arrival(state=ArrivalState.DELIVERED, detail="ok")

    def _deliver(self, message: Message, *, is_repeat: bool) -> None:
        """Let a message arrive."""
        self.world.delivered.append(
            Delivery(at_utc=self.world.now_utc, message=message, is_repeat=is_repeat)
        )

    def _fail(self, message: Message) -> None:
        """Raise what the faults of the hour stand for."""
        world, is_mail = self.world, self.kind is ChannelKind.EMAIL
        down = FaultKind.EMAIL_DOWN if is_mail else FaultKind.SMS_DOWN
        if world.is_on(down) or world.is_on(FaultKind.LINE_DOWN):
            raise DeliveryError(self.kind, Refusal.TRY_AGAIN, "451 later")
        if is_mail and world.is_on(FaultKind.EMAIL_REFUSES):
            raise DeliveryError(self.kind, Refusal.MISCONFIGURED, "535 no")
        if (
            is_mail
            and message.person == "Mara"
            and world.is_on(FaultKind.PERSON_REFUSED)
        ):
            raise DeliveryError(self.kind, Refusal.BAD_RECIPIENT, "550 unknown")


PEOPLE = (
    Person(
        name="Ines",
        channels=(ChannelKind.EMAIL, ChannelKind.SMS),
        email="ines@heron-bench.example",
        phone="+15095550142",
        quiet_from=time(22),
        quiet_to=time(6),
    ),
    Person(
        name="Mara",
        channels=(ChannelKind.EMAIL,),
        email="mara@heron-bench.example",
        phone=None,
        floor=Tier.PREPARE,
    ),
    Person(
        name="Tobias",
        channels=(ChannelKind.SMS,),
        email=None,
        phone="+15095550177",
        turn=2,
    ),
)


@dataclass
class GrowersConfig:
    """The configuration: the grower looks at the buds once a week."""

    world: World
    problem: str | None = None
    path: Path = Path("invented.toml")
    _looked: int = -1
    _people: tuple[Person, ...] = PEOPLE

    @property
    def settings(self) -> Settings:
        """What is in force."""
        seen = self.world.season.first + timedelta(days=7 * max(0, self._looked))
        stage, _ = self.world.season.stage_on(seen)
        block = Block(
            name="Apricots",
            crop=find_crop("apricot", {}),
            stage=stage,
            stage_seen=seen,
            height_m=3.0,
            cold_spot_delta_c=COLD_SPOT_C,
            is_measured_at_height=False,
            plants=36,
            canopy_m=2.7 if self.world.has_equipment else None,
            methods=(HEATERS.method,) if self.world.has_equipment else (),
        )
        farm = Farm(
            site=SITE,
            blocks=(block,),
            people=self.world.people_at(self.world.now_utc),
            rules=Rules(),
            sources=self.world.sources,
            sensors=(POST,) if self.world.has_thermometer else (),
            equipment=(HEATERS,) if self.world.has_equipment else (),
        )
        readings = str(self.world.folder / READINGS)
        return Settings(
            farm=farm,
            email=None,
            sms=None,
            fetch_every=timedelta(hours=3),
            sources=SourceSettings(
                names=self.world.sources,
                contact="nobody",
                nws_url="https://nowhere.example",
                met_norway_url="",
                open_meteo_url="",
            ),
            state_directory=None,
            readings_csv=readings if self.world.has_thermometer else None,
            readings_unit="degC",
        )

    def look(self) -> bool:
        """Return whether the grower has looked since."""
        local = self.world.now_utc.astimezone(ZONE).date()
        week = max(0, (local - self.world.season.first).days) // 7
        people, crowd = self.world.people_at(self.world.now_utc), self.world.crowd
        is_new = people != self._people
        self._people = people
        if week != self._looked and (crowd is None or crowd.is_looked_at(week)):
            self._looked = week
            is_new = True
        return is_new


class SimulatedStore(FailoverStore):
    """The real store on a disk that is full from time to time."""

    def __init__(self, world: World, now_utc: datetime) -> None:
        self._world = world
        super().__init__(world.folder, now_utc)

    def record_decision(
        self, decision: Decision, messages: list[Message], now_utc: datetime
    ) -> int:
        """Keep a decision, and remember which messages came of it."""
        for item in decision.announced:
            keys = frozenset(m.key for m in messages if item.night in m.nights)
            told = Told(decided_utc=now_utc, item=item, keys=keys)
            self._world.told.append(told)
        return super().record_decision(decision, messages, now_utc)

    def _open_file(self, now_utc: datetime) -> Database:
        """Open the file, unless the disk is full."""
        if self._world.is_on(FaultKind.DISK_FULL):
            message = "database or disk is full"
            raise StoreError(message)
        return super()._open_file(now_utc)


class WatchedService(Service):
    """The real service, overheard: what chance each night had whenever it decided."""

    def __init__(self, world: World, *parts: Any, **named: Any) -> None:
        super().__init__(*parts, **named)
        self._world = world

    def _decide(self) -> CycleResult:
        result = super()._decide()
        for night in result.assessment.nights:
            chances = [b.night_probability for b in night.blocks]
            known = [chance for chance in chances if chance is not None]
            buds = [b.bud.low_c for b in night.blocks if b.bud is not None]
            told = Chance(
                self._world.now_utc,
                max(known, default=None),
                min(buds, default=float("nan")),
                night.tier,
            )
            self._world.chances.setdefault(night.night, []).append(told)
        return result


class Process:
    """`frostalert run`: started, killed, started again."""

    def __init__(self, world: World, clock: WallClock) -> None:
        self.world = world
        self.clock = clock
        self.is_up = False
        self.starts_utc = world.now_utc
        self.failures: dict[str, int] = {}
        self.lock = StateLock(world.folder)
        self.store: SimulatedStore
        self.work: list[tuple[Job, datetime]] = []

    def start(self) -> None:
        """Take the lock, open the state, build the service."""
        world = self.world
        self.lock = StateLock(world.folder)
        self.lock.__enter__()
        self.store = SimulatedStore(world, self.clock.now_utc())
        channels = {kind: Channel(world, kind) for kind in ChannelKind}
        config = GrowersConfig(world)
        config.look()
        self.service = WatchedService(
            world,
            config,
            self.store,
            self.clock,
            build=lambda settings: Parts(
                settings=settings,
                sources=[Source(world, name) for name in world.sources],
                notifiers=dict(channels),
                readers={ChannelKind.SMS: channels[ChannelKind.SMS]},
                plotter=None if world.crowd is None else world.sketches,
            ),
            links=lambda _: world.crowd.links(self.store) if world.crowd else None,
        )
        watchman = Watchman(
            self.store, self.clock, lambda: self.service.settings, HttpSession("sim")
        )
        self.service.ask_for_faults(watchman.faults)
        watchman.beat()
        work = jobs(self.service, watchman, self.clock)
        self.work = [(job, world.now_utc) for job in work]
        self.is_up = True

    def step(self) -> None:
        """Run every job whose time has come."""
        now = self.world.now_utc
        if self.world.has_thermometer:
            write_readings(self.world.season, self.world.folder, now)
        for place, (job, next_utc) in enumerate(self.work):
            if next_utc > now:
                continue
            try:
                job.run()
            except CrashError:
                raise
            except Exception:
                logging.getLogger(__name__).debug("job failed", exc_info=True)
                self.failures[job.name] = self.failures.get(job.name, 0) + 1
            self.work[place] = (job, now + job.every)

    def die(self, until_utc: datetime) -> None:
        """End without a word."""
        self.store.database.close()
        self.lock.__exit__(None, None, None)
        self.is_up = False
        self.starts_utc = until_utc

    def fill_disk(self) -> None:
        """Let the open file take no further page."""
        with self.store.database.reading() as connection:
            count = connection.execute("PRAGMA page_count").fetchone()[0]
            connection.execute(f"PRAGMA max_page_count = {count}")

    def try_second(self) -> "Process | None":
        """Start a second daemon; return it if nothing refused it."""
        second = Process(self.world, self.clock)
        try:
            second.start()
        except StoreBusyError:
            return None
        return second


def damage(folder: Path) -> None:
    """Overwrite a part of the file, as a dying card does."""
    path = folder / FILE_NAME
    content = bytearray(path.read_bytes())
    content[: min(4096, len(content))] = b"\xff" * min(4096, len(content))
    path.write_bytes(content)
    for ending in ("-wal", "-shm"):
        path.with_name(path.name + ending).unlink(missing_ok=True)


def _is_away(world: World, night: date | None) -> bool:
    """Return whether Ines hears nothing that night: two nights in five."""
    day = 0 if night is None else night.toordinal()
    chance = np.random.default_rng([world.season.seed, 5, day]).random()
    return bool(chance < _AWAY_SHARE)


def _crowd_answers(world: World, crowd: Crowd, process: "Process") -> None:
    """Let people answer as they are."""
    crowd.hear([(item.at_utc, item.message) for item in world.delivered])
    crowd.act(
        world.now_utc,
        process.clock.now_utc(),
        process.service.settings.farm,
        lambda: open_beside(world.folder),
    )
    world.answered |= crowd.answered


def people_answer(world: World, process: "Process") -> None:
    """Let some people answer what reached them in the last half hour."""
    if world.crowd is not None:
        _crowd_answers(world, world.crowd, process)
        return
    recent = [
        d
        for d in world.delivered[-8:]
        if world.now_utc - d.at_utc <= timedelta(minutes=30)
        and d.message.subject_kind in (Subject.PREPARE, Subject.ACT)
        and d.message.person == "Ines"
        and not _is_away(world, d.message.night)
    ]
    if not recent or world.random.random() > _ANSWER_SHARE:
        return
    try:
        store = open_beside(world.folder)
        history = store.night_histories(world.now_utc)
        for night in recent[-1].message.nights:
            if night in history:
                world.answered.add(night)
                store.record_answer(
                    Answer(
                        person="Ines",
                        night=night,
                        tier=history[night].said,
                        revision=history[night].revision,
                        kind=AnswerKind.ACTING,
                        given_utc=world.now_utc,
                    )
                )
        store.database.close()
    except StoreError:
        return
