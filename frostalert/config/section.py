"""What all tables of the configuration share."""

import os
import re
from collections.abc import Iterable
from difflib import get_close_matches
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict

from frostalert.agronomy.methods import METHODS

# We use none, and looking for them goes through every package that is installed.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")

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
            message = f'unknown method "{name}"; {_method_remedy(name)}'
            raise ValueError(message)


def _method_remedy(name: str) -> str:
    """Return the methods that may be meant, or all of them."""
    wanted = " ".join(name.lower().replace("-", " ").replace("_", " ").split())
    plain = {known.replace("-", " "): known for known in METHODS}
    near = get_close_matches(wanted, plain, n=1, cutoff=0.8) or [
        known for known in plain if wanted and set(wanted.split()) <= set(known.split())
    ]
    valid = [f'"{plain[known]}"' for known in near or plain]
    return f"write {' or '.join(valid)}" if near else f"write one of {', '.join(valid)}"


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
