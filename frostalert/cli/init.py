"""`frostalert init`: a first configuration from four answers."""

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from frostalert.cli.options import ForecastOption

if TYPE_CHECKING:
    from frostalert.config.example import Starter
    from frostalert.model.settings import Settings

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
) -> None:
    """Write a commented configuration, check it, look at tonight, say what is next.

    What is not given is asked for.
    """
    from frostalert.config.example import starter_text
    from frostalert.config.load import parse_settings
    from frostalert.errors import UsageError
    from frostalert.pipeline.render import wrap_plain

    if to.exists():
        message = f"{to} is there already; name another with --to, or move it away"
        raise UsageError(message)
    starter = _starter(
        name,
        place or typer.prompt('Where? Latitude, longitude, such as "46.2205, -119.24"'),
        elevation or typer.prompt('How high above the sea? Such as "410 ft"'),
        crop or typer.prompt('First crop and its stage? Such as "apricot, dormant"'),
        email or typer.prompt("Which email address shall be warned?"),
        time_zone,
    )
    text = starter_text(starter)
    settings = parse_settings(text, to, needs_secrets=False)
    try:
        to.write_text(text, encoding="utf-8")
    except OSError as error:
        message = f"{to} cannot be written: {error.strerror}"
        raise UsageError(message) from error
    typer.echo(f"Written and checked: {to}. Asking for tonight's forecast ...\n")
    _look_at_tonight(settings, forecast)
    typer.echo(wrap_plain(_next_steps(to, settings)), nl=False)


def _starter(
    name: str,
    place: str,
    elevation: str,
    crop: str,
    email: str,
    time_zone: str | None,
) -> "Starter":
    """Return the answers, checked as far as each can be by itself."""
    from zoneinfo import ZoneInfo

    from frostalert.agronomy.crops import find_crop, find_stage
    from frostalert.clock import SystemClock
    from frostalert.config.example import Starter
    from frostalert.errors import QuantityError, UsageError
    from frostalert.model.site import DORMANT, HARVESTED
    from frostalert.physics.units import parse_quantity

    latitude, longitude = _place(place)
    kind, _, stage = (part.strip() for part in crop.partition(","))
    found = find_crop(kind, {})
    try:
        parse_quantity(elevation, "length")
    except QuantityError as error:
        message = f"elevation: {error}"
        raise UsageError(message) from error
    zone = time_zone or _machine_zone()
    is_usa = any(
        south <= latitude <= north and west <= longitude <= east
        for south, north, west, east in _USA
    )
    today = SystemClock().now_utc().astimezone(ZoneInfo(zone)).date()
    return Starter(
        name=name,
        latitude=latitude,
        longitude=longitude,
        elevation=elevation.strip(),
        time_zone=zone,
        units="us" if is_usa else "metric",
        crop=found.name,
        stage=find_stage(found, stage or DORMANT, (DORMANT, HARVESTED)),
        stage_seen=today,
        email=email.strip(),
        sources=("nws", "met-norway") if is_usa else ("met-norway",),
    )


def _place(text: str) -> tuple[float, float]:
    """Return latitude and longitude."""
    from frostalert.errors import UsageError

    match = _PLACE.match(text)
    if match is None:
        message = f'"{text}" is no place; write it like "46.2205, -119.2412"'
        raise UsageError(message)
    return float(match[1]), float(match[2])


def _machine_zone() -> str:
    """Return this machine's time zone by name."""
    from tzlocal import get_localzone_name

    from frostalert.errors import UsageError

    zone = get_localzone_name()
    if not zone or "/" not in zone:
        message = (
            f'this machine says "{zone}" for its time zone, which is no place; add '
            '--time-zone "America/New_York", or yours'
        )
        raise UsageError(message)
    return str(zone)


def _look_at_tonight(settings: "Settings", forecast: Path | None) -> None:
    """Print tonight by the forecast, or why there is none."""
    from frostalert.cli.options import open_forecast
    from frostalert.cli.tables import open_console, print_assessment
    from frostalert.decision.assess import assess
    from frostalert.decision.remarks import forecast_remarks
    from frostalert.errors import ForecastError

    try:
        run, moment = open_forecast(settings, forecast, None)
    except ForecastError as error:
        typer.echo(f"No forecast could be had just now: {error}")
        return
    holding = settings.holding
    assessment = assess(holding, run, moment)
    notes = forecast_remarks(holding.site, run, moment)
    print_assessment(open_console(), assessment, holding, notes)


def _next_steps(to: Path, settings: "Settings") -> str:
    """Return the next three steps."""
    person = settings.holding.people[0].name
    host = settings.email.host if settings.email else ""
    steps = (
        f"1. Edit {to}: the block's name, size, height and cold spot, then your other "
        f"blocks. Check the mail server under [email] ({host} is a guess), and put its "
        "password on the first line of the file smtp-password beside it.",
        f"2. frostalert doctor, then: frostalert test-message {person}",
        "3. frostalert run, or set it up for good by deploy/install.md. Look at your "
        "buds every week, then: frostalert stage BLOCK STAGE",
    )
    return "\n".join(["", "Next:", *steps])
