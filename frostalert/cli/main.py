"""Start of the commands, and the exit codes that they share."""

import sys
from io import TextIOWrapper
from textwrap import wrap

import typer

from frostalert import __version__
from frostalert.cli.commands import PLAIN, LazyGroup
from frostalert.errors import (
    ConfigError,
    ForecastError,
    ForecastUnavailableError,
    FrostalertError,
    StoreBusyError,
    UnknownNameError,
    UsageError,
    reason_of,
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
    cls=LazyGroup,
    **PLAIN,
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
    except OSError as error:
        # Nobody foresaw it. One about a file is the machine's, not the program's.
        if error.filename is None:
            raise
        words = f"frostalert: {error.filename} cannot be used: {reason_of(error)}"
        typer.echo(_wrapped(words), err=True)
        sys.exit(EXIT_FAILED)


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
