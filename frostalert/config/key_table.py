"""The table of every key in config/README.md, made from the schema."""

from pydantic.fields import FieldInfo

from frostalert.config.example import toml_value
from frostalert.config.schema import ConfigFile
from frostalert.config.section import Section
from frostalert.config.tables import example, tables_of


def key_table(schema: type[Section] = ConfigFile) -> str:
    """Return the table in Markdown: key, whether it must be given, example, meaning."""
    lines = ["| key | | example | meaning |", "| --- | --- | --- | --- |"]
    for table in tables_of(schema):
        lines.append(f"| **`{table.header}`** | | | {_cell(table.meaning)} |")
        lines += [
            f"| `{name}` | {_need(field)} | `{_cell(toml_value(example(field)))}` | "
            f"{_cell(str(field.description))} |"
            for name, field in table.section.model_fields.items()
        ]
    return "\n".join(lines)


def _need(field: FieldInfo) -> str:
    """Return whether a key must be given."""
    return "must" if field.is_required() else ""


def _cell(text: str) -> str:
    """Return words that stand in one cell."""
    return " ".join(text.replace("|", "\\|").split())
