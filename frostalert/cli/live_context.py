"""The nights as the running service judges them, for commands that look on."""

from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path

import typer

from frostalert.alarms.present import nights_meant
from frostalert.cli.options import parse_now
from frostalert.cli.progress import waiting_line
from frostalert.clock import SystemClock, now_beside
from frostalert.config.state_folder import state_directory
from frostalert.cycle.fetching import by_the_clock
from frostalert.cycle.judging import as_seen, judge, stored_facts
from frostalert.cycle.planning import plan_night, progress_of
from frostalert.errors import (
    ForecastError,
    ForecastFormatError,
    NoStateError,
    PhysicsDomainError,
    StoreError,
)
from frostalert.forecast.file_source import load_run
from frostalert.model.forecast import ForecastRun
from frostalert.model.nights import Facts, Nights
from frostalert.model.notice import NightHistory
from frostalert.model.plan import Plan
from frostalert.model.progress import UNKNOWN_PROGRESS, Progress
from frostalert.model.settings import Settings
from frostalert.model.site import Farm
from frostalert.ports import SourceMemory
from frostalert.risk.assess import assess_all
from frostalert.risk.remarks import forecast_remarks
from frostalert.store.open import open_beside
from frostalert.store.state import StateStore


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveContext:
    """The nights judged, and what plans of them need besides.

    Attributes
    ----------
    remarks : tuple of str
        What a reader must know about the forecast before believing the numbers.
    told : mapping of date to NightHistory
        What people were told, by night; empty where that is not known.
    progress : mapping of date to Progress
        What people were called to, by night; empty where that is not known.
    """

    nights: Nights
    remarks: tuple[str, ...]
    told: Mapping[date, NightHistory] = field(default_factory=dict)
    progress: Mapping[date, Progress] = field(default_factory=dict)

    @property
    def moment(self) -> datetime:
        """The moment that was judged at."""
        return self.nights.assessment.issued_utc

    @property
    def meant(self) -> tuple[date, ...]:
        """The nights that are meant by "tonight": the coming one, or one that lasts."""
        meant = nights_meant(self.nights.assessment, self.told)
        return tuple(record.night for record in meant)

    def plan(self, day: date | None = None) -> Plan | None:
        """Return the plan of a night, or of the first at risk; none without risk.

        A night whose cold is over is not planned any more unless it is asked for.
        """
        at_risk = [
            record
            for record in self.nights.assessment.nights
            if record.at_risk
            and (record.night == day if day else record.night >= self.meant[0])
        ]
        if not at_risk:
            return None
        is_known = self.nights.facts.has_history
        nothing = Progress() if is_known else UNKNOWN_PROGRESS
        progress = self.progress.get(at_risk[0].night, nothing)
        return plan_night(self.nights, at_risk[0], progress)

    def changed(self, farm: Farm) -> "LiveContext":
        """Return the same facts judged for a changed farm."""
        return replace(self, nights=assess_all(farm, self.nights.facts, self.moment))


def load_context(
    settings: Settings,
    forecast: Path | None,
    now: str | None,
    *,
    reads_state: bool = True,
) -> LiveContext:
    """Return the nights by all that is known: every source, and the service's state.

    A forecast from a file, or another moment, is judged by itself alone.

    Raises
    ------
    ForecastError, UsageError
        If there is no forecast, or the options cannot be used.
    """
    given = parse_now(now, settings.farm.site.time_zone)
    if forecast is not None:
        moment = given or SystemClock().now_utc()
        return _judged(settings, Facts(runs=(load_run(forecast, moment),)), moment)
    store = _state(settings) if reads_state and given is None else None
    if store is None:
        moment = given or SystemClock().now_utc()
        runs, problems = _ask_all(settings, moment)
        _tell(problems, has_other=bool(runs))
        return _judged(settings, Facts(runs=tuple(runs)), moment)
    with closing(store.database):
        return _beside_service(settings, store)


def _beside_service(settings: Settings, store: StateStore) -> LiveContext:
    """Return the nights by what the service has stored, and what is newer than that."""
    # The time by which the service goes: its night must not be another one.
    moment = now_beside(store)
    farm = as_seen(settings.farm, store)
    asked, problems = _ask_all(settings, moment)
    facts = stored_facts(store, moment, farm.site)
    facts = replace(facts, runs=_with_newer(facts.runs, asked))
    _tell(problems, has_other=bool(facts.runs))
    nights = judge(farm, facts, moment)
    hours = nights.site_hours
    told = store.night_histories(moment)
    return LiveContext(
        nights=nights,
        remarks=()
        if hours is None
        else tuple(forecast_remarks(farm.site, hours.run, moment)),
        told=told,
        progress=progress_of(told, store.recent_answers(moment), moment),
    )


def _judged(settings: Settings, facts: Facts, moment: datetime) -> LiveContext:
    """Return the nights by forecasts alone.

    Raises
    ------
    ForecastFormatError
        If no night can be worked out of them.
    """
    try:
        nights = assess_all(settings.farm, facts, moment)
    except PhysicsDomainError as error:
        problem = f"the forecast holds impossible values ({error})"
        raise ForecastFormatError(facts.runs[0].source_title, problem) from error
    assert nights.site_hours is not None  # noqa: S101 - it was judged by a run
    remarks = forecast_remarks(settings.farm.site, nights.site_hours.run, moment)
    return LiveContext(nights=nights, remarks=tuple(remarks))


def _ask_all(
    settings: Settings, moment: datetime
) -> tuple[list[ForecastRun], list[ForecastError]]:
    """Return what every source says now, and what went wrong."""
    # A forecast from a file must not wait for what speaks to the network.
    from frostalert.forecast.asked import (  # noqa: PLC0415
        build_session,
        build_sources,
    )

    runs, problems = [], []
    for source in build_sources(settings, build_session(settings)):
        try:
            with waiting_line(f"Asking {source.name}"):
                fetched = by_the_clock(source.fetch(SourceMemory(), moment), moment)
        except ForecastError as error:
            problems.append(error)
            continue
        assert fetched.run is not None  # noqa: S101 - nothing to be "not modified" from
        runs.append(fetched.run)
    return runs, problems


def _tell(problems: list[ForecastError], *, has_other: bool) -> None:
    """Say which sources gave nothing; raise the first problem if nothing is left."""
    if problems and not has_other:
        raise problems[0]
    for problem in problems:
        typer.echo(f"frostalert: {problem}; judged by the other forecasts", err=True)


def _with_newer(
    stored: tuple[ForecastRun, ...], asked: list[ForecastRun]
) -> tuple[ForecastRun, ...]:
    """Return the stored runs with those that are newer, the newest first."""
    known = {(run.source, run.place, run.updated_utc) for run in stored}
    newer = [
        run for run in asked if (run.source, run.place, run.updated_utc) not in known
    ]
    return tuple(
        sorted([*newer, *stored], key=lambda run: run.updated_utc, reverse=True)
    )


def _state(settings: Settings) -> StateStore | None:
    """Return the service's state, if there is one that can be read."""
    try:
        return open_beside(state_directory(settings.state_directory))
    except NoStateError:
        return None
    except StoreError as error:
        words = "judged by the forecasts alone, without thermometers and what was told"
        typer.echo(f"frostalert: {error}; {words}", err=True)
        return None
