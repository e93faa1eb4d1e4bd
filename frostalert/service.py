"""The unattended service: what its jobs do, on one accepted configuration."""

import logging
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from frostalert.clock import APART, TimeKeeper, Unquestioned
from frostalert.cycle.cycle import CycleResult, Workshop, people_state, redecide
from frostalert.cycle.deliver import Delivered, deliver_due
from frostalert.cycle.doubted import is_doubt
from frostalert.cycle.early import take_back_early
from frostalert.cycle.fetching import fetch_sources
from frostalert.cycle.job_sheet import job_sheet
from frostalert.cycle.judging import as_seen, judge_stored
from frostalert.cycle.learning import learn_nights
from frostalert.cycle.morning import came_of, morning_of
from frostalert.cycle.past_days import past_days
from frostalert.cycle.proof import check_arrivals
from frostalert.cycle.pulse import CYCLE, recent_alarms
from frostalert.cycle.readings import take_in
from frostalert.errand import Errand
from frostalert.errors import ForecastError, StoreBusyError
from frostalert.messages.addressing import AnswerLinks
from frostalert.messages.compose_service import Reach, compose_operator
from frostalert.messages.daily_line import compose_daily_line
from frostalert.messages.morning_after import compose_morning_after
from frostalert.messages.weekly import compose_weekly
from frostalert.model.channel import ChannelKind
from frostalert.model.job_sheet import JobSheet
from frostalert.model.nights import Nights
from frostalert.model.official import OfficialWord
from frostalert.model.reading import ExpectedAir, Reading
from frostalert.model.settings import Settings
from frostalert.model.warmth import PhoneLook, Sighting
from frostalert.observations import load_rows
from frostalert.patience import PlanBench
from frostalert.ports import (
    LINE,
    ArrivalReader,
    Clock,
    ConfigInForce,
    ForecastSource,
    Notifier,
    OfficialSource,
    Plotter,
)
from frostalert.risk.readings import OLD, expected_air
from frostalert.status import write_status
from frostalert.store.state import KEEP_RUNS, StateStore

_LOG = logging.getLogger(__name__)
_DAILY_LINE_WINDOW = timedelta(hours=3)
_RETRY_WAIT = timedelta(minutes=10)
_DOUBTED_WAIT = APART + timedelta(seconds=30)
_READINGS_KEPT = timedelta(days=2)
_LONGEST_ROUND = timedelta(minutes=1)
_FETCH_WAIT = timedelta(seconds=15)
"""For so long a look leaves the decision to a fetch of the same moment.

Most fetches take less. One that hangs holds no warning up for longer. Our own limit.
"""
_LINE_BACK = timedelta(minutes=12)
"""So long after the line was down what waits has been tried again: the longest wait
between two tries is ten minutes."""
_LINE_DOWN = (
    "no forecast comes in, and neither mail nor text goes out: the internet line seems "
    "to be down. The last forecast, thermometers, this machine's page and answers on "
    "the home network go on. Call people yourself; what waits is sent when the line is "
    "back, the most urgent first"
)
_DAILY_MARK, _WEEKLY_MARK = "daily line", "weekly"
_MORNING_MARK, _PAST_TOLD = "morning after", "past springs told"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """What is built from one accepted configuration."""

    settings: Settings
    sources: list[ForecastSource]
    notifiers: dict[ChannelKind, Notifier]
    readers: dict[ChannelKind, ArrivalReader] = field(default_factory=dict)
    plotter: Plotter | None = None
    official: OfficialSource | None = None


class Service:
    """The unattended service: what its jobs do.

    Parameters
    ----------
    config : ConfigInForce
        The configuration, watched for changes.
    store : StateStore
        The state.
    clock : Clock
        The wall clock.
    build : callable
        Builds sources and channels from settings.
    links : callable
        Builds what makes the links to answer by, from settings.
    keeper : TimeKeeper, optional
        What is known of the machine's clock.
    errand : Errand, optional
        Looks at past springs beside the service.
    """

    def __init__(
        self,
        config: ConfigInForce,
        store: StateStore,
        clock: Clock,
        *,
        build: Callable[[Settings], Parts],
        links: Callable[[Settings], AnswerLinks | None] = lambda _: None,
        keeper: TimeKeeper | None = None,
        errand: Errand | None = None,
    ) -> None:
        self._keeper = keeper or Unquestioned()
        self._links = links
        self._errand = errand
        self._config = config
        self._store = store
        self._clock = clock
        self._build = build
        self._parts = build(config.settings)
        # Fetching, looking again and the daily line all decide: one at a time.
        self._deciding = threading.Lock()
        self._bench = PlanBench()
        self._next_look_utc: datetime | None = None
        self._next_fetch_utc: datetime | None = None
        self._fetching_since_utc: datetime | None = None
        self._source_faults: dict[str, str] = {}
        self._own_faults: Callable[[], dict[str, str]] = dict
        self._line_down_utc: datetime | None = None
        self._decided_keys: frozenset[str] = frozenset()
        self._expected: tuple[ExpectedAir, ...] = ()
        self._reading_faults: dict[str, str] = {}
        self._status_faults: dict[str, str] = {}
        self._decided_reading: Reading | None = None
        self._decided_looks: tuple[PhoneLook, ...] = ()
        self._sheet: JobSheet | None = None

    @property
    def settings(self) -> Settings:
        """What is in force."""
        return self._parts.settings

    def ask_for_faults(self, own_faults: Callable[[], dict[str, str]]) -> None:
        """Name who knows what is wrong with the service itself."""
        self._own_faults = own_faults

    def clock_moved(self) -> None:
        """Plan anew: what was planned was planned by a clock that was moved."""
        self._next_fetch_utc = None
        if self._next_look_utc is not None:
            self._next_look_utc = self._clock.now_utc()

    def fetch(self) -> None:
        """Fetch the forecasts and decide, when it is time."""
        now = self._clock.now_utc()
        parts = self._parts
        if not _is_time(self._next_fetch_utc, now, parts.settings.fetch_every):
            return
        self._fetching_since_utc = now
        try:
            # The network is asked outside the lock: it may take a minute.
            faults = fetch_sources(parts.sources, self._store, self._clock.now_utc)
        except Exception as error:  # noqa: BLE001 - whatever it was must be told
            _LOG.exception("fetching broke")
            faults = {"fetch": f"fetching failed ({type(error).__name__})"}
        finally:
            self._fetching_since_utc = None
        self._source_faults = faults
        # The answers may have put the clock right.
        now = self._clock.now_utc()
        if self._parts.settings.farm.site == parts.settings.farm.site:
            wait = self._parts.settings.fetch_every
            # What is odd about an answer is not mended by asking again at once.
            if any(not is_doubt(key) for key in faults):
                wait = min(wait, _RETRY_WAIT)
            if not self._keeper.is_settled:
                # A second answer, that much later, settles what time it is.
                wait = min(wait, _DOUBTED_WAIT)
            self._next_fetch_utc = now + wait
        if self._keeper.is_settled:
            self._decide()
        else:
            # The first look by a time that is known is due at once.
            self._next_look_utc = now

    def look(self) -> None:
        """Decide again on stored forecasts, when a moment has come that matters.

        What is new at that moment goes in first, an edit and a forecast that is being
        fetched: people are told once, of the newest.
        """
        self._take_up()
        # Until the first fetch has ended, well or badly, there is nothing to say. By a
        # clock in doubt nobody is called.
        if self._next_look_utc is None or not self._keeper.is_settled:
            return
        now = self._clock.now_utc()
        is_time = _is_time(self._next_look_utc, now, timedelta(hours=1))
        is_news = frozenset(self._near_faults(now)) != self._decided_keys
        is_due = is_time or is_news or self._bench.has_news()
        is_due = is_due or self._newest_reading(now) != self._decided_reading
        is_due = is_due or self._store.phone_looks() != self._decided_looks
        if is_due and not self._fetch_decides(now):
            self._decide()

    def _fetch_decides(self, now_utc: datetime) -> bool:
        """Return whether a fetch of this moment is to decide instead of a look.

        Nothing is noted as said meanwhile: a crash loses nothing.
        """
        moment = self._fetching_since_utc or self._next_fetch_utc
        # A clock that was set back ends the wait.
        return moment is not None and timedelta(0) <= now_utc - moment < _FETCH_WAIT

    def _newest_reading(self, now_utc: datetime) -> Reading | None:
        """Return the newest reading that is believed: each new one is decided on."""
        believed = [
            item
            for item in self._store.readings_since(now_utc - OLD)
            if item.problem is None
        ]
        return believed[-1] if believed else None

    def relay(self, channel: ChannelKind) -> Delivered:
        """Send what is due on one channel, for some minutes at a time."""
        return deliver_due(
            self._store,
            self._parts.notifiers,
            self._clock,
            only=channel,
            longest=_LONGEST_ROUND,
            may_give_up=self._keeper.is_sure,
        )

    def daily_line(self) -> None:
        """Queue the daily line at its hour, once a local day."""
        if self._next_look_utc is None:
            return
        now = self._clock.now_utc()
        farm = self._parts.settings.farm
        local = now.astimezone(ZoneInfo(farm.site.time_zone))
        due = datetime.combine(
            local.date(), farm.rules.daily_line_at, tzinfo=local.tzinfo
        )
        today = local.date().isoformat()
        if not due <= local < due + _DAILY_LINE_WINDOW:
            return
        if self._store.read_mark(_DAILY_MARK) == today:
            return
        with self._deciding:
            assessment = judge_stored(farm, self._store, now).assessment
            lines = compose_daily_line(
                assessment,
                farm,
                state=people_state(farm, self._store, now),
                alarms=recent_alarms(self._store, now),
            )
            count = self._store.queue(lines, now)
            self._store.write_mark(_DAILY_MARK, today)
        _LOG.info("daily line queued for %d addresses", count)

    def weekly(self) -> None:
        """Queue the weekly check, on Mondays from the daily line's hour."""
        now = self._clock.now_utc()
        farm = self._parts.settings.farm
        local = now.astimezone(ZoneInfo(farm.site.time_zone))
        week = local.strftime("%G-W%V")
        is_time = local.weekday() == 0 and local.time() >= farm.rules.daily_line_at
        if not is_time or self._store.read_mark(_WEEKLY_MARK) == week:
            return
        past = self._store.past_record()
        told = "" if past is None else past.made_utc.isoformat()
        is_new = told != (self._store.read_mark(_PAST_TOLD) or "")
        messages = compose_weekly(
            farm,
            self._store.last_arrivals(),
            recent_alarms(self._store, now),
            now,
            state=people_state(farm, self._store, now),
            links=self._links(self._parts.settings),
            past=past if is_new else None,
        )
        count = self._store.queue(messages, now)
        self._store.write_mark(_WEEKLY_MARK, week)
        self._store.write_mark(_PAST_TOLD, told)
        _LOG.info("weekly check queued for %d addresses", count)

    def morning_after(self) -> None:
        """Queue what came of a night that called for hands, once it is over."""
        now, farm = self._clock.now_utc(), self._parts.settings.farm
        night = morning_of(farm, now)
        if night is None or self._store.read_mark(_MORNING_MARK) == night.isoformat():
            return
        line = came_of(farm, self._store, night, now)
        if line is None:
            return
        messages = compose_morning_after(
            line,
            farm,
            now,
            state=people_state(farm, self._store, now),
            links=self._links(self._parts.settings),
        )
        count = self._store.queue(messages, now)
        self._store.write_mark(_MORNING_MARK, night.isoformat())
        _LOG.info("the morning after queued for %d addresses", count)

    def check_arrivals(self) -> int:
        """Ask what became of the texts that were taken of late."""
        return check_arrivals(self._store, self._parts.readers, self._clock)

    def take_readings(self) -> None:
        """Take in what thermometers wrote to their file since the last look."""
        settings = self._parts.settings
        if settings.readings_csv is None:
            return
        now = self._clock.now_utc()
        rows, problems = load_rows(
            Path(settings.readings_csv), settings.readings_unit, now
        )
        self._reading_faults = {"readings": "; ".join(problems)} if problems else {}
        recent = [item for item in rows if now - item.at_utc < _READINGS_KEPT]
        for item in take_in(recent, settings.farm, self._store, now):
            if item.problem is not None:
                _LOG.warning("reading of %s: %s", item.sensor, item.problem)

    def ask_official(self) -> None:
        """Ask for the official warnings in force; what fails is shown by its age."""
        if self._parts.official is None:
            return
        now = self._clock.now_utc()
        try:
            self._store.save_official(self._parts.official.ask(now))
        except ForecastError as error:
            _LOG.warning("official warnings: %s", error)
            if self._store.official_word() is None:
                self._store.save_official(OfficialWord(asked_utc=None))

    def learn(self) -> None:
        """Pair the last nights' forecasts with what the reference sensor read."""
        learn_nights(self._parts.settings.farm, self._store, self._clock.now_utc())

    def look_at_past(self) -> None:
        """Have past springs looked at once, if that is asked for.

        In a process of its own that yields to all others, and never before the first
        decision: no warning waits for it.
        """
        errand = self._errand
        if errand is None or not self._parts.settings.past.at_start:
            return
        is_first_over = self._store.read_mark(CYCLE) is not None
        if is_first_over and self._store.past_record() is None:
            errand.go_on(self._config.path, self._clock.now_utc())

    def end(self) -> None:
        """End what runs beside the service."""
        if self._errand is not None:
            self._errand.end()

    def note_warmth(self) -> None:
        """Keep what stage each block was seen at, and how warm the last days were."""
        farm = as_seen(self._parts.settings.farm, self._store)
        self._store.note_sightings(
            [
                Sighting(
                    block=block.name,
                    crop=block.crop.name,
                    stage=block.stage,
                    seen=block.stage_seen,
                )
                for block in farm.blocks
            ]
        )
        self._store.save_day_air(past_days(farm, self._store, self._clock.now_utc()))

    def reload(self) -> None:
        """Take up a changed configuration and decide on it."""
        if self._take_up():
            self.look()

    def _take_up(self) -> bool:
        """Take up a changed configuration, or go on with the accepted one.

        Returns whether it changed: then the next look is due at once.
        """
        if not self._config.look():
            return False
        if self._config.problem is None:
            before = self._parts.settings.farm.site
            self._parts = self._build(self._config.settings)
            if self._parts.settings.farm.site != before:
                # The forecast of the old place is of no use: ask at once.
                self._next_fetch_utc = None
            _LOG.info("configuration taken up: %s", self._config.path)
        else:
            _LOG.error("configuration not taken up: %s", self._config.problem)
        if self._next_look_utc is not None and self._next_fetch_utc is not None:
            self._next_look_utc = self._clock.now_utc()
        return True

    def tidy(self) -> None:
        """Forget what is older than two seasons, and what messages said after one."""
        self._store.drop_bodies(self._clock.now_utc())
        self._store.forget_tickets(self._clock.now_utc())
        self._store.forget_ticks(self._clock.now_utc())
        count = self._store.forget_runs_before(self._clock.now_utc() - KEEP_RUNS)
        if count:
            _LOG.info("forgot %d forecasts older than two seasons", count)

    def _decide(self) -> CycleResult:
        """Decide on stored forecasts, with everything that is wrong."""
        with self._deciding:
            # One configuration from beginning to end, whatever is taken up meanwhile.
            parts = self._parts
            farm = parts.settings.farm
            now = self._clock.now_utc()
            take_back_early(farm, self._store, now)
            near = self._near_faults(now)
            reading, looks = self._newest_reading(now), self._store.phone_looks()
            try:
                result = redecide(
                    farm,
                    self._store,
                    now,
                    faults=near | self._source_faults,
                    links=self._links(parts.settings),
                    workshop=Workshop(plotter=parts.plotter, bench=self._bench),
                )
            except Exception as error:
                # Tried again at the next look, and told: silence is the worst answer.
                self._next_look_utc = now
                self._tell_broken(error, now)
                raise
            self._decided_keys = frozenset(near)
            self._decided_reading, self._decided_looks = reading, looks
            is_edited = self._parts is not parts
            # What was taken up meanwhile is decided on at once.
            self._next_look_utc = now if is_edited else result.decision.next_look_utc
            self._store.write_mark(CYCLE, now.isoformat())
            self._keep_expected(result.nights)
            self._keep_jobs(result, has_page=parts.settings.web is not None)
            self._status_faults = write_status(
                parts.settings, self._store, result, now, parts.plotter
            )
            return result

    def _keep_expected(self, nights: Nights) -> None:
        """Keep what thermometers should read, for whoever tells a reading."""
        expected = expected_air(nights)
        if expected and expected != self._expected:
            self._store.save_expected_air(expected)
            self._expected = expected

    def _keep_jobs(self, result: CycleResult, *, has_page: bool) -> None:
        """Keep tonight's jobs and limits, for who looks at them beside the service."""
        try:
            sheet = job_sheet(result.decided, has_page=has_page)
            if self._sheet is not None and sheet.says_as(self._sheet):
                return
            self._store.save_job_sheet(sheet)
        except Exception:  # noqa: BLE001 - no list of jobs must stop a warning
            _LOG.exception("tonight's jobs could not be kept for the page")
        else:
            self._sheet = sheet

    def _near_faults(self, now_utc: datetime) -> dict[str, str]:
        """Return what is wrong and quick to see: its changes are decided on at once."""
        faults = self._own_faults() | self._reading_faults | self._status_faults
        if self._config.problem is not None:
            faults["config"] = self._config.problem
        proving = self._parts.readers.keys()
        problems = self._store.delivery_problems(now_utc, proving)
        if self._is_line_down(problems):
            faults[LINE] = _LINE_DOWN
            self._line_down_utc = now_utc
        down_utc = self._line_down_utc
        if down_utc is not None and timedelta(0) <= now_utc - down_utc < _LINE_BACK:
            # Who was not reached is known when what waits has had its try.
            return faults
        return faults | {f"delivery-{name}": words for name, words in problems.items()}

    def _is_line_down(self, problems: Mapping[str, str]) -> bool:
        """Return whether neither a forecast nor any message gets through."""
        parts = self._parts
        silent = {f"source-{source.name}" for source in parts.sources}
        channels = {kind.value for kind in parts.notifiers}
        is_deaf = bool(silent) and silent <= self._source_faults.keys()
        return is_deaf and bool(channels) and channels <= problems.keys()

    def _tell_broken(self, error: Exception, now_utc: datetime) -> None:
        """Tell the operators that deciding broke off, once in six hours."""
        if isinstance(error, StoreBusyError):
            return
        detail = (
            f"deciding failed ({type(error).__name__}), so warnings may not come; "
            "watch a thermometer, and look at the service's log"
        )
        key = f"deciding|{now_utc:%Y%m%d}|{now_utc.hour // 6}"
        farm = self._parts.settings.farm
        reach = Reach(is_everywhere=farm.is_in_season)
        words = compose_operator(key, detail, farm, now_utc, reach=reach)
        self._store.queue(words, now_utc)


def _is_time(
    planned_utc: datetime | None, now_utc: datetime, longest: timedelta
) -> bool:
    """Return whether a planned moment has come.

    After a backward step of the clock the plan lies too far ahead: that counts too.
    """
    if planned_utc is None:
        return True
    return now_utc >= planned_utc or planned_utc - now_utc > longest
