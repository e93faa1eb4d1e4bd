"""Four nights, and what the plan makes of each; then what must never be offered."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from frostalert.agronomy.methods import METHODS
from frostalert.forecast.nws import parse_grid
from frostalert.model.equipment import Compass, Equipment, Supplies
from frostalert.model.heat_side import HeatSide
from frostalert.model.method import RefusalReason
from frostalert.model.plan import (
    GainFacts,
    Option,
    Plan,
    TaskKind,
    UnprotectedReason,
    Verdict,
    WaterFacts,
)
from frostalert.model.progress import UNKNOWN_PROGRESS
from frostalert.model.site import Block
from frostalert.plan.block_case import block_cases
from frostalert.risk.measure import SURELY_WET
from tests.support.grids import layer
from tests.support.judged import assess, nights_of
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    COVERS,
    HEATERS,
    LINE,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    WINDY_KMH,
    night_grid,
    plan_of,
    planting,
    rainy_evening,
    words_of,
)

ALL = planting(APRICOTS, CHERRIES, STRAWBERRIES)
MIDNIGHT = datetime(2026, 4, 13, 7, tzinfo=UTC)
SUNSET = datetime(2026, 4, 13, 2, 40, tzinfo=UTC)


def of_block(plan: Plan, name: str) -> Option:
    everything = (*plan.chosen, *plan.refused, *plan.listed)
    [option] = [item for item in everything if item.block == name]
    return option


def by_hand(**changes: object) -> tuple[Block, Equipment]:
    block = replace(APRICOTS, methods=(METHODS["hand wetting"],))
    equipment = Equipment(
        name="Hoses",
        method=METHODS["hand wetting"],
        litres_per_plant=1.0,
        time_each=timedelta(seconds=45),
        hands=1,
    )
    return block, replace(equipment, **changes)  # type: ignore[arg-type]


def test_a_calm_clear_night_with_enough_water() -> None:
    plan = plan_of(ALL, night_grid(-3.0))
    water = of_block(plan, "Apricots")
    assert water.verdict is Verdict.ENOUGH
    assert isinstance(water.facts, WaterFacts)
    assert water.facts.rate_mm_per_h > water.facts.needed_mm_per_h
    assert water.loss_after < water.loss_before
    assert {item.block for item in plan.chosen} == {
        "Apricots",
        "Cherries",
        "Strawberries",
    }
    words = words_of(plan, ALL)
    assert "Lane line (micro-sprinklers): enough" in words
    assert "Not on dry buds after" in words
    assert "Once water runs, KEEP IT ON" in words
    assert "until you measure a wet bulb above 32 F and ice melts freely" in words
    assert "Then drain the lines" in words
    assert "milky ice too little" in words
    assert "Many small fires around what you protect, no big one" in words


def test_a_windy_dry_night_on_which_water_must_not_be_used() -> None:
    grid = night_grid(-3.0, high_c=3.0, dry_by_c=8.0, wind_kmh=WINDY_KMH)
    held = replace(COVERS, has_held_edges=True)
    farm = replace(ALL, equipment=(LINE, HEATERS, held))
    plan = plan_of(farm, grid)
    for block in ("Apricots", "Cherries"):
        option = of_block(plan, block)
        assert option.verdict is Verdict.NOT_TONIGHT
        assert option.grounds == (RefusalReason.TOO_WINDY,)
    assert {item.why for item in plan.left_out} == {UnprotectedReason.NOTHING_WORKS}
    words = words_of(plan, farm)
    assert "not tonight: too windy, up to 20 mph as forecast while in use" in words
    assert "start in" not in words
    cover = of_block(plan, "Strawberries").facts
    assert isinstance(cover, GainFacts)
    assert cover.low_delta_c == 0.0


def test_rain_that_turns_to_freezing_with_buds_already_wet() -> None:
    grid = night_grid(-3.0, high_c=6.0, dry_by_c=0.5, wind_kmh=4.0, **rainy_evening())
    late = MIDNIGHT + timedelta(hours=5)
    dry_grid = night_grid(-3.0, high_c=6.0, dry_by_c=0.5, wind_kmh=4.0)
    wet = of_block(plan_of(ALL, grid, MIDNIGHT), "Apricots")
    assert wet.verdict is Verdict.ENOUGH
    assert isinstance(wet.facts, WaterFacts)
    assert wet.facts.latest_start_utc is not None
    # Past that hour dry buds may not be wetted any more; buds that drip may.
    assert late > wet.facts.latest_start_utc
    soaked = {
        "probabilityOfPrecipitation": layer("wmoUnit:percent", [95.0] * 72),
        "quantitativePrecipitation": layer("wmoUnit:mm", [1.0] * 72),
    }
    dripping = night_grid(-3.0, high_c=6.0, dry_by_c=0.5, wind_kmh=4.0, **soaked)
    assert of_block(plan_of(ALL, dripping, late), "Apricots").can_be_chosen
    too_late = of_block(plan_of(ALL, dry_grid, late), "Apricots")
    assert too_late.grounds == (RefusalReason.TOO_LATE,)
    # Who wetted in time and runs on must not read this as a word to stop.
    words = words_of(plan_of(ALL, dry_grid, late), ALL)
    assert "If it is already running, KEEP IT ON" in words


def test_hoar_near_dawn_is_no_water_on_buds_at_the_hour_of_starting() -> None:
    grid = night_grid(-6.0, dry_by_c=0.3)
    late = MIDNIGHT + timedelta(hours=3)
    run = parse_grid(grid, late)
    [record] = assess(planting(APRICOTS), run, late).nights[0].blocks
    assert record.wet_probability is not None
    assert record.wet_probability > SURELY_WET
    water = of_block(
        plan_of(planting(APRICOTS, equipment=(LINE,)), grid, late), "Apricots"
    )
    assert water.grounds == (RefusalReason.TOO_LATE,)


def test_a_mild_night_on_which_covers_are_enough() -> None:
    farm = planting(STRAWBERRIES)
    plan = plan_of(farm, night_grid(0.5, high_c=14.0))
    [cover] = plan.chosen
    assert cover.verdict is Verdict.HOLDS
    assert isinstance(cover.facts, GainFacts)
    # Univ. of Maine Extension, 2023: thick covers 4 to 6 F.
    assert cover.facts.low_delta_c == pytest.approx(4.0 / 1.8)
    assert cover.facts.high_delta_c == pytest.approx(6.0 / 1.8)
    words = words_of(plan, farm)
    assert "bees must get in" in words
    assert "water" not in words.lower().replace("ice water", "")


@pytest.mark.parametrize(
    ("block", "equipment", "ground"),
    [
        (replace(CHERRIES, has_straw=True), HEATERS, RefusalReason.STRAW),
        (replace(CHERRIES, is_tunnel=True), HEATERS, RefusalReason.ROOF),
        (CHERRIES, replace(HEATERS, hands=0), RefusalReason.UNATTENDED),
        (CHERRIES, replace(HEATERS, count=1), RefusalReason.NO_GAIN),
        (APRICOTS, replace(LINE, flow_l_per_h=300.0), RefusalReason.LESS_THAN_NEEDED),
    ],
    ids=["straw", "roof", "nobody tends it", "one heater", "a trickle"],
)
def test_what_breaks_a_caution_or_cannot_hold_is_not_offered(
    block: Block, equipment: Equipment, ground: RefusalReason
) -> None:
    plan = plan_of(planting(block, equipment=(equipment,)), night_grid(-3.0))
    assert plan.chosen == ()
    [refused] = plan.refused
    assert refused.grounds == (ground,)


@pytest.mark.parametrize("wind_kmh", [14.0, WINDY_KMH])
def test_no_open_fire_in_wind(wind_kmh: float) -> None:
    block = replace(CHERRIES, methods=(METHODS["small fires"],))
    fires = replace(HEATERS, name="Fires", method=METHODS["small fires"])
    plan = plan_of(
        planting(block, equipment=(fires,)),
        night_grid(-3.0, high_c=4.0, wind_kmh=wind_kmh),
    )
    assert [item.grounds for item in plan.refused] == [(RefusalReason.FIRE_WIND,)]


def test_a_round_longer_than_the_film_lasts_wets_no_buds() -> None:
    block, hoses = by_hand()
    farm = planting(block, equipment=(hoses,))
    plan = plan_of(farm, night_grid(-3.0))
    [refused] = plan.refused
    assert refused.verdict is Verdict.TOO_LITTLE
    assert refused.grounds == (RefusalReason.ROUND_TOO_LONG,)
    words = words_of(plan, farm)
    assert "A round takes 27 min" in words
    assert "20 to 30 min in mild freezes (common practice, no source)" in words


def test_the_trip_for_water_lengthens_the_round_and_more_hands_shorten_it() -> None:
    def round_time(**changes: object) -> timedelta:
        block, hoses = by_hand(**changes)
        plan = plan_of(planting(block, equipment=(hoses,)), night_grid(-3.0))
        facts = plan.refused[0].facts
        assert isinstance(facts, WaterFacts)
        assert facts.round_time is not None
        return facts.round_time

    assert round_time() == timedelta(minutes=27)
    # 36 plants of a litre in loads of 15: three trips.
    carried = round_time(load_l=15.0, trip=timedelta(minutes=4))
    assert carried == timedelta(minutes=39)
    assert round_time(hands=2) == timedelta(minutes=13, seconds=30)


def test_water_that_does_not_last_is_not_begun_and_says_until_when_it_would() -> None:
    supplies = Supplies(hands=2, water_l=12_000.0, refill_l_per_h=100.0)
    farm = planting(APRICOTS, equipment=(LINE,), supplies=supplies)
    plan = plan_of(farm, night_grid(-3.0))
    assert plan.chosen == ()
    [left] = plan.left_out
    assert left.why is UnprotectedReason.NOT_ENOUGH
    assert left.short == ("water",)
    [budget] = left.budgets
    # 12,000 L going down by 2,400 L/h: five hours.
    assert budget.lasts_until_utc is not None
    start = budget.lasts_until_utc - timedelta(hours=5)
    assert budget.needed_until_utc > budget.lasts_until_utc
    hours = (budget.needed_until_utc - start) / timedelta(hours=1)
    assert budget.needed == pytest.approx(2500.0 * hours)
    assert budget.short == pytest.approx(budget.needed - 12_000.0 - 100.0 * hours)
    assert "lasts until" in words_of(plan, farm)


def test_the_next_night_needs_a_reserve() -> None:
    supplies = Supplies(hands=2, water_l=45_000.0)
    farm = planting(APRICOTS, equipment=(LINE,), supplies=supplies)
    [water] = plan_of(farm, night_grid(-3.0)).budgets
    assert water.short == 0.0
    assert water.short_for_next > 0.0


def test_one_pair_of_hands_chooses_what_saves_most() -> None:
    alone = planting(
        APRICOTS, CHERRIES, supplies=Supplies(hands=1), equipment=(LINE, HEATERS)
    )
    plan = plan_of(alone, night_grid(-3.0))
    assert [item.block for item in plan.chosen] == ["Apricots"]
    [left] = plan.left_out
    assert (left.block, left.short) == ("Cherries", ("hands",))
    prized = planting(
        APRICOTS,
        replace(CHERRIES, priority=20.0),
        supplies=Supplies(hands=1),
        equipment=(LINE, HEATERS),
    )
    assert [item.block for item in plan_of(prized, night_grid(-3.0)).chosen] == [
        "Cherries"
    ]


def test_without_a_value_for_every_block_priority_alone_counts() -> None:
    blocks = (APRICOTS, replace(CHERRIES, crop_value=None))
    plan = plan_of(planting(*blocks), night_grid(-3.0))
    assert not plan.is_by_value
    assert all(item.worth <= 1.0 for item in plan.chosen)


def test_work_by_day_ends_by_sunset_and_each_has_one_task_at_a_time() -> None:
    plan = plan_of(ALL, night_grid(-3.0))
    by_day = [task for task in plan.tasks if task.is_by_day]
    assert len(by_day) == 4
    assert max(task.deadline_utc for task in by_day) <= SUNSET + timedelta(minutes=2)
    for name in ("Ines", "Tobias"):
        tasks = [task for task in by_day if task.who == (name,)]
        own = sorted((task.start_utc, task.deadline_utc) for task in tasks)
        assert all(a[1] <= b[0] for a, b in pairwise(own))


def test_a_late_start_drops_what_is_worth_least() -> None:
    late = SUNSET - timedelta(minutes=55)
    plan = plan_of(ALL, night_grid(-3.0), late)
    set_up = {task.equipment for task in plan.tasks if task.kind is TaskKind.SET_UP}
    done = {item.equipment for item in plan.chosen}
    # 110 person-minutes are left: not all of 50, 30, 30 and the thermometers fit.
    assert set_up <= done
    spent = sum((task.duration for task in plan.tasks if task.is_by_day), timedelta(0))
    assert spent <= 2 * timedelta(minutes=57)
    assert all(task.start_utc >= late for task in plan.tasks), (
        "nothing may be planned for the past"
    )


def test_after_dark_the_work_of_the_day_is_taken_as_done_and_said_so() -> None:
    plan = plan_of(ALL, night_grid(-3.0), MIDNIGHT)
    assert {item.block for item in plan.chosen} == {
        "Apricots",
        "Cherries",
        "Strawberries",
    }
    assert not any(task.is_by_day for task in plan.tasks)
    assert "TAKEN AS DONE BEFORE DARK" in words_of(plan, ALL)


def test_heat_goes_uphill_in_calm_air_and_where_smoke_was_seen() -> None:
    plan = plan_of(ALL, night_grid(-3.0))
    assert plan.where is not None
    assert (plan.where.side, plan.where.why) == (Compass.NW, HeatSide.UPHILL)
    site = replace(ALL.site, drift_from=Compass.E)
    seen = plan_of(replace(ALL, site=site), night_grid(-3.0)).where
    assert seen is not None
    assert (seen.side, seen.why) == (Compass.E, HeatSide.MEASURED)


def test_heat_goes_upwind_and_the_turn_is_told() -> None:
    site = replace(ALL.site, uphill=None)
    # From the north until 12 UTC, then from the east.
    turning = [0.0] * 24 + [90.0] * 48
    grid = night_grid(
        -3.0, windDirection=layer("wmoUnit:degree_(angle)", list(turning))
    )
    where = plan_of(replace(ALL, site=site), grid).where
    assert where is not None
    assert (where.side, where.why) == (Compass.N, HeatSide.UPWIND)
    assert where.turns_to is Compass.E
    assert where.turns_utc == datetime(2026, 4, 13, 12, tzinfo=UTC)


def test_what_reaches_a_part_of_a_block_saves_a_part_and_says_which() -> None:
    small = (replace(COVERS, area_m2=20.0), replace(LINE, area_m2=103.0))
    farm = planting(APRICOTS, STRAWBERRIES, equipment=small)
    plan = plan_of(farm, night_grid(-3.0))
    whole = plan_of(planting(APRICOTS, STRAWBERRIES), night_grid(-3.0))
    for block in ("Apricots", "Strawberries"):
        part, all_of_it = of_block(plan, block), of_block(whole, block)
        assert 0.0 < part.worth < all_of_it.worth
    words = words_of(plan, farm)
    assert "It reaches 200 of 800 plants: take the coldest rows first." in words
    assert "It reaches 17 of 36 plants" in words


def test_missing_wind_keeps_water_out_of_the_plan() -> None:
    plan = plan_of(
        planting(APRICOTS, equipment=(LINE,)),
        night_grid(-3.0, windSpeed={"values": []}),
    )
    assert plan.chosen == ()
    assert [item.grounds for item in plan.listed] == [(RefusalReason.NO_WIND,)]


def test_a_method_without_numbers_is_listed_and_not_reckoned() -> None:
    farm = planting(APRICOTS, equipment=())
    plan = plan_of(farm, night_grid(-3.0))
    [listed] = plan.listed
    assert listed.verdict is Verdict.NOT_ESTIMATED
    assert "describe it under [[equipment]]" in words_of(plan, farm)


def test_what_was_not_tried_this_season_is_asked_for() -> None:
    day = TWO_IN_THE_AFTERNOON.date()
    old = replace(
        ALL.readiness, pump_tried=day - timedelta(days=400), wake_up_tried=None
    )
    plan = plan_of(replace(ALL, readiness=old), night_grid(-3.0))
    assert plan.unready == ("pump", "wake-up")


def test_a_gain_that_was_measured_here_takes_the_place_of_the_published_one() -> None:
    measured = replace(COVERS, gain_delta_c=1.0, is_measured=True)
    plan = plan_of(
        planting(STRAWBERRIES, equipment=(measured,)), night_grid(0.5, high_c=14.0)
    )
    facts = of_block(plan, "Strawberries").facts
    assert isinstance(facts, GainFacts)
    assert (facts.low_delta_c, facts.source) == (1.0, "measured here")


def test_wind_just_over_the_limit_does_not_read_as_allowed() -> None:
    by_fire = replace(CHERRIES, methods=(METHODS["small fires"],))
    fires = replace(HEATERS, method=METHODS["small fires"])
    farm = planting(by_fire, equipment=(fires,))
    for wind_kmh in (8.0, 8.5, 9.0, 9.5, 10.0):
        words = words_of(plan_of(farm, night_grid(-3.0, wind_kmh=wind_kmh)), farm)
        assert "up to 6 mph as forecast while in use; at most 6" not in words
        if "up to 6 mph" in words:
            break
    else:
        raise AssertionError
    assert "while in use, just over the limit" in words


def test_a_loss_without_a_curve_is_the_chance_that_is_told() -> None:
    run = parse_grid(night_grid(-3.0), TWO_IN_THE_AFTERNOON)
    farm = planting(STRAWBERRIES)
    nights = nights_of(farm, run, TWO_IN_THE_AFTERNOON)
    night = nights.assessment.nights[0]
    [case] = block_cases(nights, farm, night, UNKNOWN_PROGRESS)
    assert case.loss_before == pytest.approx(night.blocks[0].probability, abs=1e-6)
