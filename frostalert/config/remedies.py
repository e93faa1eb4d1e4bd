"""What to write in place of a value that cannot be used: the key's example decides."""

import re
from collections.abc import Sequence
from datetime import date, time
from typing import Any

from pydantic import BaseModel

from frostalert.config.schema import ConfigFile
from frostalert.config.tables import example, tables_of

_NUMBER = re.compile(r"[-+\u2212\u2013]?\d+(?:,\d+)*(?:\.\d+)?(?![.\d])")
_THOUSANDS = re.compile(r"^-?\d{1,3}(?:,\d{3})+$")
_TIME = re.compile(r"^(\d{1,2})(?:[:.](\d{2}))?(?::\d{2})?\s*([ap])?\.?m?\.?$", re.I)
_MINUSES = str.maketrans("\u2212\u2013", "--")
_DEGREES = frozenset({"latitude", "longitude"})
_NOON_H, _DAY_H, _HOUR_MINUTES, _PERCENT = 12, 24, 60, 100.0


def sample_at(location: Sequence[str | int]) -> Any:
    """Return the example of the key at a place, or nothing if there is no such key."""
    model, found = _walked(location)
    return None if model is None or found is None else example(found)


def keys_beside(location: Sequence[str | int]) -> list[str]:
    """Return the keys of the table that a key stands in."""
    model, _ = _walked(location)
    return list(getattr(model, "model_fields", {}))


def tables_with(key: str) -> list[str]:
    """Return the first lines of the tables that have a key."""
    return [
        table.header
        for table in tables_of(ConfigFile)
        if key in table.section.model_fields
    ]


def remedy_for(  # noqa: PLR0911 - one case a kind of value
    key: str, sample: Any, written: str
) -> str | None:
    """Return what to write for a key, by its example and what was written.

    A text that only lacks its quotes is left to whoever asks.

    Parameters
    ----------
    key : str
        The key's own name.
    sample : object
        Its example, which has its kind.
    written : str
        What stands there, with or without quotes.

    Returns
    -------
    str or None
        An order to write something; none if nothing can be said.
    """
    value = written.strip().strip("\"'").strip()
    match sample:
        case bool():
            return f"write {key} = true or {key} = false, in small letters"
        case int() | float():
            return _number_remedy(key, value, sample)
        case date():
            return "write a date like 2026-04-10, without quotes"
        case time():
            return _time_remedy(key, value)
        case list():
            bare = value.strip("[]").strip().strip("\"'")
            return f'write a list: {key} = ["{bare}"]' if bare else None
        case str():
            return _text_remedy(key, value, sample)
        case _:
            return None


def _text_remedy(key: str, value: str, sample: str) -> str | None:
    """Return a quantity in quotes, with a point where one is meant."""
    match = _NUMBER.match(value)
    if match is None or not _NUMBER.match(sample) or "," not in match[0]:
        return None
    number = match[0].replace(",", "" if _THOUSANDS.match(match[0]) else ".")
    return f'write {key} = "{number}{value[match.end() :]}"'


def _number_remedy(key: str, value: str, sample: float) -> str | None:
    """Return the number that is most likely meant."""
    match = _NUMBER.search(value)
    if match is None:
        return None
    number, rest = match[0].translate(_MINUSES), value.replace(match[0], "").strip()
    if _THOUSANDS.match(number) and key not in _DEGREES:
        thousands = _readable(number.replace(",", ""))
        point = _readable(number.replace(",", ".", 1).replace(",", ""))
        return (
            f"a comma cannot stand in a number; write {key} = {thousands}, or {key} = "
            f"{point} if a point was meant"
        )
    if number.count(",") == 1 and "." not in number:
        return f"write a point in place of the comma: {key} = {_signed(number, rest)}"
    number = number.replace(",", "")
    if rest == "%" and sample < 1.0:
        return f"write a share from 0 to 1: {key} = {float(number) / _PERCENT:g}"
    return f"write the number alone: {key} = {_signed(number, rest)}"


def _signed(number: str, rest: str) -> str:
    """Return a number with a point, and a minus where a letter says south or west."""
    number = _readable(number.replace(",", "."))
    is_behind = rest.strip("\u00b0 ").lower() in ("s", "w", "south", "west")
    return f"-{number.removeprefix('-')}" if is_behind else number


def _readable(number: str) -> str:
    """Return a number as it may stand in the file: no plus, no zeros in front."""
    return re.sub(r"^(-?)0+(?=\d)", r"\1", number.removeprefix("+"))


def _time_remedy(key: str, value: str) -> str:
    """Return the time of day that is most likely meant."""
    match = _TIME.match(value)
    hours, minutes = (int(match[1]), int(match[2] or 0)) if match else (_DAY_H, 0)
    half = (match[3] or "").lower() if match else ""
    if half and hours <= _NOON_H:
        hours = hours % _NOON_H + (_NOON_H if half == "p" else 0)
    if hours >= _DAY_H or minutes >= _HOUR_MINUTES:
        return "write a time like 07:00:00, without quotes"
    return f"write a time with seconds, without quotes: {key} = {time(hours, minutes)}"


def _walked(location: Sequence[str | int]) -> tuple[Any, Any]:
    """Return the table that a key stands in, and the key's field."""
    model: Any = ConfigFile
    found = None
    for place, step in enumerate(location):
        if isinstance(step, int):
            continue
        found = getattr(model, "model_fields", {}).get(step)
        is_last = all(isinstance(more, int) for more in location[place + 1 :])
        if is_last or found is None:
            return model, found
        model = _model_of(found.annotation)
    return model, found


def _model_of(annotation: Any) -> Any:
    """Return the table model inside an annotation."""
    for part in (annotation, *getattr(annotation, "__args__", ())):
        if isinstance(part, type) and issubclass(part, BaseModel):
            return part
    return None
