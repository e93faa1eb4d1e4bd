"""Whole nights through the core: what is judged, what is not, and why."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from math import erf, sqrt
from typing import Any

import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import (
    Assessment,
    BlockNight,
    LowFrom,
    Tier,
)
from frostalert.model.forecast import ForecastRun
from frostalert.model.site import DORMANT, HARVESTED, Block, Rules
from frostalert.risk import assess as assess_module
from frostalert.risk.past_hours import fill_past_hours
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.holdings import SITE, make_block, make_holding
from tests.support.judged import assess, cannot_judge_anything

AFTERNOON = datetime(2026, 4, 12, 22, tzinfo=UTC)  # 15:00 local


def run_of(**changes: Any) -> ForecastRun:
    return parse_grid(grid_text(**changes), AFTERNOON)


def judge(
    *blocks: Block,
    now: datetime = AFTERNOON,
    rules: Rules | None = None,
    **changes: Any,
) -> Assessment:
    return assess(make_holding(*blocks, rules=rules), run_of(**changes), now)


def first_block(assessment: Assessment) -> BlockNight:
    return assessment.nights[0].blocks[0]


def test_a_freezing_night_calls_for_preparation_in_the_afternoon() -> None:
    night = judge(now=AFTERNOON + timedelta(hours=2)).nights[0]
    assert night.night == date(2026, 4, 12)
    assert night.tier is Tier.PREPARE
    assert night.send_by_utc is not None
    assert night.sunset_utc is not None
    # Three hours of work and one to see the message, before dark.
    assert night.send_by_utc <= night.sunset_utc - timedelta(hours=4)


def test_before_the_send_by_time_it_is_an_outlook() -> None:
    assert judge(now=FIRST + timedelta(hours=8)).nights[0].tier is Tier.OUTLOOK


def test_it_is_time_to_act_one_set_up_time_before_the_danger() -> None:
    block = first_block(judge())
    assert block.danger_start_utc is not None
    before = block.danger_start_utc - timedelta(hours=1, minutes=1)
    assert judge(now=before).nights[0].tier is Tier.PREPARE
    assert judge(now=before + timedelta(minutes=2)).nights[0].tier is Tier.ACT


def test_a_low_that_has_passed_is_not_warm_until_the_cold_is_over() -> None:
    at_dawn = datetime(2026, 4, 13, 13, 30, tzinfo=UTC)  # 06:30 local
    night = judge(now=at_dawn).nights[0]
    assert night.night == date(2026, 4, 12)
    assert night.tier is Tier.ACT
    late = datetime(2026, 4, 13, 18, 0, tzinfo=UTC)  # 11:00 local
    over = judge(now=late).nights[0]
    assert over.tier is Tier.NONE
    assert "over" in over.reason
    # The low is that of the hours to come; what has gone by is named beside it.
    block = first_block(judge(now=late))
    assert block.past_low_c == pytest.approx(-3.0)
    assert block.past_low_utc == datetime(2026, 4, 13, 13, tzinfo=UTC)
    assert block.site_low_c is not None
    assert block.site_low_c > 2.0


def test_a_warm_night_is_none_with_a_reason() -> None:
    night = judge(air_c=frosty_hours(low_c=9.0, high_c=20.0)).nights[0]
    assert night.tier is Tier.NONE
    assert "under the limit" in night.reason


def test_the_night_minimum_counts_where_it_is_colder() -> None:
    by_hours = first_block(judge(minimum_c=-1.0))
    assert (by_hours.air_low_c, by_hours.air_low_from) == (-3.0, LowFrom.HOURS)
    by_minimum = first_block(judge(minimum_c=-4.5))
    assert by_minimum.air_low_from is LowFrom.NIGHT_MINIMUM
    assert by_minimum.air_low_c == -4.5
    assert by_minimum.site_low_c == pytest.approx(-4.5, abs=1e-6)


def test_the_cold_spot_counts_on_a_clear_calm_night_and_not_in_wind() -> None:
    hollow = make_block(cold_spot_delta_c=-2.0)
    calm = first_block(judge(hollow))
    windy = first_block(judge(hollow, wind_kmh=40.0))
    assert calm.site_low_c is not None
    assert calm.air_low_c is not None
    assert calm.site_low_c < calm.air_low_c - 1.5
    assert windy.site_low_c == windy.air_low_c


def test_cooled_air_never_falls_below_its_dew_point() -> None:
    hollow = make_block(cold_spot_delta_c=-5.0)
    block = first_block(judge(hollow))
    assert block.dewpoint_at_low_c is not None
    assert block.site_low_c is not None
    assert block.dewpoint_at_low_c <= block.site_low_c
    assert block.wet_bulb_low_c is not None
    assert block.wet_bulb_low_c <= block.site_low_c


def gap(values: list[float | None], hours: range) -> list[float | None]:
    return [None if n in hours else value for n, value in enumerate(values)]


MILD = frosty_hours(low_c=9.0, high_c=20.0)
NIGHT_GAP = range(20, 24)


def test_a_gap_in_a_mild_night_cannot_be_judged() -> None:
    night = judge(air_c=gap(MILD, NIGHT_GAP)).nights[0]
    assert night.tier is Tier.CANNOT_JUDGE
    assert "4 hours" in night.reason


def test_a_gap_does_not_hide_the_cold_beside_it() -> None:
    night = judge(air_c=gap(frosty_hours(), range(18, 20))).nights[0]
    assert night.tier.rank >= Tier.OUTLOOK.rank
    assert "has no air temperature for 2 hours" in night.reason


def test_hours_gone_by_may_be_missing() -> None:
    evening = datetime(2026, 4, 13, 4, tzinfo=UTC)
    night = judge(air_c=gap(MILD, range(8, 11)), now=evening).nights[0]
    assert night.tier is Tier.NONE
    assert night.lacks_past_hours


def test_missing_humidity_leaves_the_air_to_speak() -> None:
    cold = judge(dewpoint_c=[None] * 72).nights[0]
    assert cold.tier.rank >= Tier.OUTLOOK.rank
    block = cold.blocks[0]
    assert block.wet is None
    assert block.why["wet_bulb_low_c"]
    assert block.kill_dry_pct is not None
    mild = judge(air_c=MILD, dewpoint_c=[None] * 72).nights[0]
    assert mild.tier is Tier.CANNOT_JUDGE
    assert "dew point" in mild.reason


def test_a_far_night_that_is_only_begun_is_not_covered_yet() -> None:
    # The grid ends on the evening of the third night, more than 36 hours ahead.
    assessment = judge(air_c=frosty_hours(low_c=9.0, high_c=20.0, hours=60), now=FIRST)
    last = assessment.nights[-1]
    assert last.start_utc - FIRST > timedelta(hours=36)
    assert last.tier is Tier.NOT_COVERED_YET


def test_tomorrow_night_must_be_judged_or_it_is_said_that_it_cannot() -> None:
    assessment = judge(air_c=MILD[:31])
    assert [night.tier for night in assessment.nights] == [
        Tier.NONE,
        Tier.CANNOT_JUDGE,
    ]


def test_a_forecast_more_than_a_day_old_cannot_call_a_night_warm() -> None:
    night = judge(air_c=MILD, updated=AFTERNOON - timedelta(hours=25)).nights[0]
    assert night.tier is Tier.CANNOT_JUDGE
    assert "25 h old" in night.reason


def test_a_forecast_more_than_a_day_old_still_warns() -> None:
    night = judge(updated=AFTERNOON - timedelta(hours=25)).nights[0]
    assert night.tier.rank >= Tier.OUTLOOK.rank


def test_the_sources_own_word_frost_is_a_sign_of_its_own() -> None:
    frost = {
        "values": [
            {
                "validTime": "2026-04-13T09:00:00+00:00/PT4H",
                "value": [{"coverage": "areas", "weather": "frost"}],
            }
        ]
    }
    air = frosty_hours(low_c=3.0, high_c=14.0)
    assert judge(air_c=air).nights[0].tier is Tier.NONE
    night = judge(air_c=air, weather=frost).nights[0]
    assert night.tier is Tier.OUTLOOK
    assert "frost" in night.reason


@pytest.mark.parametrize("low_c", [1.0, 0.0, -1.0, -3.0])
def test_what_our_own_water_would_do_is_no_risk_of_the_night(low_c: float) -> None:
    """Dry air, in which a wetted bud gets far colder than a dry one."""
    air, dry_air = frosty_hours(low_c=low_c), [-12.0] * 72
    bare = first_block(judge(air_c=air, dewpoint_c=list(dry_air)))
    watered = make_block(methods=("micro-sprinklers",))
    wet = first_block(judge(watered, air_c=air, dewpoint_c=list(dry_air)))
    assert (wet.deciding, wet.probability) == ("dry", bare.probability)
    assert wet.tier.rank == bare.tier.rank or wet.water_start_utc is not None
    assert wet.wet is not None
    assert wet.dry is not None
    assert wet.wet.low_c < wet.dry.low_c


def test_a_dry_windy_night_is_no_alarm_because_water_is_planned() -> None:
    watered = make_block(methods=("micro-sprinklers",))
    windy = judge(
        watered,
        air_c=frosty_hours(low_c=2.5, high_c=12.0),
        dewpoint_c=[-20.0] * 72,
        wind_kmh=40.0,
    )
    block = windy.nights[0].blocks[0]
    assert block.deciding == "dry"
    assert block.wet is not None
    assert block.wet.low_c < -3.4
    assert block.tier is Tier.NONE


def test_rain_in_the_evening_makes_buds_wet() -> None:
    rain = {
        "uom": "wmoUnit:percent",
        "values": [{"validTime": "2026-04-13T00:00:00+00:00/PT13H", "value": 95}],
    }
    block = first_block(judge(probabilityOfPrecipitation=rain))
    assert block.wet_probability == pytest.approx(0.95)
    assert block.deciding == "wet"


def test_crops_without_a_curve_get_no_percentage() -> None:
    block = first_block(judge(make_block("Beds", "strawberry", "popcorn")))
    assert block.kill_dry_pct is None
    assert "no published kill curve" in block.why["kill_dry_pct"]
    assert block.probability is not None
    assert block.probability_below_t10 is None


def test_muted_blocks_are_quiet_and_an_old_dormant_is_judged() -> None:
    harvested = make_block(stage=HARVESTED)
    assert judge(harvested).nights[0].tier is Tier.NONE
    fresh = make_block(stage=DORMANT, seen=date(2026, 4, 10))
    assert judge(fresh).nights[0].tier is Tier.NONE
    old = make_block(stage=DORMANT, seen=date(2026, 2, 1))
    [found] = judge(old).nights[0].blocks
    assert found.tier.rank
    assert found.probability is not None
    assert found.stage.unseen_since == date(2026, 1, 1)
    assert found.stage.stage == "green fruit"


def test_no_night_of_winter_is_unjudged_because_nobody_looked() -> None:
    december = datetime(2026, 12, 12, 23, tzinfo=UTC)
    for stage, seen in (("full bloom", date(2025, 4, 1)), (DORMANT, date(2026, 10, 1))):
        block = make_block(stage=stage, seen=seen)
        hours = grid_text(
            air_c=frosty_hours(low_c=-15.0, high_c=-2.0),
            first=december.replace(hour=7),
            updated=december - timedelta(hours=1),
        )
        run = parse_grid(hours, december)
        night = assess(make_holding(block), run, december).nights[0]
        assert night.tier is Tier.NONE
        assert [item.stage.stage for item in night.blocks] == [DORMANT]


def test_the_coldest_block_gives_the_site_its_tier() -> None:
    hardy = make_block("Apples", "apple", "silver tip")
    night = judge(hardy, make_block(), now=AFTERNOON + timedelta(hours=2)).nights[0]
    assert [block.tier for block in night.blocks] == [Tier.NONE, Tier.PREPARE]
    assert night.tier is Tier.PREPARE
    assert night.worst is not None
    assert night.worst.block == "Apricots"


def test_probability_and_kill_are_those_of_the_deciding_bud() -> None:
    block = first_block(judge())
    assert block.bud is not None
    assert block.deciding == "dry"
    # Normal distribution about the expected low, T10 of apricot in full bloom.
    t10_c = (27.0 - 32.0) / 1.8
    z = (t10_c - block.bud.low_c) / block.sigma_c
    expected = 0.5 * (1.0 + erf(z / sqrt(2.0)))
    assert block.probability == pytest.approx(expected, abs=1e-6)


def test_earlier_runs_fill_the_hours_gone_by() -> None:
    early = run_of()
    later_air = frosty_hours()[24:]
    late = parse_grid(
        grid_text(
            air_c=later_air,
            first=FIRST + timedelta(hours=24),
            updated=FIRST + timedelta(hours=26),
        ),
        AFTERNOON,
    )
    now = FIRST + timedelta(hours=26)
    alone = assess(make_holding(), late, now).nights[0]
    filled = assess(make_holding(), fill_past_hours(late, [early]), now).nights[0]
    assert alone.lacks_past_hours
    assert not filled.lacks_past_hours
    assert filled.past_low_c == pytest.approx(-3.0)
    assert filled.blocks[0].past_low_c == pytest.approx(-3.0)


def test_water_stops_after_the_last_thaw_not_the_first() -> None:
    # The wet bulb rises above freezing about midnight and falls again before dawn.
    air = frosty_hours()
    air[18:22] = [4.0, 5.0, 5.0, 4.0]
    night = judge(air_c=air).nights[0]
    assert night.stop_not_before_utc is not None
    assert night.stop_not_before_utc > datetime(2026, 4, 13, 14, tzinfo=UTC)


def test_without_humidity_water_stops_no_sooner_than_the_air_thaws() -> None:
    night = judge(dewpoint_c=[None] * len(frosty_hours())).nights[0]
    assert night.blocks[0].wet_bulb_low_c is None
    assert night.blocks[0].air_above_zero_utc is not None
    assert night.stop_not_before_utc == night.blocks[0].air_above_zero_utc
    assert night.cold_over_utc is not None
    assert night.stop_not_before_utc > night.cold_over_utc


def test_the_hours_to_stop_stay_what_they_were_once_they_have_passed() -> None:
    run = run_of()
    early = assess(make_holding(), run, datetime(2026, 4, 13, 8, tzinfo=UTC)).nights[0]
    late = assess(make_holding(), run, datetime(2026, 4, 13, 18, tzinfo=UTC)).nights[0]
    assert early.night == late.night
    assert early.stop_not_before_utc is not None
    assert early.cold_over_utc is not None
    assert early.cold_over_utc < early.stop_not_before_utc
    assert early.stop_not_before_utc < datetime(2026, 4, 13, 18, tzinfo=UTC)
    assert late.stop_not_before_utc == early.stop_not_before_utc
    assert late.heat_out_utc == early.heat_out_utc


def test_the_sources_minimum_speaks_where_hours_are_missing() -> None:
    assessment = judge(air_c=frosty_hours(low_c=5.0, hours=31 + 6), minimum_c=-8.0)
    night = assessment.nights[1]
    assert night.blocks[0].air_low_c == -8.0
    assert night.tier is Tier.OUTLOOK
    assert "own low of the night" in night.reason


def test_a_grid_that_begins_at_the_closing_noon_is_no_disaster() -> None:
    start = datetime(2026, 4, 13, 19, tzinfo=UTC)
    run = parse_grid(grid_text(first=start, updated=start, air_c=MILD), AFTERNOON)
    assessment = assess(make_holding(), run, start - timedelta(hours=2))
    assert assessment.nights[0].tier is Tier.CANNOT_JUDGE


def test_without_any_forecast_no_night_is_called_warm() -> None:
    assessment = cannot_judge_anything(make_holding(), AFTERNOON, "nothing came")
    assert [night.tier for night in assessment.nights] == [Tier.CANNOT_JUDGE] * 2
    assert assessment.problem == "nothing came"


@pytest.mark.parametrize(
    ("zone", "latitude", "longitude"),
    [
        ("America/Anchorage", 70.0, -150.0),
        ("Pacific/Auckland", -40.0, 176.0),
        ("Asia/Kathmandu", 27.7, 85.3),
    ],
)
def test_any_place_on_earth_gets_nights(
    zone: str, latitude: float, longitude: float
) -> None:
    site = replace(SITE, time_zone=zone, latitude=latitude, longitude=longitude)
    assessment = assess(make_holding(site=site), run_of(), AFTERNOON)
    assert len(assessment.nights) >= 3
    assert all(night.reason for night in assessment.nights)


def test_what_is_dormant_needs_no_forecast_until_its_look_is_old() -> None:
    def tiers(**look: Any) -> list[Tier]:
        farm = make_holding(replace(make_block(stage="dormant"), **look))
        assessment = cannot_judge_anything(farm, AFTERNOON, "nothing came")
        return [night.tier for night in assessment.nights]

    fresh = AFTERNOON.date() - timedelta(days=2)
    old = AFTERNOON.date() - timedelta(days=90)
    assert tiers(stage_seen=fresh) == [Tier.NONE] * 2
    assert tiers(stage_seen=old) == [Tier.CANNOT_JUDGE] * 2


def test_whatever_breaks_a_night_that_nobody_can_judge_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def broken(*_: object) -> None:
        message = "stages that fail"
        raise ValueError(message)

    monkeypatch.setattr(assess_module, "stages_on", broken)
    assessment = cannot_judge_anything(make_holding(), AFTERNOON, "nothing came")
    assert [night.tier for night in assessment.nights] == [Tier.CANNOT_JUDGE] * 2
