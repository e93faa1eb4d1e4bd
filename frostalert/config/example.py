"""The commented example file, made from the schema so that it cannot drift from it.

It describes an invented holding on a river bench; nobody and nothing in it is real.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time
from enum import Enum
from typing import Any

from pydantic.fields import FieldInfo

from frostalert.config.blocks import BlockSection
from frostalert.config.channels import section_type
from frostalert.config.equipment import (
    EquipmentSection,
    ReadinessSection,
    SuppliesSection,
)
from frostalert.config.people import EmailSection, PersonSection
from frostalert.config.schema import (
    ForecastSection,
    JudgementSection,
    ScheduleSection,
    SiteSection,
    StorageSection,
)
from frostalert.config.section import Section
from frostalert.config.sensors import ReadingsSection, SensorSection
from frostalert.config.watch import StatusSection, WatcherSection, WebSection
from frostalert.model.channel import CHANNELS, ChannelKind

_INTRO = """\
# frostalert: the holding, its blocks, its people. Made from the program's own schema;
# every place, person and number in it is invented. Copy it, change it, then run
#   frostalert config check --config YOUR-FILE
# Quantities carry their unit in quotes: "27 degF", "-2 degC", "9 ft", "3 h".
# Lines that begin with #: are optional and show their default or an example.

config_version = 1
"""
_STARTER_INTRO = """\
# frostalert: made by frostalert init. Change it, then run
#   frostalert config check
# Quantities carry their unit in quotes: "27 degF", "-2 degC", "9 ft", "3 h".
# Lines that begin with #: are off and show a default or an example; take the #: away
# to switch one on.

config_version = 1
"""
_LATER: tuple[tuple[str, type[Section]], ...] = (
    ("[[equipment]]", EquipmentSection),
    ("[supplies]", SuppliesSection),
    ("[readiness]", ReadinessSection),
    ("[[sensors]]", SensorSection),
    ("[readings]", ReadingsSection),
    *(
        (f"[{row.section}]", section_type(row.kind))
        for row in CHANNELS
        if row.kind is not ChannelKind.EMAIL
    ),
    ("[schedule]", ScheduleSection),
    ("[judgement]", JudgementSection),
    ("[storage]", StorageSection),
    ("[watcher]", WatcherSection),
    ("[web]", WebSection),
    ("[status]", StatusSection),
)
"""Tables that a first configuration shows and leaves off."""
_BLOCKS: tuple[dict[str, Any], ...] = (
    {
        "name": "Apricots by the lane",
        "crop": "apricot",
        "stage": "full bloom",
        "stage_seen": date(2026, 4, 10),
        "plants": 36,
        "height": "9 ft",
        "cold_spot": "-2 degF",
        "crop_value": 3200,
        "canopy": "9 ft",
        "brittle_wood": True,
        "methods": ["micro-sprinklers"],
    },
    {
        "name": "Sweet cherries",
        "crop": "sweet-cherry",
        "stage": "first white",
        "stage_seen": date(2026, 4, 10),
        "plants": 24,
        "height": "10 ft",
        "cold_spot": "0 degF",
        "crop_value": 1900,
        "canopy": "10 ft",
        "methods": ["propane heaters"],
    },
    {
        "name": "Concord arbour",
        "crop": "concord-grape",
        "stage": "full swell",
        "stage_seen": date(2026, 4, 8),
        "area": "0.2 acre",
        "height": "5 ft",
        "cold_spot": "-1 degF",
        "crop_value": 900,
        "methods": [],
    },
    {
        "name": "Strawberry beds",
        "crop": "strawberry",
        "stage": "popcorn",
        "stage_seen": date(2026, 4, 11),
        "plants": 800,
        "height": "6 in",
        "cold_spot": "-1 degF",
        "crop_value": 2600,
        "canopy": "1 ft",
        "straw": True,
        "methods": ["row cover"],
    },
)
_EQUIPMENT: tuple[dict[str, Any], ...] = (
    {
        "name": "Lane line",
        "method": "micro-sprinklers",
        "blocks": ["Apricots by the lane"],
        "flow": "14 gpm",
        "set_up": "40 min",
    },
    {
        "name": "Propane heaters",
        "method": "propane heaters",
        "count": 12,
        "time_each": "3 min",
        "heat_each": "40000 BTU/h",
        "burns": "0.44 gal/h",
        "fuel": "56 gal",
        "set_up": "1 h",
    },
    {
        "name": "Bed covers",
        "method": "row cover",
        "area": "900 ft2",
        "weight": "1.5 oz/yd2",
        "hands": 0,
        "set_up": "75 min",
    },
)
_SENSORS: tuple[dict[str, Any], ...] = (
    {"name": "Post by the shed", "kind": "reference"},
    {
        "name": "Low end of the lane",
        "kind": "sheltered",
        "block": "Apricots by the lane",
    },
)
_PEOPLE: tuple[dict[str, Any], ...] = (
    {
        "name": "Ines",
        "channels": ["email", "sms"],
        "email": "ines@heron-bench.example",
        "phone": "+15095550142",
        "operator": True,
    },
    {"name": "Tobias", "channels": ["sms"], "phone": "+15095550177", "turn": 2},
)


def example_text() -> str:
    """Return the example file."""
    parts = [
        _INTRO,
        _table("[site]", SiteSection),
        *_tables("[[blocks]]", BlockSection, _BLOCKS),
        *_tables("[[equipment]]", EquipmentSection, _EQUIPMENT),
        _table("[supplies]", SuppliesSection),
        _table("[readiness]", ReadinessSection),
        *_tables("[[sensors]]", SensorSection, _SENSORS),
        _table("[readings]", ReadingsSection, is_optional=True),
        *_tables("[[people]]", PersonSection, _PEOPLE),
        *(
            _table(
                f"[{row.section}]",
                section_type(row.kind),
                leave_out=frozenset({"password_env"}),
            )
            for row in CHANNELS
        ),
        _table("[schedule]", ScheduleSection, is_optional=True),
        _table(
            "[forecast]",
            ForecastSection,
            given={"sources": ["nws", "met-norway"]},
            is_optional=True,
        ),
        _table("[judgement]", JudgementSection, is_optional=True),
        _table("[storage]", StorageSection, is_optional=True),
        _table("[watcher]", WatcherSection, leave_out=frozenset({"checked_by"})),
        _off("[web]", WebSection),
        _table("[status]", StatusSection, is_optional=True),
    ]
    return "\n".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Starter:
    """What a first configuration is made from.

    Attributes
    ----------
    elevation : str
        With its unit.
    sources : tuple of str
        Forecast sources in order.
    """

    name: str
    latitude: float
    longitude: float
    elevation: str
    time_zone: str
    units: str
    crop: str
    stage: str
    stage_seen: date
    email: str
    sources: tuple[str, ...]


def starter_text(starter: Starter) -> str:
    """Return a first configuration: one block, one person, everything explained."""
    address, domain = starter.email, starter.email.rpartition("@")[2]
    block = {
        "name": f"My {starter.crop}",
        "crop": starter.crop,
        "stage": starter.stage,
        "stage_seen": starter.stage_seen,
        "plants": 10,
        "height": "6 ft" if starter.units == "us" else "2 m",
        "cold_spot": "0 degF" if starter.units == "us" else "0 degC",
        "methods": [],
    }
    person = {
        "name": address.partition("@")[0] or "Me",
        "channels": ["email"],
        "email": address,
        "operator": True,
    }
    mail = {
        "host": f"smtp.{domain}",
        "sender": address,
        "username": address,
    }
    site = {
        "name": starter.name,
        "latitude": starter.latitude,
        "longitude": starter.longitude,
        "elevation": starter.elevation,
        "time_zone": starter.time_zone,
        "units": starter.units,
    }
    parts = [
        _STARTER_INTRO,
        _table("[site]", SiteSection, given=site, is_optional=True),
        *_tables("[[blocks]]", BlockSection, (block,)),
        *_tables("[[people]]", PersonSection, (person,)),
        _table(
            "[email]",
            EmailSection,
            given=mail,
            leave_out=frozenset({"password_env"}),
        ),
        _table(
            "[forecast]",
            ForecastSection,
            given={"sources": list(starter.sources), "contact": address},
            is_optional=True,
        ),
        *(_off(header, section) for header, section in _LATER),
    ]
    return "\n".join(parts)


def _table(
    header: str,
    section: type[Section],
    *,
    given: Mapping[str, Any] | None = None,
    is_optional: bool = False,
    leave_out: frozenset[str] = frozenset(),
) -> str:
    """Return one table with every key explained."""
    lines = [_comment(section.__doc__ or ""), header]
    values = given or {}
    for name, field in section.model_fields.items():
        lines.append(_comment(str(field.description)))
        assignment = f"{name} = {toml_value(values.get(name, _example(field)))}"
        is_free = is_optional and not field.is_required() and name not in values
        is_commented = name in leave_out or is_free
        lines.append(f"#: {assignment}" if is_commented else assignment)
    return "\n".join(lines) + "\n"


def _off(header: str, section: type[Section]) -> str:
    """Return a table that is off: every line of it is a comment."""
    text = _table(header, section)
    return "".join(
        line if line.startswith("#") else f"#: {line}"
        for line in text.splitlines(keepends=True)
    )


def _tables(
    header: str, section: type[Section], rows: tuple[dict[str, Any], ...]
) -> list[str]:
    """Return several tables of one kind, the keys explained in the first."""
    first, *others = rows
    lines = [_comment(section.__doc__ or ""), header]
    for name, field in section.model_fields.items():
        lines.append(_comment(str(field.description)))
        value = toml_value(first.get(name, _example(field)))
        assignment = f"{name} = {value}"
        lines.append(assignment if name in first else f"#: {assignment}")
    texts = ["\n".join(lines) + "\n"]
    for row in others:
        keys = [f"{name} = {toml_value(value)}" for name, value in row.items()]
        texts.append("\n".join([header, *keys]) + "\n")
    return texts


def _comment(text: str) -> str:
    """Return a text as comment lines of at most 88 characters."""
    words, lines = text.split(), ["#"]
    for word in words:
        if len(lines[-1]) + len(word) + 1 > 88:  # noqa: PLR2004 - the line's length
            lines.append("#")
        lines[-1] += f" {word}"
    return "\n".join(lines)


def _key(name: str) -> str:
    """Return a key as TOML; a plain one needs no quotes."""
    is_plain = name.replace("-", "").replace("_", "").isalnum()
    return name if is_plain else json.dumps(name)


def _example(field: FieldInfo) -> Any:
    """Return a field's example."""
    return (field.examples or [""])[0]


def toml_value(value: Any) -> str:
    """Return a value as it is written in the file."""
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Enum):
        value = value.value
    if isinstance(value, dict):
        pairs = ", ".join(
            f"{_key(key)} = {toml_value(part)}" for key, part in value.items()
        )
        return f"{{ {pairs} }}"
    return json.dumps(value, ensure_ascii=False)
