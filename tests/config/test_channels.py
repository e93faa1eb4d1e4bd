"""Every channel that there is has its lane, its limit, its address and its section."""

from enum import StrEnum

import pytest

from frostalert import schedule, supervisor
from frostalert.config.channels import section_type
from frostalert.config.cross_checks import channel_checks
from frostalert.config.key_table import key_table
from frostalert.config.people import PersonSection
from frostalert.config.schema import ConfigFile
from frostalert.model.channel import CHANNELS, AddressKey, Channel, ChannelKind
from tests.support.holdings import make_holding


def test_every_channel_has_a_lane_of_its_own_that_is_watched() -> None:
    assert [row.kind for row in CHANNELS] == list(ChannelKind)
    assert {row.lane for row in CHANNELS} <= set(schedule.LANES)
    assert set(schedule.LANES) == set(supervisor.LIMITS_S)
    assert len(schedule.LANES) == len(set(schedule.LANES))


@pytest.mark.parametrize("row", CHANNELS, ids=lambda row: row.kind)
def test_a_channel_that_somebody_has_needs_its_section(row: Channel) -> None:
    raw = {"people": [{"name": "Ines", "channels": [row.kind.value]}]}
    [(location, problem)] = channel_checks(raw)
    assert location == (row.section,)
    assert f"[{row.section}]" in problem
    field = ConfigFile.model_fields[row.section]
    assert field.annotation == section_type(row.kind) | None
    assert f"**`[{row.section}]`**" in key_table()


@pytest.mark.parametrize("row", CHANNELS, ids=lambda row: row.kind)
def test_a_channel_without_an_address_for_it_is_refused(row: Channel) -> None:
    with pytest.raises(ValueError, match=f'"{row.kind}" but no {row.address_key}'):
        PersonSection(name="Ines", channels=[row.kind])


def test_every_address_is_a_key_of_people() -> None:
    assert set(AddressKey) <= PersonSection.model_fields.keys()
    assert {row.address_key for row in CHANNELS} == set(AddressKey)


def test_a_channel_without_a_row_gets_nobodys_address() -> None:
    class Unknown(StrEnum):
        PUSH = "push"

    person = make_holding().people[0]
    with pytest.raises(AssertionError):
        person.address(Unknown.PUSH)  # type: ignore[arg-type]
