"""Print what a command has to say, in lines that fit a terminal of 80 columns."""

import typer


def say(text: str) -> None:
    """Print a text with its long lines broken; what indents a line indents its rest."""
    from frostalert.pipeline.render import wrap_plain

    typer.echo(wrap_plain(text), nl=False)
