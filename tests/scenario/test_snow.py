"""On a night that snows people are told to let it melt on the blossom."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from frostalert.model.channel import ChannelKind
from frostalert.model.site import Farm
from tests.scenario.test_plan_messages import TWO_HOURS, sent
from tests.support.grids import layer
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    HEATERS,
    night_grid,
    plan_of,
    planting,
    words_of,
)

FARM = planting(
    replace(CHERRIES, stage="full bloom"),
    replace(APRICOTS, stage="tips separate"),
    equipment=(HEATERS,),
)
SNOW = "Snow may fall: let it melt, never shake it off the blossom (Cherries)."


def falling(chance_pct: float, *, from_h: int, to_h: int) -> dict[str, Any]:
    """Rain or snow between some hours of the forecast, which begins at five."""
    chances = [chance_pct if from_h <= 5 + n < to_h else 0.0 for n in range(72)]
    return {"probabilityOfPrecipitation": layer("wmoUnit:percent", list(chances))}


@pytest.mark.parametrize(
    ("weather", "farm", "is_said"),
    [
        (falling(90.0, from_h=27, to_h=31), FARM, True),
        (falling(10.0, from_h=27, to_h=31), FARM, False),
        # In the mild afternoon it is rain.
        (falling(90.0, from_h=13, to_h=16), FARM, False),
        (falling(90.0, from_h=27, to_h=31), planting(FARM.blocks[1]), False),
    ],
    ids=["snow", "hardly", "rain", "no blossom"],
)
def test_mail_and_plan_say_to_leave_snow_on_blossom(
    tmp_path: Path, weather: dict[str, Any], farm: Farm, *, is_said: bool
) -> None:
    grid = night_grid(-6.0, **weather)
    mail = sent(tmp_path, grid, TWO_HOURS, farm=farm)[ChannelKind.EMAIL]
    assert mail.text.count(SNOW) == is_said
    assert len(mail.text.split()) <= 350
    plan = " ".join(words_of(plan_of(farm, grid), farm).split())
    assert plan.count(SNOW) == is_said
    assert ("never shake it off the blossom" in mail.text + plan) is is_said
