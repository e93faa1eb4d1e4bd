"""Everything that is wrong with a configuration, in words, all of it at once."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from pydantic import ValidationError

from frostalert.config.lines import Lines, Location
from frostalert.config.remedies import (
    keys_beside,
    remedy_for,
    sample_at,
    tables_with,
)
from frostalert.model.channel import AddressKey, ChannelKind

_REMEDIES = {
    "missing": "missing; it must be given",
    "float_type": "must be a number without quotes or unit",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "string_type": "must be text in quotes",
    "bool_type": "must be true or false",
    "int_parsing": "must be a whole number without quotes",
    "float_parsing": "must be a number without quotes or unit",
    "bool_parsing": "must be true or false",
    "too_short": "needs at least one entry",
    "string_too_short": "must not be empty",
    "time_parsing": "must be a time like 07:00:00",
}
_SECRETS = frozenset({"password", "passwd", "pass", "pwd", "token", "secret", "key"})
_MOST_TABLES = 3


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that cannot be used, and where it stands."""

    location: Location
    words: str


def told(
    problems: Sequence[Problem], raw: Mapping[str, Any], lines: Lines
) -> list[str]:
    """Return problems in words, with line and key, in the order of the file.

    Parameters
    ----------
    problems : sequence of Problem
        What cannot be used.
    raw : mapping of str to object
        The file as it was read, which has the names of blocks and people.
    lines : Lines
        Where things stand in it.
    """
    numbered = [(lines.of(problem.location) or 0, problem) for problem in problems]
    numbered.sort(key=lambda pair: pair[0])
    return [
        (f"line {line}, " if line else "")
        + f"{_key(problem.location, raw)}: {problem.words}"
        for line, problem in numbered
    ]


def schema_problems(error: ValidationError) -> list[Problem]:
    """Return what the schema refuses."""
    return [
        Problem(item["loc"], _words(dict(item)))
        for item in error.errors(include_url=False)
    ]


def _words(item: dict[str, Any]) -> str:
    """Return one problem of the schema in words."""
    kind, message = item["type"], str(item["msg"])
    for kinds, say in _SAY:
        if kind.startswith(kinds):
            return say(item)
    if kind in _REMEDIES:
        return _REMEDIES[kind]
    text = message.removeprefix("Value error, ").removeprefix("Assertion failed, ")
    return f"{text[0].lower()}{text[1:]}" if text[:1].isupper() else text


def _too_short(item: dict[str, Any]) -> str:
    """Return what an empty list needs."""
    if item["loc"][-1] != "channels":
        return _REMEDIES["too_short"]
    choices = " or ".join(f'["{channel}"]' for channel in ChannelKind)
    return f"needs at least one, such as {choices}"


def _no_list(item: dict[str, Any]) -> str:
    """Return what was written as a list, or the key's example as one."""
    written, sample = item["input"], sample_at(item["loc"])
    if not isinstance(written, str):
        written = sample[0] if isinstance(sample, list) and sample else "row cover"
    return f'must be a list in square brackets, such as ["{written}"]'


def _no_choice(item: dict[str, Any]) -> str:
    """Return what can be chosen."""
    choices = str(item["msg"]).removeprefix("Input should be ").replace("'", '"')
    return f"write {choices}"


def _no_number(item: dict[str, Any]) -> str:
    """Return the number that was most likely meant."""
    words, location = _REMEDIES[item["type"]], item["loc"]
    if not isinstance(item["input"], str) or not isinstance(location[-1], str):
        return words
    remedy = remedy_for(location[-1], sample_at(location), item["input"])
    return words if remedy is None else f"{words}; {remedy}"


def _no_text(item: dict[str, Any]) -> str:
    """Return a number as the text that it has to be."""
    key, value = item["loc"][-1], item["input"]
    if not isinstance(key, str) or not isinstance(value, int | float):
        return _REMEDIES["string_type"]
    plus = "+" if key == AddressKey.PHONE else ""
    return f'{_REMEDIES["string_type"]}: {key} = "{plus}{value}"'


def _out_of_range(item: dict[str, Any]) -> str:
    """Return what to write in place of a number that is too high or too low."""
    value, location = item["input"], item["loc"]
    limits = str(item["msg"]).removeprefix("Input ")
    words = f"{value} cannot be right here; it {limits}"
    sample = sample_at(location)
    if isinstance(sample, float) and 0.0 < sample < 1.0 < value:
        remedy = remedy_for(str(location[-1]), sample, f"{value} %")
        return f"{words}; {remedy}"
    return words


def _key(location: Sequence[str | int], raw: Mapping[str, Any]) -> str:
    """Return a problem's place as it is written, blocks and people with their name."""
    parts: list[str] = []
    here: Any = raw
    for step in location:
        here = _inside(here, step)
        if isinstance(step, int):
            name = here.get("name") if isinstance(here, dict) else None
            shown = f' "{name}"' if isinstance(name, str) else ""
            parts[-1] += f"[{step + 1}{shown}]"
        else:
            parts.append(str(step))
    return ".".join(parts) or "file"


def _inside(value: Any, step: str | int) -> Any:
    """Return what stands at a step further in, or nothing."""
    try:
        return value[step]
    except (KeyError, IndexError, TypeError):
        return None


def _unknown_key(item: dict[str, Any]) -> str:
    """Return what to do about a key that the table does not have."""
    location = item["loc"]
    key, names = str(location[-1]), keys_beside(location)
    if (file := _file_for(key, names)) is not None:
        return (
            "a password does not belong in this file: put it on the first line of a "
            f'file of its own, write {file} = "THAT-FILE", and delete it here'
        )
    near = get_close_matches(key, names, n=2)
    elsewhere = tables_with(key)
    if near:
        meant = " or ".join(f'"{name}"' for name in near)
        rest = f"; did you mean {meant}?"
    elif 0 < len(elsewhere) <= _MOST_TABLES:
        rest = f" here; it belongs under {' or '.join(elsewhere)}"
    else:
        rest = f"; known here are {', '.join(names)}" if names else "; remove it"
    return f"unknown key{rest}"


def _file_for(key: str, names: Sequence[str]) -> str | None:
    """Return the key that names the file for a secret which stands here in the open."""
    last = key.lower().replace("-", "_").rpartition("_")[2].removeprefix("api")
    files = (name for name in names if name.endswith(("password_file", "key_file")))
    return next(files, None) if last in _SECRETS else None


_SAY: tuple[tuple[tuple[str, ...], Callable[[dict[str, Any]], str]], ...] = (
    (("extra_forbidden",), _unknown_key),
    (("too_short",), _too_short),
    (("list_type",), _no_list),
    (("literal_error", "enum"), _no_choice),
    (("string_type",), _no_text),
    (("float_", "int_type", "int_parsing"), _no_number),
    (("greater_than", "less_than"), _out_of_range),
)
"""Kinds of the schema's problems by how they begin, each with what says it."""
