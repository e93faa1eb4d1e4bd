"""The composition root: builds everything from the settings, and names the jobs."""

import logging
from collections.abc import Callable
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import assert_never

from frostalert.clock import CheckedClock, SystemClock, TimeKeeper, now_beside
from frostalert.config.accepted import AcceptedConfig
from frostalert.cycle.answer_links import TicketLinks
from frostalert.errand import Errand
from frostalert.errors import StoreError
from frostalert.forecast.asked import build_session, build_sources
from frostalert.forecast.nws_official import NwsOfficial
from frostalert.forecast.nws_source import NwsSource
from frostalert.health import read_health
from frostalert.messages.addressing import AnswerLinks
from frostalert.model.alarm import Answer
from frostalert.model.assessment import Tier
from frostalert.model.channel import CHANNELS, ChannelKind
from frostalert.model.job_sheet import JobSheet, Tick
from frostalert.model.reading import ExpectedAir, Reading
from frostalert.model.settings import Settings
from frostalert.model.ticket import Ticket
from frostalert.model.warmth import PhoneLook, Sighting
from frostalert.notify.email import EmailNotifier
from frostalert.notify.sms import SmsNotifier
from frostalert.ports import ArrivalReader, Clock, Notifier
from frostalert.report.child_plotter import ChildPlotter
from frostalert.schedule import Job
from frostalert.service import Parts, Service
from frostalert.store.key import make_key, read_key
from frostalert.store.open import open_beside, opened_beside
from frostalert.store.state import StateStore
from frostalert.transport import HttpSession
from frostalert.watchman import Watchman
from frostalert.web.desk import Desk

_LOG = logging.getLogger(__name__)


def _official(settings: Settings, session: HttpSession) -> NwsOfficial | None:
    """Return who is asked for official warnings: the service that forecasts, if NWS."""
    if NwsSource.name not in settings.sources.names:
        return None
    site = settings.farm.site
    place = (site.latitude, site.longitude)
    return NwsOfficial(session, settings.sources.nws_url, place)


def build_parts(settings: Settings, clock: CheckedClock | None = None) -> Parts:
    """Return everything that one configuration asks for.

    With a clock to check, the forecast service's time is compared with the machine's.
    """
    session = build_session(settings)
    asking = build_session(settings, clock.note) if clock is not None else session
    # A rehearsal's mail bears the true date, or it would sink in the inbox.
    built = {
        kind: _channel(kind, settings, session, clock or SystemClock())
        for kind in ChannelKind
    }
    return Parts(
        settings=settings,
        sources=build_sources(settings, asking),
        official=_official(settings, session),
        notifiers={kind: sender for kind, (sender, _) in built.items() if sender},
        readers={kind: reader for kind, (_, reader) in built.items() if reader},
        plotter=ChildPlotter(),
    )


def _channel(
    kind: ChannelKind, settings: Settings, session: HttpSession, clock: Clock
) -> tuple[Notifier | None, ArrivalReader | None]:
    """Return who sends on a channel, and who can say what became of a message there.

    None for a channel that is not set up, and where nobody can say.
    """
    match kind:
        case ChannelKind.EMAIL:
            if settings.email is None:
                return None, None
            name = settings.farm.site.name
            return EmailNotifier(settings.email, name, clock), None
        case ChannelKind.SMS:
            if settings.sms is None:
                return None, None
            texts = SmsNotifier(settings.sms, session)
            return texts, None if settings.sms.status_url is None else texts
        case _:
            assert_never(kind)


def build_service(
    config: AcceptedConfig,
    store: StateStore,
    clock: CheckedClock,
    failing: Callable[[], dict[str, int]],
) -> tuple[Service, Watchman]:
    """Return the service and the one who looks after it.

    Parameters
    ----------
    config : AcceptedConfig
        The configuration, watched for changes.
    store : StateStore
        The state.
    clock : CheckedClock
        The wall clock.
    failing : callable
        Returns the jobs whose last runs failed, with how many in a row.

    Returns
    -------
    tuple
        Service and watchman, who knows what is wrong with it.
    """
    service = Service(
        config,
        store,
        clock,
        build=partial(build_parts, clock=clock),
        links=lambda settings: _answer_links(settings, store),
        keeper=clock,
        errand=Errand(),
    )
    watchman = Watchman(
        store,
        clock,
        lambda: service.settings,
        build_session(service.settings, clock.note),
        failing=failing,
        keeper=clock,
    )
    service.ask_for_faults(watchman.faults)
    return service, watchman


class DeskBook:
    """The state as the page sees it: opened for each answer and closed again.

    A connection that stays open would follow a file that was set aside as damaged.
    """

    def __init__(self, directory: Path) -> None:
        self._directory = directory
        open_beside(directory).database.close()

    def now_utc(self) -> datetime:
        """Return the time by which the service goes; the machine's if that is gone."""
        try:
            with opened_beside(self._directory) as store:
                return now_beside(store)
        except StoreError:
            return SystemClock().now_utc()

    def answered_by(
        self, said: tuple[tuple[date, Tier, int], ...], now_utc: datetime
    ) -> str | None:
        """Return who has acknowledged a message already."""
        with opened_beside(self._directory) as store:
            return store.answered_by(said, now_utc)

    def record_answer(self, answer: Answer) -> None:
        """Keep an answer.

        Raises
        ------
        StoreError
            If it cannot be kept.
        """
        with opened_beside(self._directory) as store:
            store.record_answer(answer)

    def keep_ticket(self, token: str, ticket: Ticket) -> None:
        """Keep who may answer a message."""
        with opened_beside(self._directory) as store:
            store.keep_ticket(token, ticket)

    def ticket(self, token: str) -> Ticket | None:
        """Return the ticket of a token, if there is one."""
        with opened_beside(self._directory) as store:
            return store.ticket(token)

    def expected_air(self) -> tuple[ExpectedAir, ...]:
        """Return what each thermometer should read, as it was worked out last."""
        with opened_beside(self._directory) as store:
            return store.expected_air()

    def add_readings(self, readings: list[Reading]) -> int:
        """Keep readings; return how many were new.

        Raises
        ------
        StoreError
            If they cannot be kept.
        """
        with opened_beside(self._directory) as store:
            return store.add_readings(readings)

    def readings_since(self, since_utc: datetime) -> tuple[Reading, ...]:
        """Return the readings since a moment, oldest first."""
        with opened_beside(self._directory) as store:
            return store.readings_since(since_utc)

    def take_back(self, sensor: str, at_utc: datetime | None = None) -> Reading | None:
        """Take back a sensor's reading of a moment, or the one kept last; return it."""
        with opened_beside(self._directory) as store:
            return store.take_back(sensor, at_utc)

    def job_sheet(self) -> JobSheet | None:
        """Return tonight's jobs and limits; None before the first decision."""
        with opened_beside(self._directory) as store:
            return store.job_sheet()

    def ticks(self, night: date) -> tuple[Tick, ...]:
        """Return what is done of a night's jobs."""
        with opened_beside(self._directory) as store:
            return store.ticks(night)

    def tick(self, tick: Tick) -> None:
        """Keep that a job is done."""
        with opened_beside(self._directory) as store:
            store.tick(tick)

    def untick(self, night: date, job: str) -> None:
        """Take back that a job is done."""
        with opened_beside(self._directory) as store:
            store.untick(night, job)

    def phone_looks(self) -> tuple[PhoneLook, ...]:
        """Return the newest look by phone at each block."""
        with opened_beside(self._directory) as store:
            return store.phone_looks()

    def sightings(self) -> tuple[Sighting, ...]:
        """Return everything that was seen, the oldest first."""
        with opened_beside(self._directory) as store:
            return store.sightings()

    def note_phone_look(self, look: PhoneLook) -> None:
        """Keep what somebody saw in a block, instead of the look before."""
        with opened_beside(self._directory) as store:
            store.note_phone_look(look)

    def drop_phone_looks(self, blocks: tuple[str, ...]) -> None:
        """Take looks back."""
        with opened_beside(self._directory) as store:
            store.drop_phone_looks(blocks)


def build_desk(follow: Callable[[], Settings], directory: Path) -> Desk:
    """Return what the page to answer on works with.

    Parameters
    ----------
    follow : callable
        Returns the configuration as it stands now; its [web] counts at the start.
    directory : Path
        The state folder.

    Returns
    -------
    Desk
        For `build_page`.

    Raises
    ------
    StoreError
        If there is no state yet.
    """
    web = follow().web
    assert web is not None  # noqa: S101 - the command has asked
    book = DeskBook(directory)
    return Desk(
        settings=follow,
        web=web,
        answers=book,
        tickets=book,
        readings=book,
        phone=book,
        clock=book,
        key=read_key(directory),
        health=lambda: read_health(follow(), directory),
    )


def _answer_links(settings: Settings, store: StateStore) -> AnswerLinks | None:
    """Return what makes the links to answer by, if there is a page."""
    if settings.web is None:
        return None
    try:
        key = make_key(store.database.path.parent)
    except StoreError as error:
        _LOG.error("messages go without links to answer by: %s", error)
        return None
    return TicketLinks(key=key, public_url=settings.web.public_url, book=store)


def jobs(service: Service, watchman: Watchman, clock: TimeKeeper) -> list[Job]:
    """Return what the service does, how often, and in which lane.

    What a wrong clock would spoil waits until servers have named their time, some
    minutes at the most: nobody is called by a clock that is ahead.
    """

    def settled(run: Callable[[], object]) -> Callable[[], object]:
        return lambda: run() if clock.is_settled else None

    def sure(run: Callable[[], object]) -> Callable[[], object]:
        return lambda: run() if clock.is_sure else None

    relays: list[tuple[str, float, Callable[[], object], str]] = [
        (f"relay {row.kind}", 5, settled(partial(service.relay, row.kind)), row.lane)
        for row in CHANNELS
    ]
    table: list[tuple[str, float, Callable[[], object], str]] = [
        ("fetch", 5, service.fetch, "fetch"),
        ("look", 5, service.look, "decide"),
        *relays,
        ("arrivals", 30, service.check_arrivals, "watch"),
        ("daily line", 60, settled(service.daily_line), "decide"),
        ("weekly", 300, settled(service.weekly), "decide"),
        ("morning after", 300, settled(service.morning_after), "decide"),
        ("config", 5, service.reload, "decide"),
        ("readings", 60, service.take_readings, "house"),
        ("signs of life", 30, watchman.beat, "house"),
        ("outside watcher", 30, watchman.ping, "watch"),
        ("daily copy", 1800, settled(watchman.back_up), "copy"),
        ("official warnings", 900, service.ask_official, "fetch"),
        ("learn", 3600, service.learn, "watch"),
        ("warmth", 3600, service.note_warmth, "watch"),
        ("tidy", 6 * 3600, sure(service.tidy), "watch"),
        ("past springs", 60, service.look_at_past, "watch"),
    ]
    return [
        Job(name=name, every=timedelta(seconds=every_s), run=run, lane=lane)
        for name, every_s, run, lane in table
    ]
