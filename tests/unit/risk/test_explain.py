"""The explanation adds up to what the assessment shows."""

from datetime import UTC, date, datetime, timedelta

import pytest

from frostalert.errors import UsageError
from frostalert.forecast.nws import parse_grid
from frostalert.model.site import HARVESTED, Block
from frostalert.risk.explain import Step, explain
from tests.support.grids import grid_text
from tests.support.holdings import make_block, make_holding
from tests.support.judged import assess, nights_of

NOW = datetime(2026, 4, 13, 0, tzinfo=UTC)
NIGHT = date(2026, 4, 12)
RUN = parse_grid(
    grid_text(
        minimum_c=-4.0,
        elevation={"unitCode": "wmoUnit:m", "value": 20.0},
        wind_kmh=16.0,
    ),
    NOW,
)


def explained(block: Block, night: date = NIGHT) -> dict[str, Step]:
    farm = make_holding(block)
    steps = explain(nights_of(farm, RUN, NOW), block, night).steps
    return {step.name: step for step in steps}


def value(step: Step) -> float:
    assert step.value is not None
    return step.value


@pytest.mark.parametrize(
    "block",
    [
        make_block(cold_spot_delta_c=-2.0),
        make_block("Beds", "strawberry", "popcorn", height_m=0.2),
        make_block("Grapes", "concord-grape", "second leaf", cold_spot_delta_c=1.0),
    ],
    ids=lambda block: block.name,
)
def test_the_terms_of_the_air_add_up(block: Block) -> None:
    steps = explained(block)
    terms = (
        "grid air at that hour",
        "bent to the night minimum",
        "lapse to the site's height",
        "cold spot",
        "near the ground",
        "learned from this site",
    )
    total = sum(value(steps[name]) for name in terms)
    assert total == pytest.approx(value(steps["air among the plants"]), abs=1e-9)
    record = assess(make_holding(block), RUN, NOW).nights[0].blocks[0]
    assert record.site_low_c == pytest.approx(total, abs=1e-9)
    assert record.dry is not None
    assert value(steps["dry bud low"]) == record.dry.low_c
    assert record.probability is not None
    shown = value(steps["chance of reaching the alarm temperature"])
    assert shown == pytest.approx(100.0 * record.probability)


def test_no_cold_is_counted_twice() -> None:
    steps = explained(make_block(cold_spot_delta_c=-2.0))
    weight = value(steps["clear-and-calm weight"])
    assert 0.0 < weight < 1.0
    # The lapse belongs to the mixed share of the air, the cold spot to the calm one.
    assert value(steps["lapse to the site's height"]) == pytest.approx(
        -0.0065 * 105.0 * (1.0 - weight)
    )
    assert value(steps["cold spot"]) == pytest.approx(-2.0 * weight)


def test_corrections_beyond_four_degrees_are_questioned() -> None:
    calm = parse_grid(grid_text(), NOW)
    deep = make_block(
        "Beds", "strawberry", "popcorn", height_m=0.2, cold_spot_delta_c=-4.0
    )
    names = [
        s.name
        for s in explain(nights_of(make_holding(deep), calm, NOW), deep, NIGHT).steps
    ]
    assert "doubtful" in names
    assert "doubtful" not in explained(make_block())


def test_every_step_names_formula_and_source() -> None:
    for step in explained(make_block()).values():
        assert step.formula
        assert step.source


def test_a_night_out_of_reach_names_those_within() -> None:
    block = make_block()
    with pytest.raises(UsageError, match="2026-04-12"):
        explain(
            nights_of(make_holding(block), RUN, NOW), block, NIGHT + timedelta(days=30)
        )


def test_a_muted_block_has_nothing_to_explain() -> None:
    block = make_block(stage=HARVESTED)
    with pytest.raises(UsageError, match="harvested"):
        explain(nights_of(make_holding(block), RUN, NOW), block, NIGHT)
