"""The commented example file, made from the schema so that it cannot drift from it.

It describes an invented holding on a river bench; nobody and nothing in it is real.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, time
from enum import Enum
from typing import Any

from frostalert.config.equipment import ReadinessSection, SuppliesSection
from frostalert.config.people import LONGEST_NAME, EmailSection, SmsSection
from frostalert.config.ready_made import ready_made
from frostalert.config.schema import ConfigFile, SiteSection
from frostalert.config.section import Section
from frostalert.config.tables import Table, example, examples, tables_of
from frostalert.config.watch import WatcherSection

_PLANTS = 10
"""Plants of a first block, until somebody counts them."""
Rows = Sequence[Mapping[str, Any]]
"""What a table sets, once for each time that it stands there."""
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
_BLOCKS: Rows = (
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
_EQUIPMENT: Rows = (
    {
        "name": "Lane line",
        "method": "micro-sprinklers",
        "blocks": ["Apricots by the lane"],
        "flow": "14 gpm",
        "area": "3000 ft2",
        "set_up": "40 min",
    },
    {
        "name": "Propane heaters",
        "method": "propane heaters",
        "count": 12,
        "area": "2500 ft2",
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
_SENSORS: Rows = (
    {"name": "Post by the shed", "kind": "reference"},
    {
        "name": "Low end of the lane",
        "kind": "sheltered",
        "block": "Apricots by the lane",
    },
)
_PEOPLE: Rows = (
    {
        "name": "Ines",
        "channels": ["email", "sms"],
        "email": "ines@heron-bench.example",
        "phone": "+15095550142",
        "operator": True,
    },
    {"name": "Tobias", "channels": ["sms"], "phone": "+15095550177", "turn": 2},
)


_HERON_BENCH: Mapping[str, Rows] = {
    "site": (examples(SiteSection),),
    "blocks": _BLOCKS,
    "equipment": _EQUIPMENT,
    "supplies": (examples(SuppliesSection),),
    "readiness": (examples(ReadinessSection),),
    "sensors": _SENSORS,
    "people": _PEOPLE,
    "email": (examples(EmailSection, but={"password_env"}),),
    "sms": (examples(SmsSection, but={"password_env"}),),
    "forecast": ({"sources": ["nws", "met-norway"]},),
    "watcher": (examples(WatcherSection, but={"checked_by"}),),
}
"""What the invented holding sets; what else the schema has is shown and left off."""


def example_text(schema: type[Section] = ConfigFile) -> str:
    """Return the example file."""
    parts = [_INTRO]
    for table in tables_of(schema):
        rows = _HERON_BENCH.get(table.name, ())
        parts += [_off(table)] if table.is_off and not rows else _table(table, rows)
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
    methods : tuple of str
        What the block can be protected with.
    night_costs : mapping of str to float
        What a night of each costs.
    crop_value : float or None
        What a full crop of the block is worth.
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
    methods: tuple[str, ...] = ()
    night_costs: Mapping[str, float] = field(default_factory=dict)
    crop_value: float | None = None


def starter_text(starter: Starter, schema: type[Section] = ConfigFile) -> str:
    """Return a first configuration: one block, one person, everything explained."""
    household = ready_made(_PLANTS, is_us=starter.units == "us")
    used = [row for method, row in household.items() if method in starter.methods]
    spare = [row for method, row in household.items() if method not in starter.methods]
    given = _first_tables(starter) | ({"equipment": used} if used else {})
    tables = tables_of(schema)
    parts = [_STARTER_INTRO]
    for table in tables:
        parts += _table(table, given[table.name]) if table.name in given else []
    parts += [_spare(row) for row in spare]
    parts += [_off(table) for table in tables if table.name not in given]
    return "\n".join(parts)


def _first_tables(starter: Starter) -> dict[str, Rows]:
    """Return what a first configuration sets."""
    address, domain = starter.email, starter.email.rpartition("@")[2]
    person = {
        "name": address.partition("@")[0][:LONGEST_NAME] or "Me",
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
    return {
        "site": (site,),
        "blocks": (_first_block(starter),),
        "people": (person,),
        "email": ({**examples(EmailSection, but={"password_env"}), **mail},),
        "forecast": ({"sources": list(starter.sources), "contact": address},),
    }


def _first_block(starter: Starter) -> dict[str, Any]:
    """Return the block of a first configuration."""
    is_us = starter.units == "us"
    block = {
        "name": f"My {starter.crop}",
        "crop": starter.crop,
        "stage": starter.stage,
        "stage_seen": starter.stage_seen,
        "plants": _PLANTS,
        "height": "6 ft" if is_us else "2 m",
        "cold_spot": "0 degF" if is_us else "0 degC",
        "methods": list(starter.methods),
    }
    if starter.crop_value is not None:
        block["crop_value"] = starter.crop_value
    if starter.night_costs:
        block["night_costs"] = dict(starter.night_costs)
    return block


def _spare(row: Mapping[str, Any]) -> str:
    """Return a ready-made equipment that is off."""
    words = _comment(
        f"Ready-made, common practice, no source: take the #: away, write "
        f'"{row["method"]}" under the methods of the block, and count your own.'
    )
    keys = [f"#: {name} = {toml_value(value)}" for name, value in row.items()]
    return "\n".join([words, "#: [[equipment]]", *keys]) + "\n"


def _table(table: Table, rows: Rows) -> list[str]:
    """Return a table as often as it has rows, the keys explained in the first."""
    first, *others = rows or ({},)
    lines = [_comment(table.meaning), table.header]
    for name, key in table.section.model_fields.items():
        lines.append(_comment(str(key.description)))
        assignment = f"{name} = {toml_value(first.get(name, example(key)))}"
        is_set = name in first or key.is_required()
        lines.append(assignment if is_set else f"#: {assignment}")
    texts = ["\n".join(lines) + "\n"]
    for row in others:
        keys = [f"{name} = {toml_value(value)}" for name, value in row.items()]
        texts.append("\n".join([table.header, *keys]) + "\n")
    return texts


def _off(table: Table) -> str:
    """Return a table that is off: every line of it is a comment."""
    [text] = _table(table, ())
    return "".join(
        line if line.startswith("#") else f"#: {line}"
        for line in text.splitlines(keepends=True)
    )


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
