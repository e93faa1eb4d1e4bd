"""Two methods in one block: which go together, and what both come to."""

from dataclasses import replace
from datetime import timedelta
from itertools import combinations

import pytest

from frostalert.agronomy.methods import METHODS, PAIRS, pair_of
from frostalert.model.equipment import Equipment, Supplies
from frostalert.model.method import Agent, RefusalReason
from frostalert.model.plan import (
    GainFacts,
    PassedOver,
    PassedReason,
    Plan,
    TaskKind,
    WaterFacts,
)
from frostalert.model.site import Block, Farm
from frostalert.plan.block_case import SURE_TO_HOLD
from frostalert.plan.bundles import LEAST_ADDED
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    COVERS,
    LINE,
    STRAWBERRIES,
    night_grid,
    plan_of,
    planting,
    words_of,
)

BERRIES = replace(
    STRAWBERRIES, methods=(METHODS["row cover"], METHODS["micro-sprinklers"])
)
BED_LINE = replace(
    LINE, name="Bed line", flow_l_per_h=800.0, area_m2=90.0, blocks=("Strawberries",)
)
CANOPY = Equipment(
    name="Canopy",
    method=METHODS["lamps under cover"],
    count=30,
    heat_each_w=60.0,
    skin_each_m2=8.0,
)


def both_farm(*equipment: Equipment, block: Block = BERRIES, **given: object) -> Farm:
    supplies = Supplies(hands=2, crew=("Ines", "Tobias"), **given)  # type: ignore[arg-type]
    return planting(block, equipment=equipment, supplies=supplies)


def passed(plan: Plan) -> dict[str, PassedOver]:
    return {item.option.equipment: item for item in plan.passed_over}


def test_every_pair_has_a_source_and_none_brings_water_to_flames() -> None:
    for pair in PAIRS:
        assert pair.source
        assert pair.caution.endswith(".")
        assert len(pair.kinds) == 2
    for one, other in combinations(METHODS.values(), 2):
        if {one.agent, other.agent} == {Agent.WATER, Agent.FLAME}:
            assert pair_of(one, other) is None
        assert pair_of(one, other) == pair_of(other, one)


def test_sprinkling_over_a_cover_saves_more_than_either() -> None:
    night = night_grid(-3.0)
    plan = plan_of(both_farm(COVERS, BED_LINE), night)
    cover, water = sorted(plan.chosen, key=lambda item: item.method.wets_buds)
    alone = [plan_of(both_farm(i), night).chosen[0] for i in (COVERS, BED_LINE)]
    assert (cover.equipment, water.equipment) == ("Covers", "Bed line")
    assert cover.together is not None
    assert water.together is not None
    assert (cover.together.partner, water.together.partner) == ("Bed line", "Covers")
    assert cover.loss_after == water.loss_after
    better = min(item.loss_after for item in alone)
    assert cover.together.loss_alone == pytest.approx(better)
    assert better - cover.loss_after >= LEAST_ADDED
    # What both save is counted once.
    saved = water.loss_before - water.loss_after
    weight = alone[0].worth / (alone[0].loss_before - alone[0].loss_after)
    assert cover.worth + water.worth == pytest.approx(weight * saved)
    assert plan.passed_over == ()
    # Both take what they take: the cover is laid, the water started and paid for.
    set_up = {t.equipment for t in plan.tasks if t.kind is TaskKind.SET_UP}
    assert set_up == {"Covers", "Bed line"}
    assert {task.equipment for task in plan.starts} == {"Bed line"}
    assert [budget.what for budget in plan.budgets] == ["water"]
    # Nobody lifts a cloth on which ice still lies.
    [off] = [t for t in plan.tasks if t.kind is TaskKind.COVERS_OFF]
    [stop] = [t for t in plan.tasks if t.kind is TaskKind.STOP]
    assert off.start_utc >= stop.start_utc


def test_water_that_may_not_hold_alone_holds_over_a_cover_by_its_lower_end() -> None:
    line = replace(BED_LINE, flow_l_per_h=600.0)
    night = night_grid(-3.0)
    [refused] = plan_of(both_farm(line), night).refused
    assert refused.grounds == (RefusalReason.MAY_NOT_HOLD,)
    assert isinstance(refused.facts, WaterFacts)
    plan = plan_of(both_farm(COVERS, line), night)
    assert plan.refused == ()
    water = next(item for item in plan.chosen if item.method.wets_buds)
    cover = next(item for item in plan.chosen if not item.method.wets_buds)
    assert isinstance(water.facts, WaterFacts)
    assert isinstance(cover.facts, GainFacts)
    assert refused.facts.holds_to_air_c is not None
    assert water.facts.holds_to_air_c == pytest.approx(
        refused.facts.holds_to_air_c - cover.facts.low_delta_c
    )
    assert refused.facts.hold_chance < SURE_TO_HOLD <= water.facts.hold_chance


def test_a_rate_below_the_published_one_is_refused_over_a_cover_too() -> None:
    trickle = replace(BED_LINE, flow_l_per_h=400.0)
    plan = plan_of(both_farm(COVERS, trickle), night_grid(-3.0))
    assert [item.equipment for item in plan.chosen] == ["Covers"]
    assert [i.grounds for i in plan.refused] == [(RefusalReason.LESS_THAN_NEEDED,)]


@pytest.mark.parametrize("flow_l_per_h", [500.0, 800.0, 1200.0])
def test_a_colder_night_never_starts_water_over_a_cover(flow_l_per_h: float) -> None:
    line = replace(BED_LINE, flow_l_per_h=flow_l_per_h)
    farm = both_farm(COVERS, line)
    lows_c = [-1.0 - 0.5 * step for step in range(16)]
    starts = [bool(plan_of(farm, night_grid(low)).starts) for low in lows_c]
    assert starts == sorted(starts, reverse=True)
    assert starts[0]


def test_a_cover_and_lamps_beneath_it_add_the_second_at_its_lower_end() -> None:
    block = replace(
        BERRIES,
        plants=30,
        methods=(METHODS["row cover"], METHODS["lamps under cover"]),
    )
    farm = both_farm(COVERS, CANOPY, block=block)
    plan = plan_of(farm, night_grid(-3.0))
    alone = {
        item.name: plan_of(both_farm(item, block=block), night_grid(-3.0)).chosen[0]
        for item in (COVERS, CANOPY)
    }
    assert {item.equipment for item in plan.chosen} == {"Covers", "Canopy"}
    first, second = sorted(alone.values(), key=lambda item: item.loss_after)
    [together] = {item.together for item in plan.chosen if item.worth == first.worth}
    assert together is not None
    assert isinstance(first.facts, GainFacts)
    assert isinstance(second.facts, GainFacts)
    assert together.low_delta_c == pytest.approx(
        first.facts.low_delta_c + second.facts.low_delta_c
    )
    assert together.high_delta_c == pytest.approx(
        first.facts.high_delta_c + second.facts.low_delta_c
    )


def test_a_fan_whose_least_gain_is_nothing_adds_nothing_to_heat() -> None:
    block = replace(
        CHERRIES, methods=(METHODS["propane heaters"], METHODS["fan"]), area_m2=180.0
    )
    heaters = planting(block).equipment[1]
    fan = Equipment(name="Fan", method=METHODS["fan"])
    plan = plan_of(both_farm(heaters, fan, block=block), night_grid(-2.5))
    assert [item.equipment for item in plan.chosen] == ["Heaters"]
    found = passed(plan)["Fan"]
    assert (found.why, found.beside) == (PassedReason.ADDS_LITTLE, ("Heaters",))


def test_what_excludes_what_is_chosen_is_named_with_its_reason() -> None:
    block = replace(
        APRICOTS,
        methods=(METHODS["micro-sprinklers"], METHODS["propane heaters"]),
        area_m2=206.0,
    )
    farm = planting(block)
    plan = plan_of(farm, night_grid(-3.0))
    [chosen] = plan.chosen
    [found] = plan.passed_over
    assert {chosen.equipment, found.option.equipment} == {"Lane line", "Heaters"}
    assert found.why is PassedReason.SAVES_LESS
    words = words_of(plan, farm)
    assert "ALSO POSSIBLE" in words
    line = f"{found.option.equipment} in Apricots: {found.option.verdict.value}, not "
    assert line in words
    assert f"both do not go together ({chosen.equipment})" in words


def test_what_there_is_does_not_suffice_for_both() -> None:
    plan = plan_of(both_farm(COVERS, BED_LINE, water_l=300.0), night_grid(-3.0))
    assert [item.equipment for item in plan.chosen] == ["Covers"]
    assert plan.chosen[0].together is None
    found = passed(plan)["Bed line"]
    assert (found.why, found.short) == (PassedReason.SHORT, ("water",))


def test_a_pair_that_cannot_stand_in_time_leaves_the_other_in_the_plan() -> None:
    slow = replace(BED_LINE, set_up=timedelta(hours=30))
    plan = plan_of(both_farm(COVERS, slow), night_grid(-3.0))
    [cover] = plan.chosen
    assert (cover.equipment, cover.together) == ("Covers", None)


def test_words_and_cautions_of_both_stand_in_the_plan() -> None:
    farm = both_farm(COVERS, BED_LINE)
    words = words_of(plan_of(farm, night_grid(-3.0)), farm)
    for part in (
        "Together with Bed line: enough",
        "Together with Covers: enough",
        "with both",
        "hoops under it",
        "KEEP IT ON",
        "Ice breaks limbs",
        "edges held down",
    ):
        assert part in " ".join(words.split()), part


def test_where_the_cover_ends_water_counts_alone() -> None:
    night = night_grid(-3.0)
    part = replace(COVERS, area_m2=60.0)  # of 80 m2
    [whole] = {i.loss_after for i in plan_of(both_farm(COVERS, BED_LINE), night).chosen}
    [some] = {i.loss_after for i in plan_of(both_farm(part, BED_LINE), night).chosen}
    [alone] = plan_of(both_farm(BED_LINE), night).chosen
    assert some == pytest.approx(0.75 * whole + 0.25 * alone.loss_after)


def test_water_that_may_not_hold_needs_a_cover_over_all_that_it_wets() -> None:
    night = night_grid(-3.0)
    line = replace(BED_LINE, flow_l_per_h=600.0)
    plan = plan_of(both_farm(replace(COVERS, area_m2=79.0), line), night)
    assert [item.equipment for item in plan.chosen] == ["Covers"]
    assert [i.grounds for i in plan.refused] == [(RefusalReason.MAY_NOT_HOLD,)]


def test_what_would_add_little_is_not_said_to_lack_water() -> None:
    """More water would change nothing: whoever reads "short" would go and fetch it."""
    plan = plan_of(both_farm(COVERS, BED_LINE, water_l=200.0), night_grid(-1.0))
    found = passed(plan)["Bed line"]
    assert (found.why, found.beside) == (PassedReason.ADDS_LITTLE, ("Covers",))
    assert found.short == ()
