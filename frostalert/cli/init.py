"""`frostalert init`: a first configuration from a few answers."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from tempfile import TemporaryFile
from typing import Annotated, TypeVar
from zoneinfo import ZoneInfo

import typer
from tzlocal import get_localzone_name

from frostalert.cli.answer_checks import refuse_options, settings_of
from frostalert.cli.first_answers import (
    fits,
    read_crop,
    read_elevation,
    read_email,
    read_money,
    read_name,
    read_place,
    read_protection,
    read_stage,
    read_zone,
)
from frostalert.cli.live_context import load_context
from frostalert.cli.options import ForecastOption, NowOption, parse_now
from frostalert.cli.say import say
from frostalert.cli.tables import open_console, print_assessment
from frostalert.clock import SystemClock
from frostalert.config.example import Starter, starter_text
from frostalert.config.ready_made import HOUSEHOLD
from frostalert.config.zones import (
    goes_with_the_sun,
    has_clock_of,
    is_universal,
    nearest_zones,
)
from frostalert.errors import ForecastError, FrostalertError, UsageError, reason_of
from frostalert.model.crop import Crop
from frostalert.model.settings import Settings
from frostalert.model.site import DORMANT

Checked = TypeVar("Checked")
Place = tuple[float, float]
_COST_QUESTION = (
    "What does a night of {} cost you in work, water and fuel? A number in your money; "
    "Enter leaves money out"
)
# Boxes round the states of the USA: latitude from, to, longitude from, to. [deg]
_USA = (
    (24.0, 49.5, -125.0, -66.5),
    (51.0, 72.0, -180.0, -129.0),
    (18.0, 23.0, -161.0, -154.0),
)


def init(  # noqa: PLR0913, PLR0917 - one parameter an option
    place: Annotated[
        str | None,
        typer.Option("--place", help='Latitude and longitude, "46.2205, -119.2412".'),
    ] = None,
    elevation: Annotated[
        str | None,
        typer.Option("--elevation", help='Height above the sea, such as "410 ft".'),
    ] = None,
    crop: Annotated[
        str | None,
        typer.Option(
            "--crop",
            help='First crop and its stage, "apricot, full bloom"; without a stage it '
            "counts as dormant.",
        ),
    ] = None,
    email: Annotated[
        str | None, typer.Option("--email", help="Address to warn.")
    ] = None,
    name: Annotated[str, typer.Option("--name", help="Name of the place.")] = "Home",
    time_zone: Annotated[
        str | None,
        typer.Option("--time-zone", help="IANA name; this machine's by default."),
    ] = None,
    to: Annotated[Path, typer.Option("--to", help="File to write.")] = Path(
        "frostalert.toml"
    ),
    protect: Annotated[
        str | None,
        typer.Option(
            "--protect",
            help='What you can protect with, "sheets, buckets" or methods by name.',
        ),
    ] = None,
    forecast: ForecastOption = None,
    now: NowOption = None,
) -> None:
    """Write a commented configuration, check it, look at tonight, say what is next.

    What is not given is asked for.
    """
    _refuse_unwritable(to)
    refuse_options(
        (
            ("--place", place, read_place),
            ("--elevation", elevation, read_elevation),
            ("--crop", crop, read_crop),
            ("--email", email, read_email),
            ("--name", name, read_name),
            ("--time-zone", time_zone, read_zone),
            ("--protect", protect, read_protection),
            ("--now", now, partial(parse_now, time_zone="UTC")),
        )
    )
    asks = None in (place, elevation, crop, email)
    where = _answer(
        place, 'Latitude, longitude? Such as "46.2205, -119.24"', read_place
    )
    height = _answer(
        elevation, 'How high above the sea? Such as "410 ft"', read_elevation
    )
    grown = _grown(crop, asks=asks)
    address = _answer(email, "Who gets the warnings? Their email address", read_email)
    zone = None if time_zone is None else read_zone(time_zone)
    asked = _Asked(place=place is None, zone=zone is None, at_all=asks)
    where, zone = _settled(where, zone or _machine_zone(), asked)
    starter = _starter(name, where, zone, height, grown, address, now)
    starter = _protected(starter, protect, asks=asks)
    settings = settings_of(starter, to)
    with _writing(to):
        to.write_text(starter_text(starter), encoding="utf-8")
    say(f"Written: {to}, in the time of {zone}. Asking for tonight's forecast ...\n")
    _look_at_tonight(settings, forecast, now)
    say(_next_steps(to, settings))


def _refuse_unwritable(to: Path) -> None:
    """Refuse a place before anything is asked: answers must not be given for nothing.

    Raises
    ------
    UsageError
        If a file is there, or none can be written.
    """
    with _writing(to):
        is_there = to.exists()
    if is_there:
        message = f"{to} is there already; name another with --to, or move it away"
        raise UsageError(message)
    with _writing(to), TemporaryFile(dir=to.parent):
        pass


@contextmanager
def _writing(to: Path) -> Iterator[None]:
    """Say in our words why a file cannot be written."""
    try:
        yield
    except OSError as error:
        message = f"{to} cannot be written: {reason_of(error)}"
        raise UsageError(message) from error


def _grown(given: str | None, *, asks: bool) -> tuple[Crop, str]:
    """Return the first crop and its stage, which is asked for if it was left out."""
    question = 'First crop and its stage? Such as "apricot, dormant"'
    crop, stage = _answer(given, question, read_crop)
    if stage is None and asks:
        # Left out in April it would be taken for winter, and nothing be watched.
        listed = ", ".join([DORMANT, *crop.stage_names])
        question = f"Its stage, of the most advanced buds? One of {listed}. Enter takes"
        read = partial(read_stage, crop)
        stage = _optional(question, read, DORMANT, DORMANT)
    return crop, stage or DORMANT


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What was not given, and can be asked for again; whether anybody is asked."""

    place: bool
    zone: bool
    at_all: bool


def _settled(where: Place, zone: str | None, asked: _Asked) -> tuple[Place, str]:
    """Return a place and a time zone that go together, asking until they do."""
    near = nearest_zones(*where)
    example = f"Near there are {', '.join(map(_with_its_time, near))}."
    if zone is None or (asked.zone and is_universal(zone)):
        words = (
            "This machine's clock runs on universal time, so your own time zone is "
            "not known"
        )
        zone = _asked_zone(words, example, None, asked)
    elif (
        asked.zone
        and asked.at_all
        and fits(where, zone) is None
        and not (zone in near and goes_with_the_sun(zone, where[1]))
        and not has_clock_of(zone, near[0])
    ):
        # Neighbouring zones are an hour apart, which no longitude shows.
        zone = _asked_zone(f"This machine runs on {zone}", example, zone, asked)
    while (doubt := fits(where, zone)) is not None:
        if not asked.at_all or not (asked.place or asked.zone):
            message = f'{doubt}. Fix --place, or add --time-zone "{near[0]}", or yours'
            raise UsageError(message)
        if asked.place:
            # A minus is lost more easily than a time zone.
            say(f"\n{doubt}.")
            question = "Latitude, longitude, once more? Enter keeps it"
            kept = f"{where[0]!r}, {where[1]!r}"
            where = _answer(None, question, read_place, kept)
        if asked.zone and (doubt := fits(where, zone)) is not None:
            zone = _asked_zone(doubt, example, None, asked)
    return where, zone


def _with_its_time(zone: str) -> str:
    """Return a zone with what its clocks show now, which people know of their own."""
    now = SystemClock().now_utc()
    return f"{zone} ({now.astimezone(ZoneInfo(zone)):%H:%M} now)"


def _asked_zone(why: str, example: str, default: str | None, asked: _Asked) -> str:
    """Return the time zone that somebody types.

    Whoever has answered the others is asked one more, not sent away.
    """
    if not asked.at_all:
        message = f'{why}. Add --time-zone "America/Los_Angeles", or yours'
        raise UsageError(message)
    say(f"\n{why}. {example}")
    if default is None:
        return _answer(None, "Your time zone?", read_zone)
    return _optional("Your time zone? Enter keeps it", read_zone, default, default)


def _protected(starter: Starter, given: str | None, *, asks: bool) -> Starter:
    """Return a beginning with what protects it; money is asked for only beside that."""
    if given is not None:
        return replace(starter, methods=read_protection(given))
    if not asks:
        return starter
    question = (
        'What can you protect it with? Such as "sheets, buckets"; Enter for nothing yet'
    )
    nothing: tuple[str, ...] = ()
    methods = _optional(question, read_protection, nothing)
    if not methods:
        return starter
    costs = {
        method: cost
        for method in methods
        if (cost := _optional(_COST_QUESTION.format(method), read_money, None))
    }
    value = None
    if costs:
        question = "What is a full crop of the block worth, in the same money?"
        value = _optional(question, read_money, None)
    return replace(starter, methods=methods, night_costs=costs, crop_value=value)


def _optional(
    question: str,
    check: Callable[[str], Checked],
    nothing: Checked,
    default: str = "",
) -> Checked:
    """Return an answer that may be left out, also by the end of what is typed."""
    try:
        return _answer(None, question, check, default)
    except typer.Abort as error:
        if isinstance(error.__context__, EOFError):
            return nothing
        raise


def _answer(
    given: str | None,
    question: str,
    check: Callable[[str], Checked],
    default: str | None = None,
) -> Checked:
    """Return an answer, checked: what is typed wrong is asked for again at once."""
    if given is not None:
        return check(given)

    def read(text: str) -> Checked:
        try:
            return check(text)
        except FrostalertError as error:
            raise typer.BadParameter(str(error)) from error

    return typer.prompt(  # type: ignore[no-any-return]
        question, default=default, value_proc=read, show_default=bool(default)
    )


def _starter(
    name: str,
    place: Place,
    zone: str,
    elevation: str,
    crop: tuple[Crop, str],
    email: str,
    now: str | None,
) -> Starter:
    """Return the answers as what the configuration begins with."""
    latitude, longitude = place
    found, stage = crop
    is_usa = any(
        south <= latitude <= north and west <= longitude <= east
        for south, north, west, east in _USA
    )
    moment = parse_now(now, zone) or SystemClock().now_utc()
    today = moment.astimezone(ZoneInfo(zone)).date()
    return Starter(
        name=name,
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        time_zone=zone,
        units="us" if is_usa else "metric",
        crop=found.name,
        stage=stage,
        stage_seen=today,
        email=email,
        sources=("nws", "met-norway") if is_usa else ("met-norway",),
    )


def _machine_zone() -> str | None:
    """Return this machine's time zone by name, if it has one."""
    zone = get_localzone_name()
    return str(zone) if zone and ("/" in zone or is_universal(zone)) else None


def _look_at_tonight(
    settings: Settings, forecast: Path | None, now: str | None
) -> None:
    """Print tonight by the forecast, or why there is none."""
    try:
        context = load_context(settings, forecast, now, reads_state=False)
    except ForecastError as error:
        say(f"No forecast came just now: {error}")
        return
    assessment = context.nights.assessment
    print_assessment(open_console(), assessment, settings.farm, list(context.remarks))


def _next_steps(to: Path, settings: Settings) -> str:
    """Return the next three steps."""
    farm = settings.farm
    person = farm.people[0].name
    host = settings.email.host if settings.email else ""
    lacking = [
        method.name
        for method in farm.blocks[0].methods
        if method.name not in HOUSEHOLD.values()
    ]
    fill = f"Under [[equipment]] say what your {' and '.join(lacking)} can do. "
    steps = (
        f"1. Edit {to}: the block's name, size, height and cold spot, then your other "
        f"blocks. {fill if lacking else ''}Check the mail server under [email] ({host} "
        "is a guess), and put its password on the first line of the file "
        "smtp-password beside it (chmod 600 smtp-password).",
        f"2. frostalert doctor, then: frostalert test-message {person}",
        "3. frostalert past --springs 3 says how often it would have called you, and "
        "how often rightly (some minutes; old readings of your own: [past] csv).",
        "4. frostalert run, or set it up for good by deploy/README.md. Look at your "
        "buds every week, then: frostalert stage BLOCK STAGE",
    )
    return "\n".join(["", "Next:", *steps])
