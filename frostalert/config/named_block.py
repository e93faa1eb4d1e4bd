"""Which block some words begin with: what people type without quotes."""

from collections.abc import Sequence
from difflib import get_close_matches

from frostalert.config.edit import UnknownBlockError
from frostalert.errors import UsageError
from frostalert.model.site import Block


def split_words(
    blocks: Sequence[Block], words: Sequence[str]
) -> tuple[Block, str | None]:
    """Return the block that words begin with, and the rest of them.

    The longest beginning that names a block is the block; a name written out goes
    before the beginning of one. Upper and lower case are alike.

    Raises
    ------
    UnknownBlockError
        If no block is named.
    UsageError
        If several begin so.
    """
    said = " ".join(words).split()
    beginnings = [" ".join(said[:n]).lower() for n in range(len(said), 0, -1)]
    names = {" ".join(block.name.lower().split()): block for block in blocks}
    for whole in beginnings:
        if whole in names:
            return names[whole], _rest(said, whole)
    for part in beginnings:
        found = [block for name, block in names.items() if name.startswith(part)]
        if len(found) > 1:
            listed = " or ".join(f'"{block.name}"' for block in found)
            message = f'"{part}" may be {listed}; write more of the name'
            raise UsageError(message)
        if found:
            return found[0], _rest(said, part)
    near = [
        names[name].name
        for part in beginnings
        for name in get_close_matches(part, names, n=3)
    ]
    whole = " ".join(said)
    raise UnknownBlockError(
        whole, list(dict.fromkeys(near)), [block.name for block in blocks]
    )


def _rest(said: Sequence[str], beginning: str) -> str | None:
    """Return the words that follow a beginning."""
    return " ".join(said[len(beginning.split()) :]) or None
