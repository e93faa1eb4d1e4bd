"""Every key of the configuration as a table for the README, made from the schema."""

from typing import Any

from pydantic.fields import FieldInfo

from frostalert.config.blocks import BlockSection
from frostalert.config.channels import section_type
from frostalert.config.equipment import (
    EquipmentSection,
    ReadinessSection,
    SuppliesSection,
)
from frostalert.config.example import toml_value
from frostalert.config.people import PersonSection
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
from frostalert.model.channel import CHANNELS

_TABLES: tuple[tuple[str, type[Section]], ...] = (
    ("[site]", SiteSection),
    ("[[blocks]]", BlockSection),
    ("[[equipment]]", EquipmentSection),
    ("[supplies]", SuppliesSection),
    ("[readiness]", ReadinessSection),
    ("[[sensors]]", SensorSection),
    ("[readings]", ReadingsSection),
    ("[[people]]", PersonSection),
    *((f"[{row.section}]", section_type(row.kind)) for row in CHANNELS),
    ("[schedule]", ScheduleSection),
    ("[forecast]", ForecastSection),
    ("[judgement]", JudgementSection),
    ("[storage]", StorageSection),
    ("[watcher]", WatcherSection),
    ("[web]", WebSection),
    ("[status]", StatusSection),
)


def key_table() -> str:
    """Return the table in Markdown: key, whether it must be given, example, meaning."""
    lines = ["| key | | example | meaning |", "| --- | --- | --- | --- |"]
    for header, section in _TABLES:
        lines.append(f"| **`{header}`** | | | {_cell(section.__doc__ or '')} |")
        lines += [
            f"| `{name}` | {_need(field)} | `{_example(field)}` | "
            f"{_cell(str(field.description))} |"
            for name, field in section.model_fields.items()
        ]
    return "\n".join(lines)


def _need(field: FieldInfo) -> str:
    """Return whether a key must be given."""
    return "must" if field.is_required() else ""


def _example(field: FieldInfo) -> str:
    """Return a key's example as TOML."""
    example: Any = (field.examples or [""])[0]
    return _cell(toml_value(example))


def _cell(text: str) -> str:
    """Return words that stand in one cell."""
    return " ".join(text.replace("|", "\\|").split())
