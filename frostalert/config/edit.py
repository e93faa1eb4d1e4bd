"""Edits of the configuration file that keep its comments and its order."""

import os
from datetime import date
from difflib import get_close_matches
from pathlib import Path
from tempfile import NamedTemporaryFile

import tomlkit
from tomlkit.exceptions import TOMLKitError

from frostalert.config.load import parse_settings
from frostalert.errors import ConfigFileError, UnknownNameError
from frostalert.model.site import Block


class UnknownBlockError(UnknownNameError):
    """No block of that name in the configuration."""

    kind = "block"


def find_block(blocks: tuple[Block, ...], name: str) -> Block:
    """Return a block by name; upper and lower case are alike.

    Raises
    ------
    UnknownBlockError
        If there is no such block.
    """
    by_lower = {block.name.lower(): block for block in blocks}
    wanted = name.strip().lower()
    if wanted in by_lower:
        return by_lower[wanted]
    near = [by_lower[key].name for key in get_close_matches(wanted, by_lower, n=3)]
    raise UnknownBlockError(name, near, [block.name for block in blocks])


def edit_stage(path: Path, block_name: str, stage: str, seen: date) -> str:
    """Write a block's stage and the date on which it was seen.

    Parameters
    ----------
    path : Path
        The configuration.
    block_name : str
        Name of the block as it stands in the file.
    stage : str
        The stage as the crop's table names it.
    seen : date
        Local date on which it was looked at.

    Returns
    -------
    str
        The stage that stood there before.

    Raises
    ------
    ConfigFileError
        If the file cannot be read or written.
    ConfigValueError
        If the file would not be valid afterwards; it is then left as it was.
    """
    try:
        document = tomlkit.parse(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, TOMLKitError) as error:
        raise ConfigFileError(str(path), f"cannot be read: {error}") from error
    block = next(
        table for table in document["blocks"] if str(table["name"]) == block_name
    )
    before = str(block.get("stage", ""))
    block["stage"] = stage
    block["stage_seen"] = seen
    text = tomlkit.dumps(document)
    parse_settings(text, path, needs_secrets=False)
    _replace(path, text)
    return before


def _replace(path: Path, text: str) -> None:
    """Write a file so that a crash leaves either the old or the new one."""
    target = path.resolve()
    try:
        with NamedTemporaryFile(
            "w", encoding="utf-8", dir=target.parent, delete=False
        ) as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        fresh, before = Path(file.name), target.stat()
        # The service must still be able to read it after root wrote it.
        if (fresh.stat().st_uid, fresh.stat().st_gid) != (before.st_uid, before.st_gid):
            os.chown(fresh, before.st_uid, before.st_gid)
        fresh.chmod(before.st_mode & 0o777)
        fresh.replace(target)
    except OSError as error:
        raise ConfigFileError(str(path), f"cannot be written: {error}") from error
