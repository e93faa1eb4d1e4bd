"""`frostalert test-message`: prove that a person can be reached."""

from typing import Annotated

import typer

from frostalert.app import build_parts
from frostalert.cli import completions
from frostalert.cli.options import ConfigOption, find_config
from frostalert.cli.say import say
from frostalert.clock import SystemClock
from frostalert.config.load import load_settings
from frostalert.errors import DeliveryError
from frostalert.messages.compose_service import compose_test


def trial_message(
    person: Annotated[
        str,
        typer.Argument(help="Name of the person.", autocompletion=completions.people),
    ],
    config: ConfigOption = None,
) -> None:
    """Send a test on every channel of one person; its first word is TEST."""
    clock = SystemClock()
    settings = load_settings(find_config(config))
    parts = build_parts(settings)
    failed = 0
    for message in compose_test(settings.farm, person, clock.now_utc()):
        try:
            receipt = parts.notifiers[message.channel].send(message, is_repeat=False)
        except DeliveryError as error:
            failed += 1
            say(f"{message.channel} to {message.address}: NOT sent: {error}")
        else:
            say(
                f"{message.channel} to {message.address}: accepted by the server "
                f"({receipt.provider_id}). Check that it arrives."
            )
    if failed:
        raise typer.Exit(1)
