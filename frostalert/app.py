"""The composition root: builds everything from the settings, and names the jobs."""

import logging
import os
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from frostalert import __version__
from frostalert.clock import SystemClock
from frostalert.config.accepted import AcceptedConfig
from frostalert.forecast.nws_source import NwsSource
from frostalert.model.settings import Settings
from frostalert.model.site import ChannelKind
from frostalert.notify.email import EmailNotifier
from frostalert.notify.sms import SmsNotifier
from frostalert.pipeline.compose import compose_daily_line
from frostalert.pipeline.cycle import (
    CycleResult,
    assess_stored,
    fetch_sources,
    redecide,
)
from frostalert.pipeline.deliver import Delivered, deliver_due
from frostalert.ports import Clock, ForecastSource, Notifier
from frostalert.schedule import Job
from frostalert.store.state import KEEP_RUNS, StateStore
from frostalert.transport import HttpSession

_LOG = logging.getLogger(__name__)
_DAILY_LINE_WINDOW = timedelta(hours=3)
_RETRY_WAIT = timedelta(minutes=10)
_MOST_A_ROUND = 4
_DAILY_MARK = "daily line"


def default_state_directory() -> Path:
    """Return where state is kept unless the configuration says otherwise."""
    given = os.environ.get("STATE_DIRECTORY")
    if given:
        return Path(given.split(":")[0])
    base = os.environ.get("XDG_STATE_HOME")
    return (Path(base) if base else Path.home() / ".local" / "state") / "frostalert"


def state_directory(named: str | None) -> Path:
    """Return where the state is kept: where the configuration names, or as usual."""
    return Path(named).expanduser() if named else default_state_directory()


def build_session(settings: Settings) -> HttpSession:
    """Return the HTTP session with our name and the user's contact."""
    return HttpSession(f"frostalert/{__version__} ({settings.contact})")


def build_sources(settings: Settings, session: HttpSession) -> list[ForecastSource]:
    """Return the forecast sources in the order of preference."""
    site = settings.holding.site
    return [
        NwsSource(session, settings.nws_url, site.latitude, site.longitude)
        for _ in settings.source_names
    ]


def build_notifiers(
    settings: Settings, session: HttpSession, clock: Clock
) -> dict[ChannelKind, Notifier]:
    """Return the channels that the configuration sets up."""
    notifiers: dict[ChannelKind, Notifier] = {}
    if settings.email is not None:
        name = settings.holding.site.name
        notifiers[ChannelKind.EMAIL] = EmailNotifier(settings.email, name, clock)
    if settings.sms is not None:
        notifiers[ChannelKind.SMS] = SmsNotifier(settings.sms, session)
    return notifiers


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """What is built from one accepted configuration."""

    settings: Settings
    sources: list[ForecastSource]
    notifiers: dict[ChannelKind, Notifier]


def build_parts(settings: Settings) -> Parts:
    """Return everything that one configuration asks for."""
    session = build_session(settings)
    return Parts(
        settings=settings,
        sources=build_sources(settings, session),
        # A rehearsal's mail bears the true date, or it would sink in the inbox.
        notifiers=build_notifiers(settings, session, SystemClock()),
    )


class Service:
    """The unattended service: what its jobs do.

    Parameters
    ----------
    config : AcceptedConfig
        The configuration, watched for changes.
    store : StateStore
        The state.
    clock : Clock
        The wall clock.
    build : callable
        Builds sources and channels from settings.
    """

    def __init__(
        self,
        config: AcceptedConfig,
        store: StateStore,
        clock: Clock,
        *,
        build: Callable[[Settings], Parts] = build_parts,
    ) -> None:
        self._config = config
        self._store = store
        self._clock = clock
        self._build = build
        self._parts = build(config.settings)
        # Fetching, looking again and the daily line all decide: one at a time.
        self._deciding = threading.Lock()
        self._next_look_utc: datetime | None = None
        self._next_fetch_utc: datetime | None = None
        self._source_faults: dict[str, str] = {}

    def fetch(self) -> None:
        """Fetch the forecasts and decide, when it is time."""
        now = self._clock.now_utc()
        parts = self._parts
        if not _is_time(self._next_fetch_utc, now, parts.settings.fetch_every):
            return
        try:
            # The network is asked outside the lock: it may take a minute.
            faults = fetch_sources(parts.sources, self._store, now)
        except Exception as error:  # noqa: BLE001 - whatever it was must be told
            _LOG.exception("fetching broke")
            faults = {"fetch": f"fetching broke off ({type(error).__name__})"}
        self._source_faults = faults
        if self._parts.settings.holding.site == parts.settings.holding.site:
            wait = self._parts.settings.fetch_every
            self._next_fetch_utc = now + (min(wait, _RETRY_WAIT) if faults else wait)
        self._decide()

    def look(self) -> None:
        """Decide again on stored forecasts, when a moment has come that matters."""
        # Until the first fetch has ended, well or badly, there is nothing to say.
        if self._next_look_utc is None:
            return
        now = self._clock.now_utc()
        if _is_time(self._next_look_utc, now, timedelta(hours=1)):
            self._decide()

    def relay(self, channel: ChannelKind) -> Delivered:
        """Send what is due on one channel, some rows at a time."""
        return deliver_due(
            self._store,
            self._parts.notifiers,
            self._clock,
            only=channel,
            most=_MOST_A_ROUND,
        )

    def daily_line(self) -> None:
        """Queue the daily line at its hour, once a local day."""
        if self._next_look_utc is None:
            return
        now = self._clock.now_utc()
        holding = self._parts.settings.holding
        local = now.astimezone(ZoneInfo(holding.site.time_zone))
        due = datetime.combine(
            local.date(), holding.rules.daily_line_at, tzinfo=local.tzinfo
        )
        today = local.date().isoformat()
        if not due <= local < due + _DAILY_LINE_WINDOW:
            return
        if self._store.read_mark(_DAILY_MARK) == today:
            return
        with self._deciding:
            assessment = assess_stored(holding, self._store, now)
            count = self._store.queue(compose_daily_line(assessment, holding), now)
            self._store.write_mark(_DAILY_MARK, today)
        _LOG.info("daily line queued for %d addresses", count)

    def reload(self) -> None:
        """Take up a changed configuration, or go on with the accepted one."""
        if not self._config.look():
            return
        if self._config.problem is None:
            before = self._parts.settings.holding.site
            self._parts = self._build(self._config.settings)
            if self._parts.settings.holding.site != before:
                # The forecast of the old place is of no use: ask at once.
                self._next_fetch_utc = None
            _LOG.info("configuration taken up: %s", self._config.path)
        else:
            _LOG.error("configuration not taken up: %s", self._config.problem)
        if self._next_look_utc is not None and self._next_fetch_utc is not None:
            self._decide()

    def tidy(self) -> None:
        """Forget what is older than two seasons."""
        count = self._store.forget_runs_before(self._clock.now_utc() - KEEP_RUNS)
        if count:
            _LOG.info("forgot %d forecasts older than two seasons", count)

    def _decide(self) -> CycleResult:
        """Decide on stored forecasts, with everything that is wrong."""
        with self._deciding:
            result = redecide(
                self._parts.settings.holding,
                self._store,
                self._clock.now_utc(),
                faults=self._faults(),
            )
            self._next_look_utc = result.decision.next_look_utc
            return result

    def _faults(self) -> dict[str, str]:
        """Return everything that is wrong with the service."""
        faults = dict(self._source_faults)
        if self._config.problem is not None:
            faults["config"] = (
                "the changed configuration cannot be used, so the last accepted one "
                f"stays in force; {self._config.problem}"
            )
        problems = self._store.delivery_problems(self._clock.now_utc())
        faults |= {f"delivery-{name}": words for name, words in problems.items()}
        return faults


def jobs(service: Service) -> list[Job]:
    """Return what the service does, how often, and in which lane."""
    return [
        Job(name="fetch", every=timedelta(seconds=5), run=service.fetch, lane="fetch"),
        Job(name="look", every=timedelta(seconds=5), run=service.look, lane="house"),
        *(
            Job(
                name=f"relay {channel.value}",
                every=timedelta(seconds=5),
                run=partial(service.relay, channel),
                lane=channel.value,
            )
            for channel in ChannelKind
        ),
        Job(
            name="daily line",
            every=timedelta(seconds=60),
            run=service.daily_line,
            lane="house",
        ),
        Job(
            name="config",
            every=timedelta(seconds=5),
            run=service.reload,
            lane="house",
        ),
        Job(name="tidy", every=timedelta(hours=6), run=service.tidy, lane="house"),
    ]


def _is_time(
    planned_utc: datetime | None, now_utc: datetime, longest: timedelta
) -> bool:
    """Return whether a planned moment has come.

    After a backward step of the clock the plan lies too far ahead: that counts too.
    """
    if planned_utc is None:
        return True
    return now_utc >= planned_utc or planned_utc - now_utc > longest
