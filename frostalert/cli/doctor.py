"""`frostalert doctor`: look for everything that is wrong, send nothing."""

import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import assert_never
from zoneinfo import ZoneInfo

import typer
from tzlocal import get_localzone_name

from frostalert.cli.options import (
    ConfigOption,
    JsonOption,
    closing_store,
    find_config,
)
from frostalert.cli.say import say_json, wrap_plain
from frostalert.clock import CheckedClock, SystemClock
from frostalert.config.load import load_settings
from frostalert.config.remarks import settings_remarks
from frostalert.config.state_folder import state_directory
from frostalert.cycle.health import share_words
from frostalert.cycle.judging import as_seen
from frostalert.errors import (
    ConfigError,
    DeliveryError,
    ForecastError,
    NoStateError,
    StoreError,
    reason_of,
)
from frostalert.forecast.asked import build_session, build_sources
from frostalert.health import read_health
from frostalert.model.channel import ChannelKind
from frostalert.model.settings import Settings
from frostalert.notify.email import EmailNotifier
from frostalert.ports import SourceMemory
from frostalert.risk.remarks import forecast_remarks, height_remarks
from frostalert.store.open import has_state
from frostalert.store.share import share_of

GOOD, LOOK, BAD = "good", "look", "BAD"
_LEAST_FREE_BYTES = 200_000_000
_UNIT = Path("/etc/systemd/system/frostalert.service")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at, what came of it, and what to do."""

    light: str
    what: str
    words: str


def doctor(config: ConfigOption = None, *, as_json: JsonOption = False) -> None:
    """Look at configuration, forecasts, mail log-in, clock, disk, unit and watcher.

    Nothing is sent. Exit 1 if anything is bad.
    """
    if as_json:
        found = list(_findings(find_config(config)))
        say_json(findings=[asdict(item) for item in found])
        raise typer.Exit(1 if any(item.light == BAD for item in found) else 0)
    bad = 0
    for finding in _findings(find_config(config)):
        bad += finding.light == BAD
        text = f"{finding.light:4}  {finding.what}: {finding.words}"
        first, *rest = wrap_plain(text).rstrip("\n").split("\n")
        typer.echo("\n".join([first, *(f"      {line}" for line in rest)]))
    typer.echo(f"\n{bad} bad." if bad else "\nNo problems found.")
    raise typer.Exit(1 if bad else 0)


def _findings(path: Path) -> Iterator[Finding]:
    """Look at everything in turn."""
    try:
        settings = load_settings(path)
    except ConfigError as error:
        yield Finding(BAD, "configuration", f"{error}")
        try:
            settings = load_settings(path, needs_secrets=False)
        except ConfigError:
            return
    else:
        yield Finding(GOOD, "configuration", f"{path}, {settings.farm.site.name}")
    clock = CheckedClock()
    yield from _remarks(settings)
    yield from _sources(settings, clock)
    yield from _clock(settings, clock)
    for kind in ChannelKind:
        yield from _channel(kind, settings)
    yield from _disk(settings)
    yield from _service(settings)
    yield from _past(settings)
    yield from _watcher(settings)
    yield from _unit(settings)


def _remarks(settings: Settings) -> Iterator[Finding]:
    """Say what is allowed in the configuration and may not be meant."""
    with suppress(StoreError), closing_store(settings) as store:
        settings = replace(settings, farm=as_seen(settings.farm, store))
    for remark in settings_remarks(settings, SystemClock().now_utc()):
        # The watcher has a finding of its own.
        if not remark.startswith("[watcher]"):
            yield Finding(LOOK, "configuration", remark)


def _sources(settings: Settings, clock: CheckedClock) -> Iterator[Finding]:
    """Ask each forecast source."""
    for source in build_sources(settings, build_session(settings, clock.note)):
        what = f"forecast {source.name}"
        now = clock.now_utc()
        try:
            run = source.fetch(SourceMemory(), now).run
        except ForecastError as error:
            yield Finding(BAD, what, f"{error}")
            continue
        assert run is not None  # noqa: S101 - there is no earlier answer to compare with
        yield Finding(GOOD, what, f"{run.hours.count} hours, cell {run.place}")
        site = settings.farm.site
        remarks = (*forecast_remarks(site, run, now), *height_remarks(site, run))
        for remark in (*remarks, *run.doubts):
            yield Finding(LOOK, what, remark)


def _clock(settings: Settings, clock: CheckedClock) -> Iterator[Finding]:
    """Compare this machine's clock with the forecast services', and its zone."""
    if not clock.was_compared:
        words = "not compared: no forecast service answered"
        yield Finding(LOOK, "clock", words)
    elif clock.problem is not None:
        yield Finding(BAD, "clock", clock.problem)
    else:
        yield Finding(GOOD, "clock", "agrees with the services that were asked")
    zone, here = settings.farm.site.time_zone, get_localzone_name()
    if here != zone:
        words = f"this machine runs on {here}, the site on {zone}: that does no harm"
        yield Finding(GOOD, "time zone", words)


def _channel(kind: ChannelKind, settings: Settings) -> Iterator[Finding]:
    """Try a channel as far as that can be done without sending."""
    match kind:
        case ChannelKind.EMAIL:
            yield from _mail(settings)
        case ChannelKind.SMS:
            yield from _texts(settings)
        case _:
            assert_never(kind)


def _mail(settings: Settings) -> Iterator[Finding]:
    """Log in to the mail server without sending."""
    if settings.email is None:
        return
    name = settings.farm.site.name
    try:
        EmailNotifier(settings.email, name, SystemClock()).try_log_in()
    except DeliveryError as error:
        words = (
            f"{error}. Check host, port and security; many providers want an app "
            "password, made on their security page, in place of your own"
        )
        yield Finding(BAD, "mail", words)
        return
    has_login = settings.email.username is not None
    done = "takes the log-in" if has_login else "answers, and no log-in is set"
    words = f"{settings.email.host} {done}; nothing was sent"
    yield Finding(GOOD, "mail", words)


def _texts(settings: Settings) -> Iterator[Finding]:
    """Say what cannot be tried without sending."""
    if settings.sms is None:
        return
    words = (
        "cannot be tried without sending: frostalert test-message NAME. In the USA a "
        "sender of texts must be registered, often weeks ahead; let its number through "
        '"do not disturb" on every phone'
    )
    yield Finding(LOOK, "texts", words)
    if settings.sms.status_url is None:
        words = "status_url is not set: whether a text reached the phone is not known"
        yield Finding(LOOK, "texts", words)


def _disk(settings: Settings) -> Iterator[Finding]:
    """Look at the folder of the state, or at the one that it will stand in."""
    folder = state_directory(settings.state_directory)
    place = folder
    try:
        while not place.exists():
            place = place.parent
        free = shutil.disk_usage(place).free
    except OSError as error:
        yield Finding(BAD, "disk", f"{place} cannot be looked at: {reason_of(error)}")
        return
    if free < _LEAST_FREE_BYTES:
        yield Finding(BAD, "disk", f"{free // 1_000_000} MB free at {place}: make room")
    else:
        yield Finding(GOOD, "disk", f"{free // 1_000_000:,} MB free for {folder}")
    kind = share_of(place)
    if kind is not None:
        yield Finding(LOOK, "disk", share_words(kind))


def _service(settings: Settings) -> Iterator[Finding]:
    """Say how the running service is, if one runs, and who watches it."""
    try:
        found = read_health(settings, state_directory(settings.state_directory))
    except NoStateError:
        words = "no state yet: frostalert run, or frostalert once, begins one"
        yield Finding(LOOK, "service", words)
    except StoreError as error:
        yield Finding(BAD, "service", f"{error}")
    else:
        lights = {"good": GOOD, "look": LOOK, "bad": BAD}
        yield Finding(lights[found.light.value], "service", found.line)


def _past(settings: Settings) -> Iterator[Finding]:
    """Say whether past springs were looked at, and offer it."""
    record = None
    with suppress(StoreError), closing_store(settings) as store:
        record = store.past_record()
    if record is not None:
        zone = ZoneInfo(settings.farm.site.time_zone)
        made = record.made_utc.astimezone(zone).date()
        words = f"looked at on {made}; again after a change: frostalert past"
        yield Finding(GOOD, "past springs", words)
        return
    words = (
        "not looked at: frostalert past --springs 3 says how often you would have been "
        "called, and how often rightly, and teaches the service its first nights"
    )
    if settings.past.csv is None and settings.past.station is None:
        words += (
            ". Old readings of your own are best: name the file in [past] csv, else "
            "the nearest station counts. The search for stations was not tried "
            "against the real service: if none is found, name one in [past] station"
        )
    yield Finding(LOOK, "past springs", words)


def _watcher(settings: Settings) -> Iterator[Finding]:
    """Say whether anybody notices when the service dies."""
    if settings.watcher is None:
        words = (
            "nobody notices when the service dies, and a dead service looks like good "
            "weather: set [watcher]"
        )
        yield Finding(BAD, "watcher", words)
    else:
        yield Finding(GOOD, "watcher", "is set; make it alarm once, by hand")


def _unit(settings: Settings) -> Iterator[Finding]:
    """Say whether the unit file is there; before a first run nobody misses it."""
    if _UNIT.is_file():
        yield Finding(GOOD, "unit", f"{_UNIT} is installed")
    elif _has_run(settings):
        words = f"{_UNIT} is not there: after a power cut nobody starts the service"
        yield Finding(LOOK, "unit", f"{words} (deploy/README.md)")


def _has_run(settings: Settings) -> bool:
    """Return whether the service has run; a state that is closed to us is one."""
    try:
        return has_state(state_directory(settings.state_directory))
    except StoreError:
        return True
