"""The table of `tonight` in narrow and in wide terminals."""

import io
import re
from datetime import UTC, datetime

import pytest
from rich.console import Console

from frostalert.cli.tables import print_assessment
from frostalert.forecast.nws import parse_grid
from tests.support.judged import assess
from tests.support.plans import APRICOTS, CHERRIES, STRAWBERRIES, night_grid, planting

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
HOLDING = planting(APRICOTS, CHERRIES, STRAWBERRIES)
CHANCES = {"Apricots": "68%", "Cherries": "68%", "Strawberries": "93%"}


def printed(columns: int) -> str:
    console = Console(width=columns, file=io.StringIO(), highlight=False)
    run = parse_grid(night_grid(), NOW)
    print_assessment(console, assess(HOLDING, run, NOW), HOLDING, [])
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


@pytest.mark.parametrize("columns", [40, 60, 80, 100])
def test_air_limit_and_risk_stand_in_every_width(columns: int) -> None:
    text = printed(columns)
    assert max(map(len, text.splitlines())) <= columns
    for name, risk in CHANCES.items():
        found = re.search(rf"^{name} +(\d+ F) .*\b(\d+ F).* ({risk})\s*$", text, re.M)
        assert found is not None, text


def test_what_has_no_room_is_named() -> None:
    assert "No room here for: loss dry, loss wet." in " ".join(printed(60).split())
    assert "No room here for" not in printed(80)
