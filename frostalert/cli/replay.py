"""`frostalert replay`: what the present configuration would have said."""

import json
from datetime import date, datetime
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from frostalert.cli.options import ConfigOption, closing_store, find_config, parse_night
from frostalert.cli.progress import progress_line
from frostalert.cli.say import counted, say
from frostalert.clock import SystemClock
from frostalert.config.load import load_settings
from frostalert.cycle.judging import known_facts
from frostalert.cycle.replay import Replayed
from frostalert.cycle.replay import replay as run_again
from frostalert.errors import UsageError
from frostalert.messages.wording import Wording
from frostalert.model.nights import Facts
from frostalert.model.settings import Settings
from frostalert.model.site import Farm
from frostalert.physics.nights import night_window
from frostalert.risk.remarks import is_for_site


def replay(
    start: Annotated[
        str, typer.Option("--from", metavar="DATE", help="First night, its evening.")
    ],
    end: Annotated[
        str, typer.Option("--to", metavar="DATE", help="Last night, its evening.")
    ],
    config: ConfigOption = None,
    *,
    as_json: bool = typer.Option(False, "--json", help="Print one JSON document."),
) -> None:
    """Decide over the stored forecasts again, with the configuration as it is now.

    Change a threshold or a lead time in a copy of the file, name that with --config,
    and compare. Nothing is sent and nothing is kept.
    """
    settings = load_settings(find_config(config), needs_secrets=False)
    farm = settings.farm
    zone = ZoneInfo(farm.site.time_zone)
    first, last = _day(start, "--from"), _day(end, "--to")
    if last < first:
        message = f"--to {last} lies before --from {first}"
        raise UsageError(message)
    begin = night_window(first, zone).start_utc
    finish = _until_now(begin, night_window(last, zone).end_utc)
    facts = _stored(settings, begin, finish)
    if not facts.runs:
        say(f"No forecast is stored for {first} to {last}.")
        raise typer.Exit(1)
    with progress_line("replaying") as progress:
        said = run_again(farm, facts, begin, finish, on_progress=progress)
    if as_json:
        typer.echo(json.dumps(_document(said, begin, finish), indent=2))
        return
    _print(said, farm)
    nights = {item.item.night for item in said}
    say(
        f"{counted(len(facts.runs), 'forecast')} from {first} to {last}: "
        f"{counted(len(said), 'message')} about {counted(len(nights), 'night')}. "
        "Answers that people gave are not counted."
    )


def _until_now(begin: datetime, end: datetime) -> datetime:
    """Return an end that is not to come: that cannot be decided again."""
    now = SystemClock().now_utc()
    if now <= begin:
        message = "--from is still to come; give nights that have been"
        raise UsageError(message)
    return min(end, now)


def _stored(settings: Settings, begin: datetime, finish: datetime) -> Facts:
    """Return what is stored of that time."""
    with closing_store(settings) as store:
        runs = store.runs_between(begin, finish)
        site = settings.farm.site
        own = (run for run in runs if is_for_site(site, run))
        return known_facts(store, begin, own)


def _print(said: list[Replayed], farm: Farm) -> None:
    """Print what would have been said, in the order of time."""
    for item in said:
        wording = Wording(farm.site, item.moment_utc)
        say(
            f"{wording.moment(item.moment_utc)}  night of {item.item.night}: "
            f"{item.item.say}\n    {item.item.why.value}; {item.item.detail}"
        )


def _day(text: str, option: str) -> date:
    """Return a date of an option."""
    day = parse_night(text, option)
    assert day is not None  # noqa: S101 - something was given
    return day


def _document(
    said: list[Replayed], begin: datetime, finish: datetime
) -> dict[str, object]:
    """Return the replay as plain values."""
    return {
        "format": 1,
        "from_utc": begin.isoformat(),
        "to_utc": finish.isoformat(),
        "said": [
            {
                "moment_utc": item.moment_utc.isoformat(),
                "night": item.item.night.isoformat(),
                "say": item.item.say.value if item.item.say else "",
                "why": item.item.why.value,
                "detail": item.item.detail,
            }
            for item in said
        ],
    }
