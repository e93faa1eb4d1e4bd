"""Winter and the stages that nobody looked at."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.agronomy.ageing import Pace
from frostalert.agronomy.crop_file import parse_crop
from frostalert.agronomy.crops import find_crop, packaged_crop_names
from frostalert.agronomy.cultivar import of_cultivar
from frostalert.agronomy.heat_sum import STAGE_CD, degree_days_cd
from frostalert.agronomy.stages import HALF_YEAR_DAYS, Look, stage_in_force
from frostalert.agronomy.winter import (
    STAND_IN_CD,
    SpringAir,
    calendar_wake,
    fruit_year,
    spring_of,
    warm_days,
)
from frostalert.model.assessment import StageInForce
from frostalert.model.site import DORMANT, HARVESTED
from frostalert.model.warmth import Sighting, Spring, StageWarmth

DAY = timedelta(days=1)
NEW_YEAR = date(2027, 1, 1)
COLD, MILD, WARM = (-6.0, 2.0), (2.0, 12.0), (10.0, 22.0)


def on(
    crop: str,
    stage: str,
    seen: date,
    night: date,
    spring: Spring | None = None,
    *,
    is_south: bool = False,
) -> StageInForce:
    return stage_in_force(
        find_crop(crop, {}),
        Look(stage=stage, seen=seen),
        night,
        Pace(),
        is_south=is_south,
        spring=spring,
    )


def spring(
    crop: str,
    today: date,
    days: dict[date, tuple[float, float]],
    sightings: list[Sighting] | None = None,
) -> Spring:
    air = SpringAir(
        known=days,
        today=today,
        last=today + 16 * DAY,
        is_south=False,
        warm_day_c=20.0,
        pace_cd=5.0,
    )
    return spring_of(find_crop(crop, {}), air, sightings or [])


def weather(
    first: date, *stretches: tuple[int, tuple[float, float]]
) -> dict[date, tuple[float, float]]:
    air = [low_high for length, low_high in stretches for _ in range(length)]
    return {first + n * DAY: low_high for n, low_high in enumerate(air)}


# --- the year ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "is_south", "begins", "midwinter"),
    [
        (date(2026, 12, 28), False, date(2026, 11, 1), date(2027, 1, 1)),
        (date(2026, 4, 12), False, date(2025, 11, 1), date(2026, 1, 1)),
        (date(2026, 10, 31), False, date(2025, 11, 1), date(2026, 1, 1)),
        (date(2026, 6, 10), True, date(2026, 5, 1), date(2026, 7, 1)),
        (date(2026, 1, 10), True, date(2025, 5, 1), date(2025, 7, 1)),
    ],
)
def test_a_fruit_year_runs_from_leaf_fall(
    day: date, begins: date, midwinter: date, *, is_south: bool
) -> None:
    year = fruit_year(day, is_south=is_south)
    assert (year.begins, year.counts_from) == (begins, midwinter)


def test_the_calendar_wakes_a_crop_in_february_or_at_new_year() -> None:
    north = fruit_year(NEW_YEAR, is_south=False)
    south = fruit_year(date(2026, 8, 1), is_south=True)
    apple, apricot = find_crop("apple", {}), find_crop("apricot", {})
    assert calendar_wake(apple, north) == date(2027, 2, 1)
    assert calendar_wake(apple, south) == date(2026, 8, 1)
    # No degree-days of apricot are published.
    assert calendar_wake(apricot, north) == NEW_YEAR
    assert calendar_wake(apricot, south) == date(2026, 7, 1)


# --- winter -----------------------------------------------------------------------


@pytest.mark.parametrize("stage", ["full bloom", DORMANT, HARVESTED])
def test_last_years_look_says_nothing_in_december(stage: str) -> None:
    found = on("apricot", stage, date(2025, 3, 20), date(2026, 12, 28))
    assert found.stage == DORMANT
    assert found.is_muted
    assert found.unseen_since is None


def test_a_stage_of_half_a_year_ago_still_counts_and_then_not() -> None:
    seen = date(2026, 5, 1)
    last = on("apple", "post bloom", seen, seen + HALF_YEAR_DAYS * DAY)
    assert (last.stage, last.is_muted) == ("post bloom", False)
    winter = on("apple", "post bloom", seen, seen + (HALF_YEAR_DAYS + 1) * DAY)
    assert (winter.stage, winter.is_muted) == (DORMANT, True)
    assert "184 days" in winter.reason


def test_a_block_dormant_since_november_is_quiet_all_winter() -> None:
    seen = date(2026, 11, 20)
    for age in range(72):
        found = on("apple", DORMANT, seen, seen + age * DAY)
        assert (found.stage, found.is_muted) == (DORMANT, True)


def test_winter_in_the_south_is_july() -> None:
    seen = date(2026, 9, 20)
    july = on("apple", "full bloom", seen, date(2027, 7, 10), is_south=True)
    assert july.is_muted
    october = on("apple", "full bloom", seen, date(2027, 10, 5), is_south=True)
    assert not october.is_muted
    assert october.unseen_since == date(2027, 8, 1)


@pytest.mark.parametrize(
    ("crop", "limit_f"), [("kiwifruit", 14), ("grape", -5), ("concord-grape", -18)]
)
def test_a_published_dormant_limit_counts_all_winter(crop: str, limit_f: float) -> None:
    stage = find_crop(crop, {}).stages[0].stage
    found = on(crop, stage, date(2025, 4, 1), date(2026, 12, 28))
    assert found.stage == DORMANT
    assert not found.is_muted
    assert found.threshold is not None
    assert found.threshold.alarm_c == pytest.approx((limit_f - 32) / 1.8)


def test_no_calendar_makes_an_evergreen_dormant() -> None:
    orange = on("orange", "fruit", date(2025, 12, 1), date(2026, 12, 28))
    assert (orange.stage, orange.is_muted) == ("fruit", False)
    beds = on("strawberry", "green fruit", date(2026, 5, 1), date(2026, 12, 28))
    assert not beds.is_muted
    assert beds.threshold is not None
    # Inactive plants: 10 degF (Penn State).
    assert beds.threshold.alarm_c == pytest.approx((10 - 32) / 1.8)


# --- waking -----------------------------------------------------------------------


def test_the_fastest_published_warmth_wakes_ten_days_before_it() -> None:
    # McIntosh at Geneva: 24 degF days above 43 degF, 13.3 degC days.
    a_day = degree_days_cd(*WARM, (43 - 32) / 1.8)
    assert STAND_IN_CD / a_day < 2
    found = spring("apple", date(2027, 1, 20), weather(NEW_YEAR, (15, COLD), (9, WARM)))
    assert found.published_on == date(2027, 1, 17)
    assert found.wakes == date(2027, 1, 7)
    assert found.first_on == date(2027, 1, 16)


def test_the_earliest_own_year_wakes_a_fortnight_before() -> None:
    early = Sighting(
        block="A", crop="apple", stage="silver tip", seen=date(2026, 1, 30)
    )
    later = Sighting(block="B", crop="apple", stage="green tip", seen=date(2025, 2, 9))
    this = Sighting(block="A", crop="apple", stage="green tip", seen=date(2027, 1, 3))
    autumn = Sighting(
        block="A", crop="apple", stage="post bloom", seen=date(2025, 12, 1)
    )
    other = Sighting(block="C", crop="pear", stage="full bloom", seen=date(2026, 1, 10))
    cold = weather(NEW_YEAR, (60, COLD))
    found = spring(
        "apple", date(2027, 1, 20), cold, [early, later, this, autumn, other]
    )
    assert found.wakes == date(2027, 1, 16)
    assert found.first_on is None


def test_after_waking_a_cold_winter_leaves_it_dormant_and_asks_to_look() -> None:
    today = date(2027, 2, 20)
    cold = spring("apple", today, weather(NEW_YEAR, (67, COLD)))
    found = on("apple", "full bloom", date(2026, 4, 20), today, cold)
    assert (found.stage, found.is_muted) == (DORMANT, True)
    assert found.unseen_since == date(2027, 2, 1)


def test_a_block_that_nobody_looked_at_is_judged_at_what_warmth_allows() -> None:
    today = date(2027, 3, 10)
    days = weather(NEW_YEAR, (55, COLD), (40, MILD))
    found = spring("apple", today, days)
    assert found.first_on is not None
    judged = on("apple", "full bloom", date(2026, 4, 20), today, found)
    assert judged.is_assumed
    assert not judged.is_muted
    assert judged.unseen_since == date(2027, 2, 1)
    assert judged.stage not in (DORMANT, "full bloom")
    assert "fastest published warmth" in judged.reason
    # Once somebody looks, that counts.
    seen = on("apple", "silver tip", today - DAY, today, found)
    assert (seen.stage, seen.unseen_since) == ("silver tip", None)


def test_a_warm_spell_moves_it_on_by_degree_days_and_warm_days() -> None:
    today = date(2027, 3, 10)
    days = weather(NEW_YEAR, (59, COLD), (30, WARM))
    found = spring("apricot", today, days)
    judged = on("apricot", DORMANT, date(2026, 12, 1), today, found)
    age = (today - date(2027, 3, 2)).days
    assert found.first_on == date(2027, 3, 2)
    # Eight days that count double are two stages; eight times 11 degree-days too.
    assert age == 8
    assert judged.stage == "calyx red"
    assert "of any fruit" in judged.reason


def test_without_any_weather_the_calendar_tells() -> None:
    found = on("apple", "full bloom", date(2025, 4, 20), date(2026, 4, 12))
    assert found.threshold is not None
    assert found.threshold.alarm_c == pytest.approx((28 - 32) / 1.8)
    assert "the calendar" in found.reason
    assert "357 days" in found.reason


def test_days_of_which_nothing_is_known_count_like_fast_ones_after_waking() -> None:
    nothing = spring("apple", date(2027, 4, 1), {})
    assert nothing.wakes == date(2027, 2, 1)
    assert nothing.first_on == date(2027, 2, 2)
    known = spring("apple", date(2027, 4, 1), weather(NEW_YEAR, (120, COLD)))
    assert known.first_on is None


def test_a_dormant_block_seen_this_spring_counts_from_that_look() -> None:
    seen = date(2027, 3, 1)
    days = weather(NEW_YEAR, (20, WARM), (80, COLD))
    night = seen + 31 * DAY
    found = on("apple", DORMANT, seen, night, spring("apple", night, days))
    unlooked = on(
        "apple", DORMANT, seen - 91 * DAY, night, spring("apple", night, days)
    )
    assert found.threshold is not None
    assert unlooked.threshold is not None
    assert found.threshold.alarm_c < unlooked.threshold.alarm_c


def test_harvested_ends_with_the_winter() -> None:
    autumn = date(2026, 10, 20)
    assert on("apple", HARVESTED, autumn, date(2027, 1, 31)).is_muted
    spring_night = on("apple", HARVESTED, autumn, date(2027, 4, 12))
    assert not spring_night.is_muted
    assert "new season" in spring_night.reason
    beds = on("strawberry", HARVESTED, date(2026, 7, 1), date(2026, 9, 1))
    assert beds.is_muted
    assert beds.stage == HARVESTED


# --- ageing -----------------------------------------------------------------------


def test_a_day_that_reached_the_warm_days_high_counts_double() -> None:
    seen = date(2027, 4, 1)
    days = weather(seen, (3, COLD), (2, (9.0, 20.0)), (9, COLD))
    ahead = tuple(seen + n * DAY for n in range(1, 14))
    warmth = StageWarmth(
        days=ahead,
        sums_cd=tuple(0.0 for _ in ahead),
        needs_cd=(STAGE_CD,),
        is_own=False,
        is_whole=True,
        warm_days=warm_days(ahead, days, 20.0),
    )
    apple = find_crop("apple", {})
    stages = [
        stage_in_force(
            apple,
            Look(stage="tight cluster", seen=seen, warmth=warmth),
            seen + age * DAY,
            Pace(),
        ).stage
        for age in (5, 6)
    ]
    assert stages == ["tight cluster", "first pink"]


def test_cranberry_grows_tender_after_five_days_at_a_stage() -> None:
    seen = date(2027, 5, 1)
    fresh = on("cranberry-stevens", "bud swell", seen, seen + 4 * DAY)
    old = on("cranberry-stevens", "bud swell", seen, seen + 5 * DAY)
    assert fresh.threshold is not None
    assert old.threshold is not None
    assert fresh.threshold.alarm_c == pytest.approx((25 - 32) / 1.8)
    assert old.threshold.alarm_c == pytest.approx((27 - 32) / 1.8)
    assert (old.stage, old.is_assumed) == ("bud swell", False)
    assert "5 days at it" in old.reason
    # Looking again does not make it young.
    again = stage_in_force(
        find_crop("cranberry-stevens", {}),
        Look(stage="bud swell", seen=seen + 5 * DAY, since=seen),
        seen + 5 * DAY,
        Pace(),
    )
    assert again.threshold is old.threshold


def test_ripe_cranberries_count_as_hardier_only_when_seen() -> None:
    seen = date(2026, 8, 20)
    unseen = on("cranberry-early-black", "white fruit", seen, seen + 60 * DAY)
    assert unseen.stage == "white fruit"
    red = on("cranberry-early-black", "deep red", seen + 50 * DAY, seen + 60 * DAY)
    assert red.threshold is not None
    assert red.threshold.alarm_c == pytest.approx((23 - 32) / 1.8)


def alarm_c(found: StageInForce) -> float:
    """What warnings are measured against; nothing is far below everything."""
    return -99.0 if found.threshold is None else found.threshold.alarm_c


@given(
    crop=st.sampled_from(packaged_crop_names()),
    place=st.integers(0, 20),
    seen_on=st.integers(0, 120),
    daily_cd=st.lists(st.floats(0.0, 15.0), min_size=183, max_size=183),
    is_own=st.booleans(),
    warm=st.sets(st.integers(1, 183)),
)
def test_warnings_never_get_hardier_with_time_within_a_season(
    crop: str,
    place: int,
    seen_on: int,
    daily_cd: list[float],
    warm: set[int],
    *,
    is_own: bool,
) -> None:
    found = find_crop(crop, {})
    seen = NEW_YEAR + seen_on * DAY
    row = found.stages[place % len(found.stages)]
    days = tuple(seen + n * DAY for n in range(1, 184))
    sums = [sum(daily_cd[: n + 1]) for n in range(183)]
    warmth = StageWarmth(
        days=days,
        sums_cd=tuple(sums),
        needs_cd=tuple(STAGE_CD * (n + 1) for n in range(15)),
        is_own=is_own,
        is_whole=True,
        warm_days=tuple(seen + n * DAY for n in sorted(warm)),
    )
    look = Look(stage=row.stage, seen=seen, warmth=warmth)
    alarms = [
        alarm_c(stage_in_force(found, look, seen + age * DAY, Pace()))
        for age in range(HALF_YEAR_DAYS + 1)
    ]
    assert alarms[0] >= row.alarm_c
    assert all(after >= before for before, after in pairwise(alarms))


@given(
    crop=st.sampled_from(packaged_crop_names()),
    lows=st.lists(st.floats(-15.0, 15.0), min_size=250, max_size=250),
    is_known=st.lists(st.booleans(), min_size=250, max_size=250),
    seen_on=st.integers(-90, 100),
)
def test_nor_does_a_block_that_nobody_looked_at(
    crop: str, lows: list[float], is_known: list[bool], seen_on: int
) -> None:
    days = {
        NEW_YEAR + n * DAY: (low, low + 12.0)
        for n, (low, known) in enumerate(zip(lows, is_known, strict=True))
        if known
    }
    # All that will be known, as on the last day: nothing but time moves on.
    when = NEW_YEAR + 234 * DAY
    woken = spring(crop, when, days)
    alarms = [
        alarm_c(on(crop, DORMANT, NEW_YEAR + seen_on * DAY, NEW_YEAR + n * DAY, woken))
        for n in range(max(0, seen_on), 230)
    ]
    assert all(after >= before for before, after in pairwise(alarms))


# --- cultivars --------------------------------------------------------------------


def test_a_hardier_cultivar_is_hardier_until_petal_fall() -> None:
    # Penn State: Rome Beauty 2 degF hardier, all alike after petal fall.
    apple = find_crop("apple", {})
    rome = of_cultivar(apple, -2.0 / 1.8)
    for ours, table in zip(rome.stages, apple.stages, strict=True):
        moved = 0.0 if table.stage == "post bloom" else -2.0 / 1.8
        assert ours.t10_c is not None
        assert ours.t90_c is not None
        assert ours.t10_c - (table.t10_c or 0.0) == pytest.approx(moved)
        assert ours.t90_c - (table.t90_c or 0.0) == pytest.approx(moved)
    assert of_cultivar(apple, 0.0) is apple
    assert of_cultivar(apple, -2.0 / 1.8) is rome
    assert rome.name == apple.name


def test_a_more_tender_cultivar_is_more_tender_throughout() -> None:
    for name in packaged_crop_names():
        crop = find_crop(name, {})
        moved = of_cultivar(crop, 0.5)
        for ours, table in zip(moved.stages, crop.stages, strict=True):
            assert ours.alarm_c == pytest.approx(table.alarm_c + 0.5)


def test_an_own_crop_may_say_all_that_a_packaged_one_does() -> None:
    crop = parse_crop(
        {
            "name": "medlar",
            "title": "medlar",
            "aliases": ["Mespilus"],
            "evergreen": False,
            "dormant": {"damage_begins": "-10 degF", "source": "own notes"},
            "first_stage": {
                "stage": "bud swell",
                "degree_days_degf": 90,
                "base": "41 degF",
                "source": "own notes",
            },
            "stages": [
                {
                    "stage": "bud swell",
                    "damage_begins": "20 degF",
                    "aged": "22 degF",
                    "aged_after_days": 6,
                    "source": "own notes",
                },
                {
                    "stage": "bloom",
                    "bloom": True,
                    "damage_begins": "28 degF",
                    "source": "own notes",
                },
            ],
        },
        "medlar.toml",
    )
    assert crop.aliases == ("mespilus",)
    assert crop.dormant is not None
    assert crop.dormant.alarm_c == pytest.approx((-10 - 32) / 1.8)
    assert crop.first_stage is not None
    assert crop.first_stage.need_cd == pytest.approx(50.0)
    assert crop.first_stage.base_c == pytest.approx(5.0)
    assert [row.aged_days for row in crop.stages] == [6, 0]
    assert [row.is_bloom for row in crop.stages] == [False, True]
