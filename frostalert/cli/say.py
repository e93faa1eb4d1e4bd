"""Print what a command has to say, in lines that fit a terminal of 80 columns."""

import json
from textwrap import wrap

import typer

_COLUMNS = 76


def say_json(**content: object) -> None:
    """Print a document with its format's number first."""
    document = {"format": 1, **content}
    typer.echo(json.dumps(document, indent=2, allow_nan=False, default=str))


def say(text: str, *, is_aside: bool = False) -> None:
    """Print a text with its long lines broken; what indents a line indents its rest.

    What is said aside goes to the error stream, where the output is a file.
    """
    typer.echo(wrap_plain(text), nl=False, err=is_aside)


def counted(count: int, one: str, more: str = "") -> str:
    """Return a number with its noun: "1 block", "2 blocks"."""
    return f"{count} {one if count == 1 else more or one + 's'}"


def wrap_plain(text: str) -> str:
    """Return a text with its long lines broken, and an end of line."""
    return "\n".join(_wrapped(line) for line in text.split("\n")) + "\n"


def _wrapped(line: str) -> str:
    """Return a line broken where it is too long."""
    text = line.lstrip(" ")
    indent = " " * (len(line) - len(text))
    hang = indent + ("  " if text.startswith(("- ", "* ")) else "")
    return "\n".join(
        wrap(
            text,
            _COLUMNS,
            initial_indent=indent,
            subsequent_indent=hang,
            break_long_words=False,
            break_on_hyphens=False,
        )
    )
