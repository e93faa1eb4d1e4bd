"""`frostalert demo`: the whole cycle offline, on an invented holding and forecast."""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory, mkdtemp
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from frostalert.cli.night_answer import NightAnswer, night_answer
from frostalert.cli.say import say
from frostalert.cli.tables import open_console, print_assessment
from frostalert.clock import FixedClock
from frostalert.config.example import example_text
from frostalert.config.load import parse_settings
from frostalert.cycle.cycle import run_cycle
from frostalert.cycle.deliver import deliver_due
from frostalert.forecast.file_source import FileSource
from frostalert.messages.wording import Wording
from frostalert.model.assessment import Assessment
from frostalert.model.channel import CHANNELS, ChannelKind, Form
from frostalert.model.notice import Message, Receipt
from frostalert.model.site import Farm
from frostalert.ports import Notifier
from frostalert.report.night_picture import NightPlotter
from frostalert.store.open import open_store

DEMO_NOW = datetime.fromisoformat("2026-04-12T14:45:00-07:00")
_RULE = "-" * 78
_LAST_SHOWN = "BLOCKS"
"""Heading of the last part of the mail that the short story shows."""
_PAGE = "mail.html"
_FORECAST = Path(__file__).parent / "demo_data" / "grid.json"


class KeepingNotifier:
    """A channel that keeps what it would send."""

    def __init__(self, kind: ChannelKind, kept: list[Message]) -> None:
        self.kind = kind
        self._kept = kept

    def send(self, message: Message, *, is_repeat: bool) -> Receipt:
        """Keep a message."""
        del is_repeat
        self._kept.append(message)
        return Receipt(provider_id=None, is_confirmed=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Played:
    """What the cycle came to."""

    farm: Farm
    assessment: Assessment
    answers: dict[date, NightAnswer]
    sent: tuple[Message, ...]


def demo(
    *,
    is_full: Annotated[
        bool,
        typer.Option("--full", help="Show the table, and every message to its end."),
    ] = False,
) -> None:
    """Show one frost warning, from forecast to phone: offline, sending nothing."""
    console = open_console()
    console.print("Everything here is invented: the place, the people, the forecast.\n")
    played = _play()
    if is_full:
        print_assessment(
            console, played.assessment, played.farm, [], answers=played.answers
        )
        console.print()
        for message in played.sent:
            _print_whole(console, message)
    else:
        _tell(console, played)
    say(f"{len(played.sent)} messages would have been sent by now.")
    for person in played.farm.people:
        if person.turn > 1:
            say(f"{person.name} would be called if nobody answered.")
    if (place := _lay_out(played.sent)) is not None:
        say(f"The mail with its picture, and the forecast behind it: {place}")
    if not is_full:
        say("All of it, with the table of blocks and nights: frostalert demo --full")
    say("Next: frostalert init asks you, and writes your own configuration.")
    if not played.sent:
        raise typer.Exit(1)


def _play() -> _Played:
    """Run one cycle on the invented holding, and keep what it would send."""
    text, path = example_text(), Path("example.toml")
    farm = parse_settings(text, path, needs_secrets=False).farm
    # Whoever gets the mail has the night's first job: its hour is the mail's subject.
    supplies = replace(farm.supplies, crew=farm.supplies.crew[::-1])
    farm = replace(farm, supplies=supplies)
    now = DEMO_NOW.astimezone(UTC)
    kept: list[Message] = []
    channels: dict[ChannelKind, Notifier] = {
        kind: KeepingNotifier(kind, kept) for kind in ChannelKind
    }
    with TemporaryDirectory(prefix="frostalert-demo-") as folder:
        store = open_store(Path(folder))
        source = FileSource(_FORECAST)
        result = run_cycle(farm, [source], store, now, plotter=NightPlotter())
        deliver_due(store, channels, FixedClock(now))
        store.database.close()
    decided = result.decided
    answers = {
        night.night: night_answer(result.nights, night, plan, None, now)
        for night in decided.meant
        if (plan := decided.plans.of(night.night)) is not None
    }
    return _Played(
        farm=farm,
        assessment=result.assessment,
        answers=answers,
        sent=tuple(kept),
    )


def _tell(console: Console, played: _Played) -> None:
    """Print the short story: the text, then the mail's head, its jobs and blocks."""
    now = DEMO_NOW.astimezone(UTC)
    wording = Wording(played.farm.site, now)
    say(f"{wording.moment(now)}: the forecast has come, and this goes out.\n")
    texts = [message for message in played.sent if not _is_mail(message)]
    mails = [message for message in played.sent if _is_mail(message)]
    for message in texts[:1]:
        _print_whole(console, message)
    for message in mails[:1]:
        parts = message.text.rstrip().split("\n\n")
        last = next(
            (n for n, part in enumerate(parts) if part.startswith(_LAST_SHOWN)),
            len(parts) - 1,
        )
        shown = "\n\n".join(parts[: last + 1])
        _print(console, "\n".join([*_envelope(message), shown, "..."]))


def _print_whole(console: Console, message: Message) -> None:
    """Print a message to its end."""
    lines = [*_envelope(message), message.text.rstrip()]
    if not _is_mail(message):
        lines.append(f"[{len(message.text)} characters]")
    _print(console, "\n".join(lines))


def _envelope(message: Message) -> list[str]:
    """Return to whom a message goes, and what it is about."""
    to = f"To {message.person} by {message.channel} ({message.address})"
    return [to, *([f"Subject: {message.subject}"] if message.subject else []), _RULE]


def _print(console: Console, text: str) -> None:
    """Print a message as it is: whoever shows it breaks its lines."""
    console.print(Text(text), soft_wrap=True)
    console.print()


def _is_mail(message: Message) -> bool:
    """Return whether a message is a mail."""
    return any(
        row.kind is message.channel and row.form is Form.MAIL for row in CHANNELS
    )


def _lay_out(sent: tuple[Message, ...]) -> Path | None:
    """Write the mail and what goes with it into a folder; return the mail's file."""
    mail = next((message for message in sent if message.html), None)
    if mail is None or mail.html is None:
        return None
    html = mail.html
    try:
        folder = Path(mkdtemp(prefix="frostalert-demo-"))
        for item in mail.attachments:
            (folder / item.name).write_bytes(item.content)
            if item.cid is not None:
                html = html.replace(f"cid:{item.cid}", item.name)
        (folder / _PAGE).write_text(html, encoding="utf-8")
        # For a rehearsal of one's own: frostalert once --forecast.
        (folder / "forecast.json").write_bytes(_FORECAST.read_bytes())
    except OSError:
        return None
    return folder / _PAGE
