"""Everything that is wrong with a configuration, in words, all of it at once."""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel, ValidationError

from frostalert.agronomy.crops import find_crop, find_stage
from frostalert.config.schema import ConfigFile
from frostalert.errors import AgronomyError
from frostalert.model.channel import CHANNELS, AddressKey, ChannelKind
from frostalert.model.crop import Crop
from frostalert.model.site import DORMANT, HARVESTED

_REMEDIES = {
    "missing": "missing; it must be given",
    "float_type": "must be a number without quotes or unit",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "string_type": "must be a text in quotes",
    "bool_type": "must be true or false",
    "list_type": 'must be a list in square brackets, such as ["row cover"]',
    "int_parsing": "must be a whole number without quotes",
    "float_parsing": "must be a number without quotes or unit",
    "bool_parsing": "must be true or false",
    "too_short": "needs at least one entry",
    "string_too_short": "must not be empty",
    "time_parsing": "must be a time like 07:00:00",
}
_AT_LINE = re.compile(r"at line (\d+)")
_SLASHED_DATE = re.compile(r"^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}")
_WORDS_FOR_BOOL = frozenset({"true", "false", "yes", "no", "on", "off"})
_SEVERAL = ("blocks", "people", "equipment", "sensors")


def toml_problem(text: str, error: Exception) -> str:
    """Return what stops a file from being read, with the line and a likely remedy."""
    found = _AT_LINE.search(str(error))
    number = int(found[1]) if found else 0
    lines = text.splitlines()
    if not 1 <= number <= len(lines):
        return f"not valid TOML: {error}"
    line = lines[number - 1].strip()
    return (
        f"not valid TOML at line {number}: {line[:60]}\n  "
        f"{_toml_remedy(line, error, lines)}"
    )


def _toml_remedy(line: str, error: Exception, lines: list[str]) -> str:
    """Return what is most likely wrong with a line."""
    key, _, value = (part.strip() for part in line.partition("="))
    name = line.partition("#")[0].strip().strip("[]")
    stripped = [other.strip() for other in lines]
    if any(mark in line for mark in "\u201c\u201d\u2018\u2019"):
        remedy = 'use straight quotes: "..."'
    elif name in _SEVERAL and f"[{name}]" in stripped:
        number = stripped.index(f"[{name}]") + 1
        remedy = f"write [[{name}]] with two brackets at line {number} too"
    else:
        remedy = _value_remedy(key, value) or str(error)
    return remedy


def _value_remedy(key: str, value: str) -> str | None:
    """Return what is most likely wrong with a value."""
    if _SLASHED_DATE.match(value):
        return "write a date like 2026-04-10, without quotes"
    if value.lower() in _WORDS_FOR_BOOL:
        return f"write {key} = true or {key} = false, in small letters"
    if value.startswith('"') and value.count('"') == 1:
        return f'the closing quote is missing: {key} = {value}"'
    if value and not value.startswith(('"', "'", "[", "{")):
        return f'a text needs quotes: {key} = "{value}"'
    return None


def schema_problems(error: ValidationError, raw: Mapping[str, Any]) -> list[str]:
    """Return what the schema refuses, one line a problem."""
    return [_line(dict(item), raw) for item in error.errors(include_url=False)]


def crop_problems(raw: Mapping[str, Any], own: Mapping[str, Crop]) -> list[str]:
    """Return unknown crops and stages, whatever else may be wrong."""
    problems = []
    for place, block in enumerate(_tables(raw, "blocks")):
        crop_name, stage = block.get("crop"), block.get("stage")
        if not isinstance(crop_name, str) or not isinstance(stage, str):
            continue
        key = "crop"
        try:
            crop = find_crop(crop_name, own)
            key = "stage"
            find_stage(crop, stage, (DORMANT, HARVESTED))
        except AgronomyError as error:
            problems.append(f"{_block_key(place, block)}.{key}: {error}")
    return problems


def duplicate_problems(raw: Mapping[str, Any]) -> list[str]:
    """Return names that are used twice."""
    problems = []
    for section in ("blocks", "people", "equipment", "sensors"):
        written = [
            table["name"].strip()
            for table in _tables(raw, section)
            if isinstance(table.get("name"), str)
        ]
        counts = Counter(name.lower() for name in written)
        shown = {name.lower(): name for name in reversed(written)}
        problems += [
            f'{section}: the name "{shown[name]}" is used {count} times; '
            "give each its own"
            for name, count in counts.items()
            if count > 1
        ]
    return problems + _shared_addresses(raw)


def _shared_addresses(raw: Mapping[str, Any]) -> list[str]:
    """Return addresses that two people share: each warning would come twice."""
    counts = Counter(
        person[key].lower()
        for person in _tables(raw, "people")
        for key in AddressKey
        if isinstance(person.get(key), str)
    )
    return [
        f"people: {address} is given for {count} people; give each their own"
        for address, count in counts.items()
        if count > 1
    ]


def channel_problems(raw: Mapping[str, Any]) -> list[str]:
    """Return channels that people have and the file does not set up."""
    used = {
        channel
        for person in _tables(raw, "people")
        if isinstance(person.get("channels"), list)
        for channel in person["channels"]
        if isinstance(channel, str)
    }
    return [
        f"{row.section}: missing; somebody is told by {row.kind}, so it needs a "
        f"[{row.section}] section"
        for row in CHANNELS
        if row.kind in used and row.section not in raw
    ]


def _tables(raw: Mapping[str, Any], section: str) -> list[dict[str, Any]]:
    """Return the tables of a section, whatever else stands there left out."""
    value = raw.get(section)
    if not isinstance(value, list):
        return []
    return [table for table in value if isinstance(table, dict)]


def _line(item: dict[str, Any], raw: Mapping[str, Any]) -> str:
    """Return one problem of the schema."""
    location = item["loc"]
    key = _key(location, raw)
    kind, message = item["type"], item["msg"]
    if kind == "extra_forbidden":
        return f"{key}: unknown key{_nearest(location)}"
    if kind == "too_short" and location[-1] == "channels":
        choices = " or ".join(f'["{channel}"]' for channel in ChannelKind)
        return f"{key}: needs at least one, such as {choices}"
    if kind in ("literal_error", "enum"):
        choices = str(message).removeprefix("Input should be ").replace("'", '"')
        return f"{key}: write {choices}"
    if kind in _REMEDIES:
        return f"{key}: {_REMEDIES[kind]}"
    text = str(message).removeprefix("Value error, ").removeprefix("Assertion failed, ")
    if kind.startswith(("greater_than", "less_than")):
        text = f"{item['input']} cannot be meant here; it {text[6:]}"
    return (
        f"{key}: {text[0].lower()}{text[1:]}"
        if text[:1].isupper()
        else (f"{key}: {text}")
    )


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


def _block_key(place: int, block: Mapping[str, Any]) -> str:
    """Return a block's place."""
    return _key(("blocks", place), {"blocks": [{}] * place + [block]})


def _inside(value: Any, step: str | int) -> Any:
    """Return what stands at a step further in, or nothing."""
    try:
        return value[step]
    except (KeyError, IndexError, TypeError):
        return None


def _nearest(location: Sequence[str | int]) -> str:
    """Return the nearest valid keys of the table that an unknown key stands in."""
    model: Any = ConfigFile
    for step in location[:-1]:
        if isinstance(step, str) and step in getattr(model, "model_fields", {}):
            model = _model_of(model.model_fields[step].annotation)
    names = list(getattr(model, "model_fields", {}))
    near = get_close_matches(str(location[-1]), names, n=2)
    if near:
        return "; did you mean " + " or ".join(f'"{name}"' for name in near) + "?"
    return "; known here are " + ", ".join(names) if names else "; remove it"


def _model_of(annotation: Any) -> Any:
    """Return the table model inside an annotation."""
    for part in (annotation, *getattr(annotation, "__args__", ())):
        if isinstance(part, type) and issubclass(part, BaseModel):
            return part
    return None
