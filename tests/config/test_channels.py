"""Every channel that there is has its lane, its limit, its address and its section."""

from enum import StrEnum

import pytest

from frostalert import schedule, supervisor
from frostalert.config.problems import channel_problems
from frostalert.model.site import ChannelKind
from tests.support.holdings import make_holding


def test_every_channel_has_a_lane_of_its_own_that_is_watched() -> None:
    assert set(ChannelKind) <= set(schedule.LANES)
    assert set(schedule.LANES) == set(supervisor.LIMITS_S)


@pytest.mark.parametrize("kind", list(ChannelKind))
def test_a_channel_that_somebody_has_needs_its_section(kind: ChannelKind) -> None:
    raw = {"people": [{"name": "Ines", "channels": [kind.value]}]}
    [problem] = channel_problems(raw)
    assert f"[{kind}]" in problem


def test_a_channel_without_an_address_is_refused_and_gets_nobody_elses() -> None:
    class Unknown(StrEnum):
        PUSH = "push"

    person = make_holding().people[0]
    with pytest.raises(AssertionError):
        person.address(Unknown.PUSH)  # type: ignore[arg-type]
