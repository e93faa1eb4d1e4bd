"""What the program keeps of earlier results, found wherever it is used."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from types import ModuleType
from typing import Any

_KEEPER = type(lru_cache(len))


def keepers() -> list[tuple[ModuleType, str, Any]]:
    """Return every function that keeps a limited number of results, where it is used.

    Those without a limit keep what the program's own files hold: templates, crops.
    """
    return [
        (module, name, value)
        for module in list(sys.modules.values())
        if module.__name__.startswith("frostalert")
        for name, value in list(vars(module).items())
        if isinstance(value, _KEEPER)
        and value.cache_parameters()["maxsize"] is not None
    ]


@contextmanager
def nothing_kept() -> Iterator[None]:
    """Keep nothing of what was worked out before for within, nor from within for after.

    For whoever changes a part of the program for a while: what was kept is the work of
    the parts as they were.
    """
    _forget()
    try:
        yield
    finally:
        _forget()


@contextmanager
def never_kept(but: str = "frostalert.physics") -> Iterator[None]:
    """Keep nothing at all for a while: everything is worked out anew each time.

    Save what the rooms of that name keep: formulas of plain numbers.
    """
    kept = [
        (module, name, value)
        for module, name, value in keepers()
        if not value.__module__.startswith(but)
    ]
    for module, name, value in kept:
        setattr(module, name, value.__wrapped__)
    try:
        yield
    finally:
        for module, name, value in kept:
            setattr(module, name, value)


def _forget() -> None:
    """Drop all that is kept."""
    for _, _, keeper in keepers():
        keeper.cache_clear()
