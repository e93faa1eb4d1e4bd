"""`frostalert ack`: answer the warnings that are open."""

from datetime import date, datetime, timedelta
from shlex import quote
from zoneinfo import ZoneInfo

import typer

from frostalert.alarms.answering import answers_about, longest_silence, open_alarms
from frostalert.cli.options import (
    ConfigOption,
    closing_store,
    find_config,
    parse_night,
    settings_in_force,
)
from frostalert.cli.say import say
from frostalert.clock import now_beside
from frostalert.cycle.pulse import recent_alarms
from frostalert.errors import QuantityError, UsageError
from frostalert.messages.wording import Wording
from frostalert.model.alarm import Alarm, AlarmState, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.site import Farm
from frostalert.model.tier_words import TIER_WORDS
from frostalert.physics.units import parse_quantity


def ack(
    config: ConfigOption = None,
    by: str = typer.Option(
        ..., "--by", metavar="NAME", help="Who answers: a person in the configuration."
    ),
    night: str | None = typer.Option(
        None,
        "--night",
        metavar="DATE",
        help="Evening of the night you mean; by default the most urgent one.",
    ),
    later: str | None = typer.Option(
        None,
        "--later",
        metavar="TIME",
        help='Do not acknowledge, only put off your messages, such as "2 h", until '
        "noon at the latest. What is more urgent comes through.",
    ),
    *,
    not_needed: bool = typer.Option(
        False, "--not-needed", help="Seen, but nothing has to be done here."
    ),
) -> None:
    """Say that a warning was seen, so that nobody else is called.

    It is for one night, and holds for what was said last: when the night gets worse or
    more urgent, people are told and asked anew.
    """
    settings = settings_in_force(find_config(config))
    person = _person(settings.farm, by)
    with closing_store(settings) as store:
        # The time by which the service goes: an answer must not seem long past.
        now = now_beside(store)
        kind, until = _meaning(settings.farm, now, later, not_needed=not_needed)
        wording = Wording(settings.farm.site, now)
        alarms = _meant(recent_alarms(store, now), parse_night(night), person, wording)
        answered = alarms[:1]
        for answer in answers_about(answered, person, kind, now, until):
            store.record_answer(answer)
    if not alarms:
        say("Nothing to answer: no warning is open.")
    silence = f", no messages until {wording.moment(until)}" if until else ""
    for alarm in answered:
        say(f"{_named(alarm, wording)}: {person}, {kind.value}{silence}")
    for alarm in alarms[1:]:
        if alarm.state is AlarmState.ANSWERED and not alarm.is_unjudged:
            say(f"Answered already: {_named(alarm, wording)} ({alarm.answered_by}).")
            continue
        say(
            f"Not answered: {_named(alarm, wording)}. For it: {_command(person, alarm)}"
        )


def _meant(
    alarms: tuple[Alarm, ...], night: date | None, person: str, wording: Wording
) -> tuple[Alarm, ...]:
    """Return the open warnings, or those of the night that is named.

    Raises
    ------
    UsageError
        If others are open: who named the wrong night must not think it is answered.
    """
    found, there = open_alarms(alarms, night), open_alarms(alarms)
    if there and not found:
        lines = "".join(
            f"\n  {_command(person, alarm)} ({_named(alarm, wording)})"
            for alarm in there
        )
        message = f"no warning is open about the night of {night}; write{lines}"
        raise UsageError(message)
    return found


def _command(person: str, alarm: Alarm) -> str:
    """Return what answers a warning."""
    return f"frostalert ack --by {quote(person)} --night {alarm.night}"


def _named(alarm: Alarm, wording: Wording) -> str:
    """Return a night and what was told of it, in words."""
    told = [TIER_WORDS[alarm.tier]] if alarm.tier.rank else []
    told += [TIER_WORDS[Tier.CANNOT_JUDGE]] if alarm.is_unjudged else []
    return f"{wording.night(alarm.night)}: {', and '.join(told)}"


def _meaning(
    farm: Farm, now: datetime, later: str | None, *, not_needed: bool
) -> tuple[AnswerKind, datetime | None]:
    """Return what is said, and until when messages are put off."""
    if later is None:
        kind = AnswerKind.NOT_NEEDED if not_needed else AnswerKind.ACTING
        return kind, None
    if not_needed:
        message = "give --later or --not-needed, not both"
        raise UsageError(message)
    try:
        until = now + timedelta(seconds=parse_quantity(later, "duration"))
    except QuantityError as error:
        message = f"--later: {error}"
        raise UsageError(message) from error
    latest = longest_silence(now.astimezone(ZoneInfo(farm.site.time_zone)))
    if not now < until <= latest:
        message = (
            f'--later "{later}" must end by {latest:%H:%M} on {latest:%a %b} '
            f"{latest.day}: no warning can be put off past noon"
        )
        raise UsageError(message)
    return AnswerKind.LATER, until


def _person(farm: Farm, name: str) -> str:
    """Return a person's name as the configuration writes it."""
    people = {person.name.lower(): person.name for person in farm.people}
    known = people.get(name.strip().lower())
    if known is None:
        listed = ", ".join(f'"{person}"' for person in people.values())
        message = f'there is no person "{name}"; write one of {listed}'
        raise UsageError(message)
    return known
