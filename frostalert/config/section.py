"""What all tables of the configuration share."""

import re
from collections.abc import Iterable
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict

from frostalert.agronomy.methods import METHODS

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})


class Section(BaseModel):
    """A table of the file: unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=False)


def checked_name(value: str) -> str:
    """Refuse a name with characters that cannot be seen, or with spaces around it."""
    if not value.isprintable():
        message = "a name must be one line of characters that can be seen"
        raise ValueError(message)
    return value.strip()


Name = Annotated[str, AfterValidator(checked_name)]


def refuse_unknown_methods(names: Iterable[str]) -> None:
    """Refuse a method that is not in the list."""
    for name in names:
        if name not in METHODS:
            valid = ", ".join(f'"{known}"' for known in METHODS)
            message = f'unknown method "{name}"; write one of {valid}'
            raise ValueError(message)


def checked_https(value: str) -> str:
    """Refuse a plain connection to another machine."""
    host = re.match(r"^(https?)://(\[[^\]]+\]|[^/:]+)", value)
    if host is None:
        message = f'"{value}" is not an address that begins with https://'
        raise ValueError(message)
    if host[1] == "http" and host[2].strip("[]") not in LOOPBACK:
        message = "only a server on this machine may be reached without https"
        raise ValueError(message)
    return value
