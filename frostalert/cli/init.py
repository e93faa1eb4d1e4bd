"""`frostalert init`: a first configuration from four answers."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import typer
from tzlocal import get_localzone_name

from frostalert.agronomy.crops import find_crop, find_stage
from frostalert.cli.live_context import load_context
from frostalert.cli.options import ForecastOption, NowOption, parse_now
from frostalert.cli.say import say
from frostalert.cli.tables import open_console, print_assessment
from frostalert.clock import SystemClock
from frostalert.config.example import Starter, starter_text
from frostalert.config.load import parse_settings
from frostalert.config.remarks import zone_remarks
from frostalert.errors import ForecastError, FrostalertError, QuantityError, UsageError
from frostalert.model.crop import Crop
from frostalert.model.settings import Settings
from frostalert.model.site import DORMANT, HARVESTED
from frostalert.physics.units import parse_quantity

Checked = TypeVar("Checked")
_PLACE = re.compile(r"^\s*(-?\d+(?:\.\d+)?)\s*[,; ]\s*(-?\d+(?:\.\d+)?)\s*$")
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
    forecast: ForecastOption = None,
    now: NowOption = None,
) -> None:
    """Write a commented configuration, check it, look at tonight, say what is next.

    What is not given is asked for.
    """
    if to.exists():
        message = f"{to} is there already; name another with --to, or move it away"
        raise UsageError(message)
    where = _answer(place, 'Latitude, longitude? Such as "46.2205, -119.24"', _place)
    rest = (
        _answer(elevation, 'How high above the sea? Such as "410 ft"', _elevation),
        _answer(crop, 'First crop and its stage? Such as "apricot, dormant"', _crop),
        _answer(email, "Which email address shall be warned?", _email),
        now,
    )

    def make(where: tuple[float, float], zone: str | None) -> Starter:
        return _starter(name, where, zone, *rest)

    is_all_given = None not in (place, elevation, crop, email)
    zone = None if time_zone is None else _zone(time_zone)
    starter = _beyond_doubt(
        make, where, zone, asks_place=place is None, asks=not is_all_given
    )
    text = starter_text(starter)
    settings = parse_settings(text, to, needs_secrets=False)
    try:
        to.write_text(text, encoding="utf-8")
    except OSError as error:
        message = f"{to} cannot be written: {error.strerror}"
        raise UsageError(message) from error
    say(f"Written: {to}. Asking for tonight's forecast ...\n")
    _look_at_tonight(settings, forecast, now)
    say(_next_steps(to, settings))


def _beyond_doubt(
    make: Callable[[tuple[float, float], str | None], Starter],
    where: tuple[float, float],
    zone: str | None,
    *,
    asks_place: bool,
    asks: bool,
) -> Starter:
    """Return a beginning whose place and time zone go together, or say that not."""
    starter = make(where, zone)
    doubt = _zone_doubt(starter)
    if doubt is not None and asks_place and not _is_universal(starter.time_zone):
        # A minus is lost more easily than a time zone.
        say(f"\n{doubt}.")
        question = "Latitude, longitude, once more? Enter keeps it"
        where = _answer(None, question, _place, f"{where[0]:g}, {where[1]:g}")
        starter = make(where, zone)
        doubt = _zone_doubt(starter)
    if doubt is None:
        return starter
    if zone is not None:
        say(f"\nNote: {doubt}.")
        return starter
    if not asks:
        message = f'{doubt}. Add --time-zone "America/Los_Angeles", or yours.'
        raise UsageError(message)
    if _is_universal(starter.time_zone):
        doubt = (
            "This machine's clock runs on universal time, so your own time zone is "
            "not known"
        )
    # Whoever has answered four questions is asked a fifth, not sent away.
    say(f"\n{doubt}.")
    question = 'Your time zone? Such as "America/Los_Angeles"'
    return make(where, _answer(None, question, _zone))


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

    return typer.prompt(question, default=default, value_proc=read)  # type: ignore[no-any-return]


def _starter(
    name: str,
    place: tuple[float, float],
    time_zone: str | None,
    elevation: str,
    crop: tuple[Crop, str],
    email: str,
    now: str | None,
) -> Starter:
    """Return the answers as what the configuration begins with."""
    latitude, longitude = place
    found, stage = crop
    zone = time_zone or _machine_zone()
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


def _elevation(text: str) -> str:
    """Return a height as it was given, if it is one."""
    try:
        parse_quantity(text, "length")
    except QuantityError as error:
        message = f"elevation: {error}"
        raise UsageError(message) from error
    return text.strip()


def _crop(text: str) -> tuple[Crop, str]:
    """Return a crop and its stage."""
    kind, _, stage = (part.strip() for part in text.partition(","))
    found = find_crop(kind, {})
    return found, find_stage(found, stage or DORMANT, (DORMANT, HARVESTED))


def _email(text: str) -> str:
    """Return an address, if it can be one; the configuration looks closer."""
    name, _, host = text.strip().partition("@")
    if not name or "." not in host:
        message = f'"{text}" is no email address; write it like ines@example.org'
        raise UsageError(message)
    return text.strip()


def _is_universal(zone: str) -> bool:
    """Return whether a zone is that of servers, and nobody's own."""
    return zone.rsplit("/", 1)[-1] in ("UTC", "UCT", "Universal", "Zulu", "GMT")


def _zone_doubt(starter: Starter) -> str | None:
    """Return why a time zone does not go with the longitude, if so."""
    text = starter_text(starter)
    settings = parse_settings(text, Path("new.toml"), needs_secrets=False)
    remarks = zone_remarks(settings.farm, SystemClock().now_utc())
    return remarks[0] if remarks else None


def _zone(text: str) -> str:
    """Return a time zone by its name."""
    try:
        return ZoneInfo(text.strip()).key
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        message = f'"{text}" is no time zone; write it like "America/Los_Angeles"'
        raise UsageError(message) from error


def _place(text: str) -> tuple[float, float]:
    """Return latitude and longitude."""
    match = _PLACE.match(text)
    if match is None:
        message = f'"{text}" is no place; write it like "46.2205, -119.2412"'
        raise UsageError(message)
    return float(match[1]), float(match[2])


def _machine_zone() -> str:
    """Return this machine's time zone by name."""
    zone = get_localzone_name()
    if not zone or "/" not in zone:
        message = (
            f'this machine says "{zone}" for its time zone, which is no place; add '
            '--time-zone "America/New_York", or yours'
        )
        raise UsageError(message)
    return str(zone)


def _look_at_tonight(
    settings: Settings, forecast: Path | None, now: str | None
) -> None:
    """Print tonight by the forecast, or why there is none."""
    try:
        context = load_context(settings, forecast, now, reads_state=False)
    except ForecastError as error:
        say(f"No forecast could be had just now: {error}")
        return
    assessment = context.nights.assessment
    print_assessment(open_console(), assessment, settings.farm, list(context.remarks))


def _next_steps(to: Path, settings: Settings) -> str:
    """Return the next steps."""
    person = settings.farm.people[0].name
    host = settings.email.host if settings.email else ""
    steps = (
        f"1. Edit {to}: the block's name, size, height and cold spot, then your other "
        f"blocks. Check the mail server under [email] ({host} is a guess), and put its "
        "password on the first line of the file smtp-password beside it.",
        f"2. frostalert doctor, then: frostalert test-message {person}",
        "3. frostalert past --springs 3 says how often it would have called you, and "
        "how often rightly (some minutes; old readings of your own: [past] csv).",
        "4. frostalert run, or set it up for good by deploy/README.md. Look at your "
        "buds every week, then: frostalert stage BLOCK STAGE",
    )
    return "\n".join(["", "Next:", *steps])
