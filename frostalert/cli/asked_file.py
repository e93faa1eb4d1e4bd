"""Write a file that an option asked for, or give it to standard output.

The installed command runs as the service's own user, who may not write where its caller
may: with "-" the caller's shell writes the file, with the caller's rights.
"""

from pathlib import Path

import typer

from frostalert.errors import UsageError

_STANDARD_OUTPUT = Path("-")


def goes_to_output(place: Path | None) -> bool:
    """Return whether standard output is for the file, and so for nothing else."""
    return place == _STANDARD_OUTPUT


def refuse_beside(option: str, place: Path | None, **others: object) -> None:
    """Refuse what would be printed into the middle of a file.

    Raises
    ------
    UsageError
        If the file goes to standard output and another option wants that too.
    """
    wanted = [f"--{name.replace('_', '-')}" for name, given in others.items() if given]
    if goes_to_output(place) and wanted:
        message = f"{option} - prints that file alone: leave {' and '.join(wanted)} out"
        raise UsageError(message)


def write_asked(option: str, place: Path, content: bytes) -> None:
    """Write the file.

    Raises
    ------
    UsageError
        If it cannot be written.
    """
    if goes_to_output(place):
        typer.echo(content, nl=False)
        return
    try:
        place.write_bytes(content)
    except OSError as error:
        message = (
            f"{option} {place}: cannot be written: {error.strerror}; where you may "
            f"write and the program may not, take: {option} - > {place}"
        )
        raise UsageError(message) from error
