"""`frostalert once`: one cycle with delivery, live or as a rehearsal."""

import shutil
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import typer

from frostalert.app import build_parts
from frostalert.cli.options import (
    ConfigOption,
    ForecastOption,
    NowOption,
    find_config,
    parse_now,
)
from frostalert.cli.say import say
from frostalert.clock import FixedClock, SystemClock
from frostalert.config.load import load_settings
from frostalert.config.state_folder import state_directory
from frostalert.cycle.cycle import CycleResult, run_cycle
from frostalert.cycle.deliver import Delivered, deliver_due
from frostalert.errors import StoreError, UsageError, reason_of
from frostalert.forecast.file_source import FileSource
from frostalert.messages.wording import Wording, capital
from frostalert.model.tier_words import SUBJECT_WORDS, night_words
from frostalert.ports import Clock, SourceMemory
from frostalert.service import Parts
from frostalert.store.lock import StateLock
from frostalert.store.open import make_state_directory, open_store

REHEARSAL = "rehearsal"


def once(
    config: ConfigOption = None,
    forecast: ForecastOption = None,
    now: NowOption = None,
    *,
    fresh: bool = typer.Option(
        False, "--fresh", help="Forget earlier rehearsals first (never live state)."
    ),
) -> None:
    """Run one cycle and send what is new.

    With --now or --forecast it is a rehearsal: it works on a state of its own, and
    every message begins with TEST.
    """
    settings = load_settings(find_config(config))
    moment = parse_now(now, settings.farm.site.time_zone)
    is_rehearsal = moment is not None or forecast is not None
    if fresh and not is_rehearsal:
        message = "--fresh goes with a rehearsal: give --now or --forecast as well"
        raise UsageError(message)
    clock = SystemClock() if moment is None else FixedClock(moment)
    parts = build_parts(settings)
    if forecast is not None:
        parts = replace(parts, sources=[_recorded(forecast, clock.now_utc())])
    directory = state_directory(settings.state_directory)
    if is_rehearsal:
        directory = _rehearsal_directory(directory, is_fresh=fresh)
    result, delivered = _cycle(parts, directory, clock, is_rehearsal=is_rehearsal)
    wording = Wording(settings.farm.site, result.assessment.issued_utc)
    _report(result, delivered, wording, is_rehearsal=is_rehearsal)
    if delivered.waiting or delivered.dead:
        raise typer.Exit(75 if delivered.waiting else 1)
    if result.assessment.forecast is None:
        raise typer.Exit(69)


def _cycle(
    parts: Parts, directory: Path, clock: Clock, *, is_rehearsal: bool
) -> tuple[CycleResult, Delivered]:
    """Run one cycle and send everything that waits."""
    with StateLock(make_state_directory(directory)):
        store = open_store(directory, keeps_history=not is_rehearsal)
        result = run_cycle(
            parts.settings.farm,
            parts.sources,
            store,
            clock.now_utc(),
            is_rehearsal=is_rehearsal,
            plotter=parts.plotter,
        )
        delivered = deliver_due(store, parts.notifiers, clock, is_forced=True)
        store.database.close()
    return result, delivered


def _recorded(path: Path, now_utc: datetime) -> FileSource:
    """Return a recorded answer as a source, or raise what is wrong with it.

    A file that cannot be used is the user's mistake, not a fault of a source.
    """
    source = FileSource(path)
    source.fetch(SourceMemory(), now_utc)
    return source


def _rehearsal_directory(directory: Path, *, is_fresh: bool) -> Path:
    """Return the folder of rehearsals, emptied if asked for."""
    place = directory / REHEARSAL
    try:
        if is_fresh and place.is_dir():
            shutil.rmtree(place)
    except OSError as error:
        message = f"{place} cannot be emptied: {reason_of(error)}"
        raise StoreError(message) from error
    return place


def _report(
    result: CycleResult, delivered: Delivered, wording: Wording, *, is_rehearsal: bool
) -> None:
    """Say what the cycle found and what was sent."""
    if is_rehearsal:
        say("Rehearsal: a state of its own; messages begin with TEST.")
    for night in result.assessment.nights:
        name = wording.night(night.night)
        say(f"{capital(name)}: {night_words(night)}. {night.reason}.")
    for item in result.decision.announced:
        what, name = item.say and SUBJECT_WORDS[item.say], wording.night(item.night)
        say(f'Said "{what}" about {name}: {item.why.value}.')
    if not result.decision.announced:
        say("Nothing new to say.")
    say(
        f"Messages: {delivered.sent} sent, {delivered.waiting} waiting for another "
        f"try, {delivered.dead} given up."
    )
