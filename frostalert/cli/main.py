"""All commands, and the exit codes that they share."""

import sys
from io import TextIOWrapper
from textwrap import wrap

import typer

from frostalert import __version__
from frostalert.cli import (
    ack,
    buds,
    config,
    crops,
    demo,
    doctor,
    explain,
    health,
    init,
    once,
    plan,
    reading,
    replay,
    run,
    season,
    stage,
    tonight,
    trial_message,
    web,
)
from frostalert.errors import (
    ConfigError,
    ForecastError,
    ForecastUnavailableError,
    FrostalertError,
    StoreBusyError,
    UnknownNameError,
    UsageError,
)

EXIT_FAILED = 1
EXIT_USAGE = 64
EXIT_FORECAST = 65
EXIT_UNAVAILABLE = 69
EXIT_BUSY = 75
EXIT_CONFIG = 78
_EXIT_CODES: tuple[tuple[type[FrostalertError], int], ...] = (
    (ConfigError, EXIT_CONFIG),
    (ForecastUnavailableError, EXIT_UNAVAILABLE),
    (ForecastError, EXIT_FORECAST),
    (StoreBusyError, EXIT_BUSY),
    (UsageError, EXIT_USAGE),
    (UnknownNameError, EXIT_USAGE),
    (FrostalertError, EXIT_FAILED),
)

app = typer.Typer(
    name="frostalert",
    help="Watches public forecasts and warns of freezing nights, block by block, in "
    "time to prepare.",
    epilog="Exit codes: 0 done, 1 failed, 2 and 64 wrong use, 65 forecast unusable, "
    "69 forecast not available, 75 try again (running, or messages wait), "
    "78 configuration.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    # Plain help: the library for coloured boxes takes as long to load as all else.
    rich_markup_mode=None,
)


@app.callback(invoke_without_command=True)
def _root(
    *,
    version: bool = typer.Option(False, "--version", help="Show the version."),
) -> None:
    """Answer what belongs to no command."""
    if version:
        typer.echo(f"frostalert {__version__}")
        raise typer.Exit


app.command("init", short_help="Write a first configuration.")(init.init)
app.command("doctor", short_help="Look for what is wrong; send nothing.")(doctor.doctor)
app.command("tonight", short_help="Assess and print; send nothing.")(tonight.tonight)
app.command("plan", short_help="Say what to do with what is there.")(plan.plan)
app.command("buds", short_help="Say what a bud count means.")(buds.buds)
app.command("trial", short_help="Say whether a method saved buds.")(buds.trial)
app.command("season", short_help="Say what became of each night.")(season.season)
app.command("replay", short_help="Decide over stored forecasts again.")(replay.replay)
# "-2.5 degC" is a reading and no option.
app.command(
    "reading",
    short_help="Tell what a thermometer reads.",
    context_settings={"ignore_unknown_options": True},
)(reading.reading)
app.command("once", short_help="Run one cycle and send what is new.")(once.once)
app.command("run", short_help="Run the unattended service.")(run.run)
app.command("demo", short_help="Show one warning, offline.")(demo.demo)
app.command("explain", short_help="Show every step of one block.")(explain.explain)
app.command("stage", short_help="Write down a stage that was seen.")(stage.stage)
app.command("crops", short_help="List crops, stages and sources.")(crops.crops)
app.command("test-message", short_help="Prove that a person can be reached.")(
    trial_message.trial_message
)
app.command("ack", short_help="Answer the warnings that are open.")(ack.ack)
app.command("health", short_help="Say whether the service can be relied on.")(
    health.health
)
app.command("web", short_help="Serve the page to answer on.")(web.web)
app.add_typer(config.app, name="config")


def main() -> None:
    """Run a command; a user's mistake ends with one message and an exit code."""
    # A terminal that cannot show a character shows another, and no traceback.
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        app()
    except FrostalertError as error:
        typer.echo(_wrapped(f"frostalert: {error}"), err=True)
        sys.exit(_exit_code(error))
    except BrokenPipeError:
        # The reader has seen enough, for instance `| head`.
        sys.stderr.close()
        sys.exit(0)


def _wrapped(message: str) -> str:
    """Return a message whose lines fit a terminal of 80 columns."""
    lines: list[str] = []
    for line in message.splitlines():
        text = line.lstrip()
        indent = " " * (len(line) - len(text))
        lines += wrap(
            text,
            79,
            initial_indent=indent,
            subsequent_indent=indent + "  ",
            break_long_words=False,
            break_on_hyphens=False,
        )
    return "\n".join(lines)


def _exit_code(error: FrostalertError) -> int:
    """Return the exit code that an error stands for."""
    return next(code for kind, code in _EXIT_CODES if isinstance(error, kind))
