"""The tables of the configuration as the schema has them, in its order."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, get_args

from pydantic.fields import FieldInfo

from frostalert.config.section import Section


@dataclass(frozen=True, slots=True)
class Table:
    """One table.

    Attributes
    ----------
    is_list : bool
        Whether it can stand there more than once.
    is_off : bool
        Whether a file without it does without what it describes.
    """

    name: str
    section: type[Section]
    is_list: bool
    is_off: bool

    @property
    def header(self) -> str:
        """Return its first line."""
        return f"[[{self.name}]]" if self.is_list else f"[{self.name}]"

    @property
    def meaning(self) -> str:
        """Return what it is about."""
        return self.section.__doc__ or ""


def tables_of(schema: type[Section]) -> list[Table]:
    """Return the tables of a whole file.

    Parameters
    ----------
    schema : type of Section
        The whole file.

    Returns
    -------
    list of Table
        In the order of the schema.
    """
    found = []
    for name, field in schema.model_fields.items():
        kinds = (field.annotation, *get_args(field.annotation))
        for kind in kinds:
            if isinstance(kind, type) and issubclass(kind, Section):
                is_list = kind is not field.annotation and type(None) not in kinds
                is_off = not field.is_required() and not field.default
                found.append(Table(name, kind, is_list, is_off))
    return found


def example(field: FieldInfo) -> Any:
    """Return a key's example."""
    return (field.examples or [""])[0]


def examples(section: type[Section], but: Collection[str] = ()) -> dict[str, Any]:
    """Return the examples of a table's keys, without some."""
    return {
        name: example(field)
        for name, field in section.model_fields.items()
        if name not in but
    }
