"""Watches the service itself: signs of life, the outside watcher, copies, the clock.

A dead service looks exactly like good weather. So it leaves signs of life, asks an
outside watcher to notice when they stop, and says so when hours were not watched.
"""

import logging
from collections.abc import Callable
from datetime import datetime, timedelta

from frostalert.clock import CLOCK_OFF, TimeKeeper, Unquestioned
from frostalert.cycle.health import ALIVE_EVERY, Health, Light, judge_health
from frostalert.cycle.pulse import ALIVE, CYCLE, read_pulse
from frostalert.errors import StoreError, TransportError
from frostalert.messages.compose_service import compose_gap
from frostalert.messages.wording import Wording
from frostalert.model.notice import Message
from frostalert.model.settings import Settings
from frostalert.ports import Clock
from frostalert.risk.forecast_age import STALE
from frostalert.store.backup import make_backup
from frostalert.store.share import share_of
from frostalert.store.state import StateStore
from frostalert.store.steady import FailoverStore
from frostalert.transport import HttpSession

_LOG = logging.getLogger(__name__)
_GAP = timedelta(minutes=40)
_FAILURES_IN_A_ROW = 3
_REPAIR_SAID = timedelta(hours=12)
_FAIL_PING_EVERY = timedelta(minutes=15)


class Watchman:
    """Looks after the service.

    Parameters
    ----------
    store : StateStore
        The state.
    clock : Clock
        The wall clock.
    settings : callable
        Returns the settings in force.
    session : HttpSession
        For the outside watcher.
    failing : callable, optional
        Returns the jobs whose last runs failed, with how many in a row.
    keeper : TimeKeeper, optional
        What is known of the machine's clock.
    """

    def __init__(
        self,
        store: StateStore,
        clock: Clock,
        settings: Callable[[], Settings],
        session: HttpSession,
        *,
        failing: Callable[[], dict[str, int]] = dict,
        keeper: TimeKeeper | None = None,
    ) -> None:
        self._keeper = keeper or Unquestioned()
        self._begun_s = self._keeper.ticks_s()
        self._beaten_s: float | None = None
        self._store = store
        self._clock = clock
        self._settings = settings
        self._session = session
        self._failing = failing
        self._backup_problem: str | None = None
        self._pinged_cycle: str | None = None
        self._failed_utc: datetime | None = None
        self._repair_seen_utc: datetime | None = None

    def beat(self) -> None:
        """Leave a sign of life, and bring the state back to disk when that is possible.

        Hours without one are told, if there were many: after a start, and after the
        machine slept. After a start none is left by a clock that nobody has confirmed:
        set right, it would look like a gap.
        """
        now = self._clock.now_utc()
        if isinstance(self._store, FailoverStore):
            self._store.try_to_return(now)
        self._note_clock()
        if not self._keeper.is_settled and self._beaten_s is None:
            return
        last = self._store.read_mark(ALIVE)
        before = datetime.fromisoformat(last) if last else None
        gap = self._gap(before, now)
        self._beaten_s = self._keeper.ticks_s()
        if gap is not None:
            self._store.queue(self._gap_messages(*gap, now), now)
        is_due = before is None or not timedelta(0) <= now - before < ALIVE_EVERY
        if is_due or gap is not None:
            self._store.write_mark(ALIVE, now.isoformat())

    def _gap(
        self, before: datetime | None, now: datetime
    ) -> tuple[datetime, datetime] | None:
        """Return from when to when nothing was watched, if that was long.

        While we run, ticks that nobody sets tell how long that was, not the clock.
        """
        if self._beaten_s is not None:
            silent = timedelta(seconds=self._keeper.ticks_s() - self._beaten_s)
            return (now - silent, now) if silent >= _GAP else None
        if before is None:
            return None
        begun = now - timedelta(seconds=self._keeper.ticks_s() - self._begun_s)
        return (before, begun) if begun - before >= _GAP else None

    def _note_clock(self) -> None:
        """Keep by how much the machine's clock is off, for those who answer beside."""
        off_s = str(round(self._keeper.off.total_seconds()))
        if (self._store.read_mark(CLOCK_OFF) or "0") != off_s:
            self._store.write_mark(CLOCK_OFF, off_s)

    def _gap_messages(
        self, before: datetime, until: datetime, now: datetime
    ) -> list[Message]:
        """Return the word that some hours were not watched."""
        farm = self._settings().farm
        wording = Wording(farm.site, now)
        detail = (
            f"it was not running from {wording.moment(before)} to "
            f"{wording.moment(until)}; these hours were not watched. It is running "
            "again, and what is at risk from now on is judged as usual"
        )
        _LOG.warning("%s", detail)
        key = f"gap|{before:%Y%m%dT%H%M}"
        return compose_gap(key, detail, farm, now)

    def faults(self) -> dict[str, str]:
        """Return what is wrong with the service itself, by key."""
        found = self._storage_faults()
        if self._backup_problem is not None:
            found["backup"] = self._backup_problem
        made = self._store.newest_run_utc(self._clock.now_utc())
        if made is not None and self._clock.now_utc() - made > STALE:
            moment = Wording(self._settings().farm.site, self._clock.now_utc())
            found["forecast-old"] = (
                f"no new forecast since {moment.moment(made)}: check another forecast "
                "and a thermometer. Warnings use the old one until it is too old"
            )
        clock = self._keeper.problem
        if clock is not None:
            found["clock"] = clock
        for job, count in self._failing().items():
            if count >= _FAILURES_IN_A_ROW:
                found[f"job-{job}"] = (
                    f'its job "{job}" failed {count} times in a row; the log says why'
                )
        return found

    def _storage_faults(self) -> dict[str, str]:
        """Return what is wrong with the state."""
        found: dict[str, str] = {}
        if isinstance(self._store, FailoverStore):
            if self._store.trouble is not None:
                found["storage"] = (
                    "its state cannot be written, so it goes on in memory: warnings "
                    "still go out, and some may come twice after a restart; "
                    f"{self._store.trouble}"
                )
            found |= self._repairs()
        unreadable = self._store.unreadable_rows()
        if unreadable:
            found["storage-rows"] = (
                f"{unreadable} stored rows cannot be read and are left out; the log "
                "names them. If this goes on, the disk is failing: change it"
            )
        return found

    def _repairs(self) -> dict[str, str]:
        """Return what was mended since the start: said once, not day after day."""
        if not isinstance(self._store, FailoverStore) or self._store.repaired is None:
            return {}
        now = self._clock.now_utc()
        if self._repair_seen_utc is None:
            self._repair_seen_utc = now
        is_news = now - self._repair_seen_utc < _REPAIR_SAID
        return {"storage-repaired": self._store.repaired} if is_news else {}

    def back_up(self) -> None:
        """Make the day's copy of the state, unless the state is in memory."""
        if isinstance(self._store, FailoverStore) and self._store.trouble is not None:
            return
        try:
            copy = make_backup(self._store.database, self._clock.now_utc())
        except StoreError as error:
            _LOG.error("%s", error)
            self._backup_problem = str(error)
            return
        self._backup_problem = None
        if copy is not None:
            _LOG.info("copy of the state made: %s", copy.name)

    def health(self) -> Health:
        """Return whether the service can be relied on."""
        settings = self._settings()
        now = self._clock.now_utc()
        pulse = read_pulse(
            self._store,
            settings.farm,
            now,
            is_running=True,
            has_watcher=settings.watcher is not None,
            share=share_of(self._store.database.path.parent),
        )
        return judge_health(pulse, now)

    def ping(self) -> None:
        """Tell the outside watcher of each complete cycle, or of what is wrong."""
        watcher = self._settings().watcher
        if watcher is None or watcher.url is None:
            return
        health = self.health()
        cycle = self._store.read_mark(CYCLE)
        if health.light is Light.BAD:
            self._ping_failure(watcher.fail_url, health)
        elif cycle is not None and cycle != self._pinged_cycle:
            self._failed_utc = None
            if self._asked(watcher.url, None):
                self._pinged_cycle = cycle

    def _ping_failure(self, url: str | None, health: Health) -> None:
        """Tell the outside watcher what is wrong, every quarter of an hour."""
        now = self._clock.now_utc()
        last = self._failed_utc
        if url is None or (
            last is not None and timedelta(0) <= now - last < _FAIL_PING_EVERY
        ):
            return
        if self._asked(url, health.line):
            self._failed_utc = now

    def _asked(self, url: str, body: str | None) -> bool:
        """Ask an address of the watcher; return whether it answered well."""
        try:
            answer = self._session.ping(url, body)
        except TransportError as error:
            _LOG.warning("the outside watcher was not reached: %s", error)
            return False
        is_good = answer.status < 300  # noqa: PLR2004 - success, by RFC 9110
        if not is_good:
            _LOG.warning("the outside watcher answered %d", answer.status)
        return is_good
