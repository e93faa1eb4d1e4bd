"""Equipment and supplies in the configuration: what each mistake is told."""

from datetime import date

import pytest

from tests.config.test_config import parse, problems
from tests.support.configs import config_text

GOOD = """
[[equipment]]
name = "Heaters"
method = "propane heaters"
count = 12
heat_each = "40000 BTU/h"
burns = "0.5 gal/h"
fuel = "60 gal"

[supplies]
crew = ["Ines", "Tobias"]
water = "6000 gal"
refill = "3 gpm"

[readiness]
pump_tried = 2026-03-14
"""


def test_units_come_out_as_those_used_inside() -> None:
    farm = parse(config_text(more=GOOD)).farm
    [heaters] = farm.equipment
    assert heaters.heat_each_w == pytest.approx(11_723.0, abs=1.0)
    assert heaters.fuel is not None
    assert heaters.fuel.burned_per_h == pytest.approx(1.893, abs=0.001)
    assert heaters.fuel.stock == pytest.approx(227.1, abs=0.1)
    assert heaters.fuel.unit == "L"
    assert farm.supplies.hands == 2
    assert farm.supplies.water_l == pytest.approx(22_712.0, abs=1.0)
    assert farm.supplies.refill_l_per_h == pytest.approx(681.4, abs=0.1)
    assert farm.readiness.pump_tried == date(2026, 3, 14)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            '"propane heaters"',
            '"heater"',
            'equipment[1 "Heaters"].method: unknown method "heater"; write one of',
        ),
        ('"60 gal"', '"60 lb"', "burns and fuel must both be volumes, or both"),
        ('fuel = "60 gal"\n', "", "give burns and fuel together, or neither"),
        ('"6000 gal"', '"6000"', '"6000" has no unit; write "6000 gal"'),
        ('"3 gpm"', '"3 gal"', '"gal" is not a unit of flow; known are gpm, gal/min'),
        (
            'crew = ["Ines", "Tobias"]',
            'crew = ["Ines", "Tobias"]\nhands = 1',
            "crew names 2 people and hands says 1",
        ),
        (
            "count = 12",
            'count = 12\nblocks = ["Plums"]',
            'equipment[1 "Heaters"].blocks[1]: there is no block "Plums"; write ',
        ),
        ("count = 12", "number = 12", "unknown key; did you mean"),
    ],
)
def test_each_mistake_says_where_what_and_what_instead(
    old: str, new: str, words: str
) -> None:
    text = config_text(more=GOOD)
    assert old in text
    assert any(words in problem for problem in problems(text.replace(old, new)))


def test_two_of_one_name_are_refused() -> None:
    twice = GOOD + GOOD.partition("[supplies]")[0]
    assert any(
        'the name "Heaters" is used 2 times' in problem
        for problem in problems(config_text(more=twice))
    )
