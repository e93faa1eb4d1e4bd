"""Edits of the configuration file that keep its comments and its order."""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from pathlib import Path
from tempfile import NamedTemporaryFile

import tomlkit
from tomlkit.exceptions import TOMLKitError

from frostalert.config.load import parse_settings
from frostalert.errors import ConfigFileError, UnknownNameError, reason_of
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


@dataclass(frozen=True, slots=True, kw_only=True)
class StageEdit:
    """A stage to be written, with the date on which it was seen."""

    block: str
    stage: str
    seen: date


def edit_stages(path: Path, edits: Sequence[StageEdit]) -> dict[str, str]:
    """Write blocks' stages and when they were seen, all at once.

    Parameters
    ----------
    path : Path
        The configuration.
    edits : sequence of StageEdit
        Blocks by name as they stand in the file, stages as the crop's table names them.

    Returns
    -------
    dict
        The stages that stood there before, by block.

    Raises
    ------
    ConfigFileError
        If the file cannot be read or written.
    ConfigValueError
        If the file would not be valid afterwards; it is then left as it was.
    """
    try:
        # Read as it is: another system's ends of lines stay.
        document = tomlkit.parse(path.read_bytes().decode("utf-8"))
    except (OSError, UnicodeDecodeError, TOMLKitError) as error:
        problem = f"cannot be read: {reason_of(error)}"
        raise ConfigFileError(str(path), problem) from error
    tables = {str(table["name"]): table for table in document["blocks"]}
    before = {}
    for edit in edits:
        block = tables[edit.block]
        before[edit.block] = str(block.get("stage", ""))
        block["stage"] = edit.stage
        block["stage_seen"] = edit.seen
    text = tomlkit.dumps(document)
    parse_settings(text, path, needs_secrets=False)
    _replace(path, text)
    return before


def _replace(path: Path, text: str) -> None:
    """Write a file so that a crash leaves either the old or the new one."""
    target = path.resolve()
    try:
        with NamedTemporaryFile("wb", dir=target.parent, delete=False) as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        fresh, before = Path(file.name), target.stat()
        # The service must still be able to read it after root wrote it.
        if (fresh.stat().st_uid, fresh.stat().st_gid) != (before.st_uid, before.st_gid):
            os.chown(fresh, before.st_uid, before.st_gid)
        fresh.chmod(before.st_mode & 0o777)
        fresh.replace(target)
    except OSError as error:
        problem = f"cannot be written in {target.parent}: {reason_of(error)}"
        raise ConfigFileError(str(path), problem) from error
