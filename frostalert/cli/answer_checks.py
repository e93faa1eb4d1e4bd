"""Whether the file will take an answer, asked while whoever gave it is still there.

The file's own check decides: told at the end it would name lines of a file that is not
written, and every other answer would be lost.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from frostalert.config.example import Starter, starter_text
from frostalert.config.load import parse_settings
from frostalert.errors import ConfigValueError, FrostalertError, UsageError
from frostalert.model.settings import Settings
from frostalert.model.site import DORMANT

_GOOD = Starter(
    name="Home",
    latitude=46.2205,
    longitude=-119.2412,
    elevation="410 ft",
    time_zone="America/Los_Angeles",
    units="us",
    crop="apricot",
    stage=DORMANT,
    stage_seen=date(2026, 1, 1),
    email="ines@heron-bench.example",
    sources=("met-norway",),
)
"""Answers that the file takes, beside which one is tried."""


def refuse_unusable(**answer: Any) -> None:
    """Refuse an answer that the file would not take.

    Parameters
    ----------
    **answer : object
        The fields of the beginning that it fills.

    Raises
    ------
    UsageError
        With what to write instead.
    """
    settings_of(replace(_GOOD, **answer), Path("frostalert.toml"))


def settings_of(starter: Starter, path: Path) -> Settings:
    """Return the configuration that answers make.

    Raises
    ------
    UsageError
        If they make none.
    """
    try:
        return parse_settings(starter_text(starter), path, needs_secrets=False)
    except ConfigValueError as error:
        # One answer may stand at several places.
        raise UsageError("; ".join(dict.fromkeys(error.reasons))) from error


def refuse_options(
    given: Iterable[tuple[str, str | None, Callable[[str], object]]],
) -> None:
    """Refuse the options that cannot be used, all of them at once, each by its name.

    Parameters
    ----------
    given : iterable of tuple
        Each option, what was given, if anything, and what checks it.

    Raises
    ------
    UsageError
        With one message an option.
    """
    problems = []
    for option, value, check in given:
        if value is None:
            continue
        try:
            check(value)
        except FrostalertError as error:
            problems.append(f"{option}: {error}".replace(f"{option}: {option}", option))
    if problems:
        raise UsageError("\n".join(problems))
