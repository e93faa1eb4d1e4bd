"""What the commands print: the demo, and every document in JSON."""

import json
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from pathlib import Path
from typing import Any
from unittest.mock import patch
from urllib.parse import parse_qsl

import frostalert
from frostalert.config.schema import ConfigFile
from tests.adapters.test_nws import Office
from tests.golden.house import CONFIG, ZONE, House, april, command, empty_folder
from tests.golden.planting import (
    APRICOTS,
    CHERRIES,
    COVERS,
    HEATERS,
    INES,
    LINE,
    PEOPLE,
    SENSORS,
    STRAWBERRIES,
    planting,
)
from tests.golden.record import digest, messages_of
from tests.golden.weather import Weather
from tests.support.servers import (
    HttpServer,
    MailBox,
    Reply,
    Seen,
    http_server,
    smtp_server,
)

_READINGS, _HEAD = Path("readings.csv"), "time,sensor,value\n"
_THERE_C = {"Post": 0.0, "Low end": -1.0, "Open bed": -0.5, "Under the covers": 2.0}
"""How much warmer each thermometer reads than the post. [degC]"""
_MORNING, _EVENING = 9, 19
_NOW = "2026-04-12T14:45"
_GRID = Path(frostalert.__file__).parent / "cli" / "demo_data" / "grid.json"
_DEMO_UTC = datetime(2026, 4, 12, 21, 45, tzinfo=UTC)
_PLACE = re.compile(r"\n?\S+/mail\.html")
"""Where the mail lies: a new folder each time."""
_HEADERS = ("Subject", "From", "To", "Auto-Submitted", "In-Reply-To", "References")
_OF_THE_MACHINE = ("disk", "unit", "time zone")
"""Findings of the doctor about the machine that it runs on."""
Files = dict[str, str]


def demo() -> Files:
    """The demo's short story, and the whole of it."""
    with empty_folder(), patch.object(tempfile, "tempdir", str(Path.cwd())):
        return {
            name: _PLACE.sub(
                "FOLDER/mail.html", command("demo", *more, at_utc=_DEMO_UTC)
            )
            for name, more in (("output.txt", ()), ("full.txt", ("--full",)))
        }


def on_a_file() -> Files:
    """The example's planting on the demo's forecast, without any state."""
    with empty_folder():
        CONFIG.write_text(command("config", "example", at_utc=_DEMO_UTC))
        Path("grid.json").write_bytes(_GRID.read_bytes())

        def ask(*words: str) -> str:
            given = ["--config", str(CONFIG)]
            if words[0] in ("tonight", "plan", "explain"):
                given += ["--forecast", "grid.json", "--now", _NOW]
            return command(*words, *given, at_utc=_DEMO_UTC)

        plan = ("plan", "--what-if", "hands=1, tank=800 gal")
        blocks = ("Apricots by the lane", "Sweet cherries", "Strawberry beds")
        explained = {
            f"explain-{block.split()[0].lower()}.json": ask("explain", block, "--json")
            for block in blocks
        }
        return explained | {
            "tonight.txt": ask("tonight"),
            "tonight.json": ask("tonight", "--json"),
            "plan.txt": ask(*plan),
            "plan.json": ask(*plan, "--json"),
            "plan.ics": _calendar(ask),
            "explain.txt": ask("explain", "Concord arbour"),
            "crops.txt": f"{digest(ask('crops', '--json'))}\n",
            "apricot.json": ask("crops", "apricot", "--json"),
            "trial.json": _trial(),
        }


def _calendar(ask: Callable[..., str]) -> str:
    """The calendar file of a plan."""
    ask("plan", "--calendar", "plan.ics")
    return Path("plan.ics").read_text().replace("\r\n", "\n")


def _trial() -> str:
    """What a trial of a method showed."""
    counts = {"treated-dead": 12, "treated-of": 100, "alone-dead": 31, "alone-of": 100}
    given = [word for name, n in counts.items() for word in (f"--{name}", str(n))]
    return command("trial", *given, "--json", at_utc=_DEMO_UTC)


def on_a_state() -> Files:
    """Some nights with thermometers, then everything that looks at what is kept."""
    with _served() as (services, server, mail):
        config = planting(
            *(APRICOTS, STRAWBERRIES, COVERS, INES, SENSORS),
            smtp_port=mail,
            sms_url=server.url,
            nws_url=server.url,
        )
        lows = {12: -2.0, 13: 1.5, 14: -2.0, 15: 0.5, 16: -2.5}
        _READINGS.write_text(_HEAD)
        house = House(config, april("11 12:00"), weather=Weather(lows, high_c=19.0))
        _nights_with_thermometers(house, april("15 21:00"))
        services.grid = Reply(200, house.weather.grid_at(house.now_utc))
        told = messages_of(house, since_utc=april("15 07:00"))
        files = _asked(house) | {"messages.txt": told}
        house.close()
        return files | {"health-stopped.json": house.command("health", "--json")}


def _nights_with_thermometers(house: House, end_utc: datetime) -> None:
    """Let days pass; the post reads colder than forecast, and covers are laid."""
    while house.now_utc < end_utc:
        local = house.now_utc.astimezone(ZONE)
        is_night = not _MORNING <= local.hour < _EVENING
        if is_night and local.minute == 0:
            with _READINGS.open("a") as file:
                file.writelines(_rows(house, house.now_utc - timedelta(minutes=30)))
                file.writelines(_rows(house, house.now_utc))
        if (local.hour, local.minute) == (_EVENING, 0):
            house.command("ack", "--by", "Ines")
        house.pass_time(minutes=30)


def _rows(house: House, moment: datetime) -> list[str]:
    """What each thermometer read at a moment."""
    local, air = moment.astimezone(ZONE), house.weather.air_c(moment) - 1.8
    return [f"{local.isoformat()},{n},{air + c:.1f}\n" for n, c in _THERE_C.items()]


def _asked(house: House) -> Files:
    """What the commands beside a running service print."""
    span = ("--from", "2026-04-11", "--to", "2026-04-14")
    count = ("--dead", "34", "--of", "120", "--night", "2026-04-13")
    tonight = house.command("tonight", "--json")
    return {
        "reading.txt": house.command("reading", "Post", "44 degF"),
        "buds.json": house.command("buds", "Apricots by the lane", *count, "--json"),
        "tonight.json": tonight,
        "tonight.txt": house.command("tonight"),
        "plan.json": house.command("plan", "--json"),
        "explain.json": house.command("explain", "Apricots by the lane", "--json"),
        "health.json": house.command("health", "--json"),
        "season.json": house.command("season", *span, "--json"),
        "season.txt": house.command("season", *span),
        "replay.json": house.command("replay", *span, "--json"),
        "doctor.json": _of_the_service(house.command("doctor", "--json")),
        **_pages(),
    }


def _pages() -> Files:
    """The status page, as the service wrote it last."""
    page = Path("status/index.html").read_text()
    return {
        "status.json": Path("status/status.json").read_text(),
        "metrics.txt": Path("status/metrics.txt").read_text(),
        "page.html": page,
    }


def _of_the_service(document: str) -> str:
    """What the doctor found, without what is so on this machine alone."""
    head, _, end = document.rpartition("}")
    content = json.loads(head + "}")
    content["findings"] = [
        item for item in content["findings"] if item["what"] not in _OF_THE_MACHINE
    ]
    return json.dumps(content, indent=2) + end


def sent_by_commands() -> Files:
    """A test message, and a rehearsal of a frost night, through a mail server."""
    box = MailBox()
    with _served(box) as (_, server, mail):
        CONFIG.write_text(
            planting(
                *(APRICOTS, CHERRIES, STRAWBERRIES, LINE, HEATERS, COVERS, PEOPLE),
                smtp_port=mail,
                sms_url=server.url,
            )
        )
        moment = april("12 16:10")
        Path("grid.json").write_text(Weather({13: -3.0}).grid_at(moment))
        beside = ("--config", str(CONFIG))
        said = command("test-message", "Ines", *beside, at_utc=moment)
        given = ("--forecast", "grid.json", "--now", "2026-04-12T16:10")
        said += command("once", "--fresh", *given, *beside, at_utc=moment)
        texts = [seen.body for seen in server.seen if seen.method == "POST"]
    return {
        # A mail's id is made by chance.
        "output.txt": re.sub(r"<[^>\s]+@[^>\s]+>", "<ID>", said),
        "mails.txt": "\n".join(map(_mail, box.mails)),
        "texts.txt": "\n".join(map(_text, texts)),
    }


def _mail(mail: EmailMessage) -> str:
    """A mail as it arrived, without what is made by chance."""
    heads = [f"{name}: {mail[name]}" for name in _HEADERS if mail[name] is not None]
    plain, rich = mail.get_body(("plain",)), mail.get_body(("html",))
    assert plain is not None
    parts = [
        f"[{part.get_content_type()} {part.get_filename() or ''}]"
        for part in mail.walk()
        if not part.is_multipart()
    ]
    html = "" if rich is None else digest(rich.get_content())
    return "\n".join(["=" * 76, *heads, *parts, f"HTML {html}", plain.get_content()])


def _text(body: str) -> str:
    """A text as its service was given it, one field a line."""
    return "\n".join(f"{name}: {value}" for name, value in parse_qsl(body)) + "\n"


@contextmanager
def _served(box: MailBox | None = None) -> Iterator[tuple[Office, HttpServer, int]]:
    """A weather service, a text service and a mail server, in an empty folder."""
    office = Office()

    def answer(seen: Seen) -> Reply:
        is_text = seen.path.startswith("/messages")
        return Reply(201, '{"id": "SM1"}') if is_text else office(seen)

    with (
        empty_folder(),
        http_server(answer) as server,
        smtp_server(box or MailBox()) as mail,
    ):
        yield office, server, mail.port


def settings() -> Files:
    """What each key of the configuration takes: its kind, default and limits."""
    schema = ConfigFile.model_json_schema()
    sections = {"(file)": schema["properties"]} | {
        name: section.get("properties", {"(one of)": section})
        for name, section in schema["$defs"].items()
    }
    lines = [
        f"{name}.{key}: {json.dumps(_without_words(value), sort_keys=True)}\n"
        for name, keys in sorted(sections.items())
        for key, value in keys.items()
    ]
    return {"keys.txt": "".join(lines)}


def _without_words(value: Any) -> Any:
    """A part of a schema without what is said of it elsewhere."""
    if isinstance(value, dict):
        words = {"description", "title", "examples"}
        return {k: _without_words(v) for k, v in value.items() if k not in words}
    return [_without_words(v) for v in value] if isinstance(value, list) else value


COMMANDS: dict[str, Callable[[], Files]] = {
    "demo": demo,
    "commands-on-a-file": on_a_file,
    "commands-on-a-state": on_a_state,
    "commands-that-send": sent_by_commands,
    "settings": settings,
}
