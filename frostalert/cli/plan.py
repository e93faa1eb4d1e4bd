"""`frostalert plan`: what to do on a night with what is there, and what if."""

from datetime import date, datetime
from pathlib import Path
from typing import Annotated

import typer

from frostalert.agronomy.methods import NIGHT_CAUTION
from frostalert.cli.asked_file import goes_to_output, refuse_beside, write_asked
from frostalert.cli.live_context import LiveContext, load_context
from frostalert.cli.options import (
    ConfigOption,
    ForecastOption,
    JsonOption,
    NightOption,
    NowOption,
    find_config,
    parse_night,
)
from frostalert.cli.say import say, say_json
from frostalert.config.load import load_settings
from frostalert.config.what_if import parse_what_if
from frostalert.cycle.plan_document import plan_values
from frostalert.cycle.planning import equipped
from frostalert.messages.calendar import plan_calendar
from frostalert.messages.lead_words import if_it_still_runs
from frostalert.messages.plan_words import compared_lines, plan_text
from frostalert.messages.views import source_view
from frostalert.messages.wording import Wording
from frostalert.model.assessment import Assessment
from frostalert.model.plan import Plan
from frostalert.model.site import Farm


def plan(
    night: NightOption = None,
    what_if: Annotated[
        str | None,
        typer.Option(
            "--what-if",
            metavar="CHANGES",
            help='Show beside it the plan with changes, such as "hands=1, tank=800 L"; '
            "known are hands, tank, refill, without.",
            show_default=False,
        ),
    ] = None,
    calendar: Annotated[
        Path | None,
        typer.Option(
            "--calendar",
            metavar="FILE",
            help="Write the tasks as a calendar file (iCalendar); - prints it alone.",
            show_default=False,
        ),
    ] = None,
    config: ConfigOption = None,
    forecast: ForecastOption = None,
    now: NowOption = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """Print what to do on a night with what is there, with the arithmetic."""
    refuse_beside("--calendar", calendar, json=as_json, what_if=what_if)
    settings = load_settings(find_config(config), needs_secrets=False)
    if what_if:
        # Before anything is fetched: what cannot be read is said at once.
        parse_what_if(what_if, settings.farm)
    context = load_context(settings, forecast, now)
    days = _days(night, context)
    assessment, farm = context.nights.assessment, equipped(context.nights)
    _end_out_of_reach(assessment, days, farm, calendar, as_json=as_json)
    made = context.plan(days[-1])
    changed = parse_what_if(what_if, settings.farm) if what_if else None
    other = None if changed is None else context.changed(changed).plan(days[-1])
    if calendar is not None and made is not None:
        write_asked("--calendar", calendar, _calendar(made, farm))
    if as_json:
        _print_json(made, other, assessment, days)
        return
    if goes_to_output(calendar):
        if made is None:
            say(_nothing_to_do(assessment, days[-1], farm), is_aside=True)
        return
    for day in days[:-1]:
        # A night that lasts: what runs there is not over because a new day is planned.
        _print_one(context.plan(day), day, farm, assessment)
        say("")
    if made is not None and changed is not None:
        # First, since the plan itself fills more than a screen.
        _print_beside(made, other, what_if or "", changed, context.moment)
    _print_one(made, days[-1], farm, assessment)


def _end_out_of_reach(
    assessment: Assessment,
    days: tuple[date, ...],
    farm: Farm,
    calendar: Path | None,
    *,
    as_json: bool,
) -> None:
    """End as where there is no forecast, if it does not reach the night; say which."""
    if any(record.night == days[-1] for record in assessment.nights):
        return
    if as_json:
        _print_json(None, None, assessment, days)
    else:
        words = _nothing_to_do(assessment, days[-1], farm)
        say(words, is_aside=goes_to_output(calendar))
    raise typer.Exit(69)


def _days(night: str | None, context: LiveContext) -> tuple[date, ...]:
    """Return the nights to be planned: the one that is given, or those meant now."""
    given = parse_night(night)
    return (given,) if given is not None else context.meant


def _print_one(
    made: Plan | None, day: date, farm: Farm, assessment: Assessment
) -> None:
    """Print one night's plan, or why there is none."""
    if made is None:
        say(_nothing_to_do(assessment, day, farm))
    else:
        _print(made, farm, assessment)


def _nothing_to_do(assessment: Assessment, day: date, farm: Farm) -> str:
    """Return why there is no plan; a night that cannot be judged is not mild."""
    for record in assessment.nights:
        if record.night == day:
            why = f"No plan for the night of {day}: {record.tier}. {record.reason}."
            sunset, sunrise = record.sunset_utc, record.sunrise_utc
            if sunset is None or assessment.issued_utc < sunset:
                return why
            wording = Wording(farm.site, assessment.issued_utc)
            if sunrise is not None and assessment.issued_utc >= sunrise:
                why = f"The cold hours of {wording.night(day)} are over."
            return f"{why}\n{if_it_still_runs(wording)}"
    first, last = assessment.nights[0].night, assessment.nights[-1].night
    return f"The forecast reaches the nights from {first} to {last}, not {day}."


def _print_json(
    made: Plan | None,
    other: Plan | None,
    assessment: Assessment,
    days: tuple[date, ...],
) -> None:
    """Print the plan, and the one with changes, as values."""
    why = [item.reason for item in assessment.nights if item.night == days[-1]]
    say_json(
        night=days[-1].isoformat(),
        lasting_night=days[0].isoformat() if len(days) > 1 else "",
        issued_utc=assessment.issued_utc.isoformat(),
        plan=None if made is None else plan_values(made),
        what_if=None if other is None else plan_values(other),
        why=why[0] if why else "the forecast does not reach that night",
    )


def _calendar(made: Plan, farm: Farm) -> bytes:
    """Return the tasks as a calendar file."""
    return plan_calendar(made, farm, Wording(farm.site, made.made_utc))


def _print(made: Plan, farm: Farm, assessment: Assessment) -> None:
    """Print a plan."""
    wording = Wording(farm.site, assessment.issued_utc)
    source = source_view(assessment, wording)
    kind = made.kind.value if made.kind else "kind unknown"
    head = f"{farm.site.name}, {wording.night(made.night)}: {kind}.\n{source.line}."
    body = plan_text(made, farm, wording)
    say(f"{head}\n\n{body}\n\n{NIGHT_CAUTION}")


def _print_beside(
    made: Plan,
    other: Plan | None,
    what_if: str,
    changed: Farm,
    moment: datetime,
) -> None:
    """Print what a change would mean, block by block."""
    lines = [f"WHAT IF {what_if}"]
    if other is None:
        lines.append("Nothing would be at risk.")
    else:
        lines += compared_lines(made, other, Wording(changed.site, moment))
    say("\n".join([*lines, "", "AS THINGS ARE"]))
