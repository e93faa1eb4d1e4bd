"""`frostalert demo`: the whole cycle offline, on an invented holding and forecast."""

from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import typer
from rich.console import Console
from rich.text import Text

from frostalert.cli.tables import open_console, print_assessment
from frostalert.clock import FixedClock
from frostalert.config.example import example_text
from frostalert.config.load import parse_settings
from frostalert.cycle.cycle import run_cycle
from frostalert.cycle.deliver import deliver_due
from frostalert.forecast.file_source import FileSource
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message, Receipt
from frostalert.ports import Notifier
from frostalert.store.open import open_store

DEMO_NOW = datetime.fromisoformat("2026-04-12T14:45:00-07:00")
_RULE = "-" * 78


class PrintingNotifier:
    """A channel that prints what it would send."""

    def __init__(self, kind: ChannelKind, console: Console) -> None:
        self.kind = kind
        self._console = console

    def send(self, message: Message, *, is_repeat: bool) -> Receipt:
        """Print a message."""
        del is_repeat
        lines = [f"To {message.person} by {message.channel} ({message.address})"]
        if message.subject:
            lines.append(f"Subject: {message.subject}")
        lines += [_RULE, message.text.rstrip()]
        if not message.subject:
            lines.append(f"[{len(message.text)} characters]")
        self._console.print(Text("\n".join(lines)), soft_wrap=True)
        self._console.print()
        return Receipt(provider_id=None, is_confirmed=False)


def demo() -> None:
    """Show one frost warning, from forecast to phone: offline, sending nothing."""
    console = open_console()
    console.print("Everything here is invented: the place, the people, the forecast.\n")
    farm = parse_settings(
        example_text(), Path("example.toml"), needs_secrets=False
    ).farm
    now = DEMO_NOW.astimezone(UTC)
    with TemporaryDirectory(prefix="frostalert-demo-") as folder:
        store = open_store(Path(folder))
        source = FileSource(Path(__file__).parent / "demo_data" / "grid.json")
        result = run_cycle(farm, [source], store, now)
        print_assessment(console, result.assessment, farm, [])
        console.print()
        channels: dict[ChannelKind, Notifier] = {
            kind: PrintingNotifier(kind, console) for kind in ChannelKind
        }
        delivered = deliver_due(store, channels, FixedClock(now))
        store.database.close()
    console.print(f"{delivered.sent} messages would have been sent by now.")
    for person in farm.people:
        if person.turn > 1:
            console.print(f"{person.name} would be called if nobody answered.")
    console.print(
        "Next: frostalert init asks four questions and writes your own configuration."
    )
    if delivered.sent == 0:
        raise typer.Exit(1)
