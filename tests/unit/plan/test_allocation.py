"""Choosing what to do where, against trying every choice."""

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostalert.agronomy.methods import METHODS
from frostalert.model.plan import Option, Resource, Verdict
from frostalert.plan.allocation import Bundle, Limits, allocate, alone, is_allowed

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


def bundles_among(options: list[Option], gains: list[float]) -> list[Bundle]:
    """Each option alone, and pairs of different equipment in a block that gain more."""
    pairs = [
        (one, other)
        for one, other in combinations(options, 2)
        if one.block == other.block and one.equipment != other.equipment
    ]
    return [
        *map(alone, options),
        *(
            Bundle(pair, round(max(item.worth for item in pair) + gain, 2))
            for pair, gain in zip(pairs, gains, strict=False)
        ),
    ]


def best_by_trying(bundles: list[Bundle], limits: Limits) -> float:
    return max(
        sum(item.worth for item in choice)
        for count in range(min(len(bundles), len(BLOCKS)) + 1)
        for choice in combinations(bundles, count)
        if is_allowed(choice, limits)
    )


GAINS = st.lists(st.floats(0.1, 20.0), min_size=3, max_size=3)


@settings(max_examples=150)
@given(OPTIONS, GAINS, LIMITS)
def test_no_choice_saves_more(
    options: list[Option], gains: list[float], limits: Limits
) -> None:
    bundles = bundles_among(options, gains)
    chosen = allocate(bundles, limits)
    assert is_allowed(chosen, limits)
    worth = sum(item.worth for item in chosen)
    assert worth == pytest.approx(best_by_trying(bundles, limits), rel=1e-4)


def test_one_person_does_not_tend_fires_and_water_together() -> None:
    options = [option("A", "line", 10.0, 1.0), option("B", "heaters", 9.0, 1.0)]
    limits = Limits(
        amounts={},
        hands=1,
        tending={"line": 1, "heaters": 1},
        set_up_min={},
        daylight_min=None,
    )
    assert [item.block for item in allocate([*map(alone, options)], limits)] == ["A"]
    # Nor in one block, whatever both would save there.
    both = (options[0], replace(options[1], block="A"))
    chosen = allocate([*map(alone, both), Bundle(both, 30.0)], limits)
    assert [item.options for item in chosen] == [(options[0],)]


def test_of_two_that_save_as_much_the_one_that_takes_less_is_chosen() -> None:
    options = [option("A", "heaters", 5.0, 8.0), option("A", "heaters", 5.0, 4.0)]
    limits = Limits(
        amounts={(Resource.UNITS, "heaters"): 10.0},
        hands=2,
        tending={"heaters": 1},
        set_up_min={},
        daylight_min=None,
    )
    [chosen] = allocate([*map(alone, options)], limits)
    assert chosen.options[0].uses[0][2] == 4.0


def test_nothing_is_chosen_where_nothing_saves() -> None:
    limits = Limits(amounts={}, hands=1, tending={}, set_up_min={}, daylight_min=None)
    assert allocate([alone(option("A", "line", 0.0, 1.0))], limits) == ()


def test_what_runs_goes_on_alone_or_with_something_beside_it() -> None:
    runs = replace(option("A", "line", 2.0, 9.0), is_running=True)
    covers = option("A", "covers", 8.0, 1.0)
    limits = Limits(
        amounts={(Resource.WATER, ""): 5.0},
        hands=1,
        tending={"line": 1},
        set_up_min={},
        daylight_min=None,
    )
    singles = [alone(runs), alone(covers)]
    assert allocate(singles, limits) == (alone(runs),)
    pair = Bundle((runs, covers), 9.0)
    assert allocate([*singles, pair], limits) == (pair,)
    # No second block gets water that is not there, for all that runs.
    other = alone(option("B", "line", 50.0, 1.0))
    assert allocate([*singles, pair, other], limits) == (pair,)


def test_what_runs_forces_nothing_beside_it_for_which_there_is_too_little() -> None:
    lies = replace(option("A", "covers", 2.0, 1.0), is_running=True)
    water = option("A", "line", 8.0, 9.0)
    limits = Limits(
        amounts={(Resource.WATER, ""): 5.0, (Resource.AREA, "covers"): 1.0},
        hands=2,
        tending={"line": 1},
        set_up_min={},
        daylight_min=None,
    )
    both = Bundle((lies, water), 12.0)
    assert allocate([alone(lies), alone(water), both], limits) == (alone(lies),)


def test_what_runs_goes_on_with_as_many_pieces_as_there_are() -> None:
    # Nobody tells how many were lit: two blocks that share them get no more than all.
    running = [
        replace(option(block, "heaters", worth, pieces), is_running=True)
        for block in ("A", "B")
        for pieces, worth in ((10.0, 9.0), (6.0, 7.0), (3.0, 4.0))
    ]
    limits = Limits(
        amounts={(Resource.UNITS, "heaters"): 10.0},
        hands=2,
        tending={"heaters": 1},
        set_up_min={},
        daylight_min=None,
    )
    chosen = allocate([*map(alone, running)], limits)
    assert {item.block for item in chosen} == {"A", "B"}
    assert is_allowed(chosen, limits)
    assert sum(item.worth for item in chosen) == 11.0


def test_what_stands_ready_takes_no_daylight_and_what_does_not_takes_all() -> None:
    limits = Limits(
        amounts={},
        hands=1,
        tending={},
        set_up_min={"covers": 60.0, "heaters": 45.0},
        daylight_min=50.0,
        ready=frozenset({("covers", "A")}),
    )
    assert limits.set_up_of("covers") == 0.0
    assert limits.set_up_of("heaters") == 45.0
    ready, other = (alone(option(b, "covers", 5.0, 1.0)) for b in ("A", "B"))
    heaters = alone(option("C", "heaters", 5.0, 1.0))
    assert is_allowed([ready, other, heaters], limits)
    assert not is_allowed(
        [other],
        Limits(
            amounts={},
            hands=1,
            tending={},
            set_up_min={"covers": 60.0},
            daylight_min=50.0,
        ),
    )
