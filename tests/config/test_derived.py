"""The example, a first configuration and the table of keys follow from the schema."""

import tomllib
from datetime import date

from pydantic import Field

from frostalert.config.example import Starter, example_text, starter_text
from frostalert.config.key_table import key_table
from frostalert.config.schema import ConfigFile, SiteSection
from frostalert.config.section import Section
from frostalert.config.tables import tables_of

STARTER = Starter(
    name="Heron Bench",
    latitude=46.2,
    longitude=-119.2,
    elevation="410 ft",
    time_zone="America/Los_Angeles",
    units="us",
    crop="apricot",
    stage="full bloom",
    stage_seen=date(2026, 4, 10),
    email="ines@heron-bench.example",
    sources=("nws",),
)


class GateSection(Section):
    """How far the gate stands open."""

    width: str = Field(description="Its width.", examples=["9 ft"])
    hinges: int = Field(default=2, description="Its hinges.", examples=[3])


class LadderSection(Section):
    """A ladder that leans somewhere."""

    rungs: int = Field(default=8, description="How many rungs it has.", examples=[12])


class BellSection(Section):
    """A bell that is rung."""

    tone: str = Field(default="g", description="Its tone.", examples=["a"])


class WiderSite(SiteSection):
    """Where the holding is."""

    river: str = Field(default="", description="The river beside.", examples=["Yak"])


class WiderFile(ConfigFile):
    """A whole file with more in it."""

    site: WiderSite
    gate: GateSection
    ladders: list[LadderSection] = Field(default=[])
    bell: BellSection | None = None


def test_a_new_key_stands_in_the_example() -> None:
    assert '# The river beside.\n#: river = "Yak"\n' in example_text(WiderFile)


def test_a_new_table_stands_in_the_example_and_what_it_may_leave_out_is_off() -> None:
    text = example_text(WiderFile)
    assert (
        '\n# How far the gate stands open.\n[gate]\n# Its width.\nwidth = "9 ft"\n'
        "# Its hinges.\n#: hinges = 3\n"
    ) in text
    assert (
        "\n# A ladder that leans somewhere.\n#: [[ladders]]\n"
        "# How many rungs it has.\n#: rungs = 12\n"
    ) in text
    assert '\n# A bell that is rung.\n#: [bell]\n# Its tone.\n#: tone = "a"\n' in text


def test_the_wider_example_is_a_configuration() -> None:
    content = WiderFile.model_validate(tomllib.loads(example_text(WiderFile)))
    assert content.site.river == ""
    assert content.gate.hinges == 2
    assert content.ladders == []
    assert content.bell is None


def test_a_first_configuration_shows_what_is_new_and_leaves_it_off() -> None:
    text = starter_text(STARTER, WiderFile)
    assert '#: river = "Yak"\n' in text
    assert '#: [gate]\n# Its width.\n#: width = "9 ft"\n' in text
    assert "#: [[ladders]]\n" in text


def test_the_table_of_keys_has_what_is_new() -> None:
    lines = key_table(WiderFile).splitlines()
    assert '| `river` |  | `"Yak"` | The river beside. |' in lines
    assert "| **`[gate]`** | | | How far the gate stands open. |" in lines
    assert '| `width` | must | `"9 ft"` | Its width. |' in lines
    assert "| **`[[ladders]]`** | | | A ladder that leans somewhere. |" in lines
    assert "| **`[bell]`** | | | A bell that is rung. |" in lines


def test_all_but_the_version_stands_in_tables() -> None:
    keys = set(ConfigFile.model_fields)
    assert keys - {table.name for table in tables_of(ConfigFile)} == {"config_version"}


def test_every_key_stands_in_the_example_and_in_a_first_configuration() -> None:
    for text in (example_text(), starter_text(STARTER)):
        for table in tables_of(ConfigFile):
            _, found, rest = text.partition(f"{table.header}\n")
            assert found, table.header
            for name in table.section.model_fields:
                assert f"{name} = " in rest.partition("\n[")[0], (table.name, name)
        assert "\nconfig_version = 1\n" in text
