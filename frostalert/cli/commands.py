"""The commands by name: what stands in a row is shown, and imported when it is called.

Help, completion of names and the answer to a mistyped name need the rows alone.
"""

import importlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

# Plain help: the library for coloured boxes takes as long to load as all else.
PLAIN: Mapping[str, Any] = {"pretty_exceptions_enable": False, "rich_markup_mode": None}


@dataclass(frozen=True, slots=True)
class Command:
    """A command before it is imported.

    Attributes
    ----------
    place : str
        Module of this package and what it is there, "module:function" or "module:app".
    line : str
        What the list of commands says of it.
    settings : mapping of str to object
        How its arguments are read.
    """

    name: str
    place: str
    line: str
    settings: Mapping[str, Any] = field(default_factory=dict)

    def load(self) -> Any:
        """Import the command, and return it ready to be called."""
        module, _, name = self.place.partition(":")
        found = getattr(importlib.import_module(f"frostalert.cli.{module}"), name)
        if not isinstance(found, typer.Typer):
            app = typer.Typer(add_completion=False, **PLAIN)
            settings = dict(self.settings)
            app.command(self.name, context_settings=settings)(found)
            found = app
        return typer.main.get_command(found)


COMMANDS = (
    Command("init", "init:init", "Write a first configuration."),
    Command("doctor", "doctor:doctor", "Look for what is wrong; send nothing."),
    Command("tonight", "tonight:tonight", "Assess and print; send nothing."),
    Command("plan", "plan:plan", "Say what to do with what is there."),
    Command("buds", "buds:buds", "Say what a bud count means."),
    Command("trial", "buds:trial", "Say whether a method saved buds."),
    Command("past", "past:past", "Say how often past springs would have called."),
    Command("season", "season:season", "Say what became of each night."),
    Command("replay", "replay:replay", "Decide over stored forecasts again."),
    Command(
        "reading",
        "reading:reading",
        "Tell what a thermometer reads.",
        # "-2.5 degC" is a reading and no option.
        settings={"ignore_unknown_options": True},
    ),
    Command("once", "once:once", "Run one cycle and send what is new."),
    Command("run", "run:run", "Run the unattended service."),
    Command("demo", "demo:demo", "Show one warning, offline."),
    Command("explain", "explain:explain", "Show every step of one block."),
    Command("stage", "stage:stage", "Write down a stage that was seen."),
    Command("crops", "crops:crops", "List crops, stages and sources."),
    Command(
        "test-message",
        "trial_message:trial_message",
        "Prove that a person can be reached.",
    ),
    Command("ack", "ack:ack", "Answer the warnings that are open."),
    Command("health", "health:health", "Say whether the service can be relied on."),
    Command("web", "web:web", "Serve the page to answer on."),
    Command("config", "config:app", "Check the configuration, or print an example."),
)
_BY_NAME = {command.name: command for command in COMMANDS}


class LazyGroup(TyperGroup):
    """The commands' rows, of which the one that is called is imported."""

    def __init__(self, **attributes: Any) -> None:
        super().__init__(**attributes)
        self.commands = {
            row.name: TyperCommand(row.name, short_help=row.line, rich_markup_mode=None)
            for row in COMMANDS
        }

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Return the name, the command that it calls, and the other arguments."""
        name, _, rest = super().resolve_command(ctx, args)
        return name, _BY_NAME[name].load() if name else None, rest
