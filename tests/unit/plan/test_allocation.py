"""Choosing what to do where, against trying every choice."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostalert.agronomy.methods import METHODS
from frostalert.model.plan import Option, Resource, Verdict
from frostalert.plan.allocation import Limits, allocate, is_allowed

BLOCKS = ("A", "B", "C", "D")
EQUIPMENT = ("line", "heaters", "covers")
METHOD_OF = {
    "line": METHODS["micro-sprinklers"],
    "heaters": METHODS["propane heaters"],
    "covers": METHODS["row cover"],
}
USES = {
    "line": (Resource.WATER, ""),
    "heaters": (Resource.UNITS, "heaters"),
    "covers": (Resource.AREA, "covers"),
}


def option(block: str, equipment: str, worth: float, amount: float) -> Option:
    kind, name = USES[equipment]
    return Option(
        equipment=equipment,
        method=METHOD_OF[equipment],
        block=block,
        verdict=Verdict.PARTLY,
        worth=worth,
        uses=((kind, name, amount),),
    )


OPTIONS = st.lists(
    st.builds(
        option,
        st.sampled_from(BLOCKS),
        st.sampled_from(EQUIPMENT),
        st.floats(0.1, 50.0).map(lambda value: round(value, 2)),
        st.integers(1, 10).map(float),
    ),
    min_size=1,
    max_size=8,
)
LIMITS = st.builds(
    lambda water, units, area, hands, tending, daylight: Limits(
        amounts={
            (Resource.WATER, ""): water,
            (Resource.UNITS, "heaters"): units,
            (Resource.AREA, "covers"): area,
        },
        hands=hands,
        tending={"line": 1, "heaters": tending, "covers": 0},
        set_up_min={"line": 30.0, "heaters": 45.0, "covers": 60.0},
        daylight_min=daylight,
    ),
    st.integers(0, 15).map(float),
    st.integers(0, 15).map(float),
    st.integers(0, 15).map(float),
    st.integers(1, 3),
    st.integers(1, 2),
    st.sampled_from([None, 0.0, 40.0, 90.0, 200.0]),
)


def best_by_trying(options: list[Option], limits: Limits) -> float:
    return max(
        sum(item.worth for item in choice)
        for count in range(len(options) + 1)
        for choice in combinations(options, count)
        if is_allowed(choice, limits)
    )


@settings(max_examples=150)
@given(OPTIONS, LIMITS)
def test_no_choice_saves_more(options: list[Option], limits: Limits) -> None:
    chosen = allocate(options, limits)
    assert is_allowed(chosen, limits)
    worth = sum(item.worth for item in chosen)
    assert worth == pytest.approx(best_by_trying(options, limits), rel=1e-4)


def test_one_person_does_not_tend_fires_and_water_together() -> None:
    options = [option("A", "line", 10.0, 1.0), option("B", "heaters", 9.0, 1.0)]
    limits = Limits(
        amounts={},
        hands=1,
        tending={"line": 1, "heaters": 1},
        set_up_min={},
        daylight_min=None,
    )
    assert [item.block for item in allocate(options, limits)] == ["A"]


def test_of_two_that_save_as_much_the_one_that_takes_less_is_chosen() -> None:
    options = [option("A", "heaters", 5.0, 8.0), option("A", "heaters", 5.0, 4.0)]
    limits = Limits(
        amounts={(Resource.UNITS, "heaters"): 10.0},
        hands=2,
        tending={"heaters": 1},
        set_up_min={},
        daylight_min=None,
    )
    [chosen] = allocate(options, limits)
    assert chosen.uses[0][2] == 4.0


def test_nothing_is_chosen_where_nothing_saves() -> None:
    limits = Limits(amounts={}, hands=1, tending={}, set_up_min={}, daylight_min=None)
    assert allocate([option("A", "line", 0.0, 1.0)], limits) == ()
