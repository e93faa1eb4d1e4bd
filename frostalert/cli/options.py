"""Options that several commands share, and how they are read."""

import os
from contextlib import AbstractContextManager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated, Any
from zoneinfo import ZoneInfo

import typer

from frostalert.config import accepted
from frostalert.config.state_folder import state_directory, state_directory_of
from frostalert.errors import ConfigFileError, UsageError, reason_of
from frostalert.model.settings import Settings
from frostalert.store.open import opened_beside
from frostalert.store.state import StateStore

ConfigOption = Annotated[
    Path | None,
    typer.Option(
        "--config",
        help="The configuration; by default $FROSTALERT_CONFIG, ./frostalert.toml, "
        "~/.config/frostalert/frostalert.toml or /etc/frostalert/frostalert.toml.",
        show_default=False,
        readable=False,
    ),
]
ForecastOption = Annotated[
    Path | None,
    typer.Option(
        "--forecast",
        help="A recorded answer of the source, in place of the network.",
        show_default=False,
        readable=False,
    ),
]
NowOption = Annotated[
    str | None,
    typer.Option(
        "--now",
        metavar="ISO-TIME",
        help="Pretend that it is this moment, such as 2026-04-12T15:10; without an "
        "offset it is the site's local time.",
        show_default=False,
    ),
]


LastNightOption = Annotated[
    str | None,
    typer.Option(
        "--to",
        metavar="DATE",
        help="Last night shown; by default the latest.",
        show_default=False,
    ),
]
NightOption = Annotated[
    str | None,
    typer.Option(
        "--night",
        metavar="DATE",
        help="Date of the night's evening; by default the coming night, or the one "
        "that lasts.",
        show_default=False,
    ),
]


_EARLIEST_YEAR, _LATEST_YEAR = 1980, 2100

JsonOption = Annotated[
    bool, typer.Option("--json", help="Print one JSON document.", show_default=False)
]


def find_config(given: Path | None) -> Path:
    """Return the configuration to use.

    Raises
    ------
    ConfigFileError
        If none is given and none is in the usual places, or one of them is closed to
        us: what is in it must not be passed over for another.
    """
    if given is not None:
        return given
    named = os.environ.get("FROSTALERT_CONFIG")
    if named:
        return Path(named)
    base = os.environ.get("XDG_CONFIG_HOME")
    home = Path(base) if base else Path.home() / ".config"
    places = (
        Path("frostalert.toml"),
        home / "frostalert" / "frostalert.toml",
        Path("/etc/frostalert/frostalert.toml"),
    )
    for place in places:
        if _is_file(place):
            return place
    looked = ", ".join(str(place) for place in places)
    problem = (
        f"none is there; looked for {looked}. Name one with --config, or let "
        "frostalert init write a first one"
    )
    name = "configuration"
    raise ConfigFileError(name, problem)


def _is_file(place: Path) -> bool:
    """Return whether a file is there."""
    try:
        return place.is_file()
    except OSError as error:
        if not place.is_absolute():
            # Where the command was called from: with sudo, often somebody's home.
            return False
        problem = f"cannot be looked at: {reason_of(error)}, or name one with --config"
        raise ConfigFileError(str(place), problem) from error


def settings_in_force(path: Path) -> Settings:
    """Return what the service goes by: a broken file must not keep people from it.

    Raises
    ------
    ConfigError
        If the file cannot be used and the service has no copy of an earlier one.
    """
    return accepted.settings_in_force(path, state_directory_of(path))


def closing_store(settings: Settings) -> AbstractContextManager[StateStore]:
    """Give the state beside the service, and close it.

    Raises
    ------
    StoreError
        If there is none that can be used.
    """
    return opened_beside(state_directory(settings.state_directory))


def whole_number(text: str) -> int:
    """Return a count that an option gives.

    Raises
    ------
    typer.BadParameter
        If it is not a whole number.
    """
    try:
        return int(text)
    except ValueError as error:
        message = f'"{text}" is not a whole number; write it like 12'
        raise typer.BadParameter(message) from error


def counted_by(option: str, words: str) -> Any:
    """Return an option that counts something."""
    return typer.Option(
        option,
        help=words,
        metavar="NUMBER",
        parser=whole_number,
        show_default=False,
    )


def parse_night(text: str | None, option: str = "--night") -> date | None:
    """Return the night that an option names, if it names one.

    Raises
    ------
    UsageError
        If it is not a date.
    """
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        message = f'{option} "{text}" is not a date; write it like 2026-04-12'
        raise UsageError(message) from error


def parse_now(
    text: str | None, time_zone: str, option: str = "--now"
) -> datetime | None:
    """Return the moment that a --now option, or one like it, means.

    Raises
    ------
    UsageError
        If it is not a moment.
    """
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        message = f'{option} "{text}" is not a moment; write it like 2026-04-12T15:10'
        raise UsageError(message) from error
    if not _EARLIEST_YEAR <= moment.year <= _LATEST_YEAR:
        message = f'{option} "{text}" is no moment that a forecast could speak of'
        raise UsageError(message)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=ZoneInfo(time_zone))
    return moment.astimezone(UTC)
