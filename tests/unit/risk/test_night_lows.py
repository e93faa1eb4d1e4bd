"""Whose low is told: bent by night alone, of hours to come, never half a night's.

Times are those of `tests.support.grids`: the low is at 13 UTC, six in the morning.
"""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from frostalert.cycle.document import assessment_document
from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import BlockNight, LowFrom, NightAssessment, Tier
from frostalert.model.forecast import HOUR, ForecastRun, Period
from frostalert.model.nights import Nights, TermName
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Block
from frostalert.physics.low import USUAL_DEFICIT_C
from frostalert.risk.charting import night_chart
from frostalert.risk.explain import explain
from frostalert.risk.learning import night_pair
from frostalert.risk.past_hours import fill_past_hours
from frostalert.risk.site_hours import prepare_site_hours
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.holdings import SITE, make_block, make_holding
from tests.support.judged import nights_of

AFTERNOON = datetime(2026, 4, 12, 22, tzinfo=UTC)  # 15:00 local
NIGHT = date(2026, 4, 12)
LOST: dict[str, Any] = {"minTemperature": {"values": []}}
WINDY_KMH = 40.0
MILD = frosty_hours(low_c=9.0, high_c=20.0)


def run_of(**changes: Any) -> ForecastRun:
    return parse_grid(grid_text(**changes), AFTERNOON)


def nights(*blocks: Block, now: datetime = AFTERNOON, **changes: Any) -> Nights:
    return nights_of(make_holding(*blocks), run_of(**changes), now)


def night_and_block(found: Nights) -> tuple[NightAssessment, BlockNight]:
    night = found.assessment.nights[0]
    return night, night.blocks[0]


def at(moment: datetime) -> int:
    """Return the place of a moment on the grid."""
    return (moment - FIRST) // HOUR


# --- bending to the night minimum


def test_a_cold_noon_is_not_bent_to_the_minimum_of_a_windy_night() -> None:
    # The opening noon is the coldest hour of the day; the night has a minimum of its
    # own, 1.7 degC under its hours, and all of the night is lowered alike.
    air: list[float | None] = [10.0] * 72
    air[at(FIRST + 7 * HOUR)] = 7.8  # noon, local
    found = nights(air_c=air, minimum_c=8.3, wind_kmh=WINDY_KMH, now=FIRST)
    shared = found.site_hours
    assert shared is not None
    night = shared.nights[1]
    assert night.window.night == NIGHT
    assert night.source_low_c == pytest.approx(7.8)
    assert night.low_c == pytest.approx(7.8)
    assert shared.air_c[at(FIRST + 7 * HOUR)] == pytest.approx(7.8)
    at_night = shared.air_c[at(datetime(2026, 4, 13, 9, tzinfo=UTC))]
    assert at_night == pytest.approx(8.3)
    # Two hours after the sun is up, and the minimum's own hours over, it is day.
    assert shared.air_c[at(datetime(2026, 4, 13, 18, tzinfo=UTC))] == 10.0


@pytest.mark.parametrize("hour", [9, 13, 16])
def test_that_time_goes_by_bends_no_hour_anew(hour: int) -> None:
    # 2:40, 6:40 and 9:40 local: before the trough, in it, after it.
    now = datetime(2026, 4, 13, hour, 40, tzinfo=UTC)
    run = run_of(minimum_c=-5.0)
    before = prepare_site_hours(run, SITE, AFTERNOON).air_c
    at_night = prepare_site_hours(run, SITE, now).air_c
    assert at_night.tolist() == before.tolist()
    gone = at(datetime(2026, 4, 13, 9, tzinfo=UTC))
    assert (before[gone - 3 : gone] < run.hours.air_c[gone - 3 : gone]).all()
    first, later = (
        nights(now=moment, minimum_c=-5.0).assessment.nights[0].blocks[0]
        for moment in (AFTERNOON, now)
    )
    assert first.danger_start_utc is not None
    assert first.danger_start_utc == later.danger_start_utc


def test_a_minimum_whose_trough_has_gone_by_is_no_low_to_come() -> None:
    now = datetime(2026, 4, 13, 15, 30, tzinfo=UTC)  # 08:30, its period runs to 10:00
    night = prepare_site_hours(run_of(minimum_c=-6.0), SITE, now).nights[0]
    assert night.source_low_c is not None
    assert night.source_low_c > -4.0
    assert night.past_low_c == pytest.approx(-3.0)


# --- a minimum that was lost


@pytest.mark.parametrize(
    "layer",
    [
        {"values": []},
        None,
        {
            "uom": "wmoUnit:degC",
            "values": [{"validTime": "2026-04-13T03:00:00+00:00/PT14H", "value": None}],
        },
        {
            "uom": "wmoUnit:degC",
            "values": [{"validTime": "2019-04-13T03:00:00+00:00/PT14H", "value": -4}],
        },
    ],
    ids=["empty", "absent", "null", "another year"],
)
def test_a_lost_night_minimum_costs_the_usual_deficit_and_is_said(layer: Any) -> None:
    kept = nights(minimum_c=-3.0)
    lost = nights(minTemperature=layer)
    (_, with_it), (_, without) = night_and_block(kept), night_and_block(lost)
    assert with_it.site_low_c == pytest.approx(-3.0)
    assert without.site_low_c == pytest.approx(-3.0 - USUAL_DEFICIT_C)
    # What the source said stays what it said.
    assert (without.air_low_c, without.air_low_from) == (-3.0, LowFrom.HOURS)
    assert without.probability is not None
    assert with_it.probability is not None
    assert without.probability > with_it.probability
    assert lost.assessment.forecast is not None
    assert any(
        "its own minimum is missing for Sun 12 Apr" in note
        for note in lost.assessment.forecast.notes
    )
    assert kept.assessment.forecast is not None
    assert not any("minimum" in note for note in kept.assessment.forecast.notes)


def test_the_usual_deficit_is_explained_as_a_term_of_its_own() -> None:
    block = make_block(cold_spot_delta_c=-2.0)
    found = nights_of(make_holding(block), run_of(**LOST), AFTERNOON)
    steps = {step.name: step.value for step in explain(found, block, NIGHT).steps}
    named = "in place of a night minimum that was not sent"
    assert steps[named] == pytest.approx(-USUAL_DEFICIT_C)
    parts = ("grid air at that hour", named, "lapse to the site's height", "cold spot")
    total = sum(steps[name] or 0.0 for name in parts)
    assert total == pytest.approx(steps["air among the plants"])
    kept = nights_of(make_holding(block), run_of(), AFTERNOON)
    assert named not in {step.name for step in explain(kept, block, NIGHT).steps}


def test_the_usual_deficit_is_not_added_where_the_trough_is_not_known() -> None:
    def names(**changes: Any) -> set[TermName]:
        return {term.name for term in nights(**changes).terms}

    assert TermName.USUAL_DEFICIT in names(**LOST)
    # The grid ends before dawn, or the trough has gone by.
    short = frosty_hours(hours=24)
    assert TermName.USUAL_DEFICIT not in names(air_c=short, **LOST)
    late = datetime(2026, 4, 14, 15, tzinfo=UTC)
    terms = nights(now=late, air_c=frosty_hours(hours=60), **LOST).terms
    assert TermName.USUAL_DEFICIT not in {term.name for term in terms}


def test_a_source_that_gives_no_minimums_has_lost_none() -> None:
    run = replace(run_of(**LOST), gives_minimums=False)
    found = nights_of(make_holding(), run, AFTERNOON)
    assert TermName.USUAL_DEFICIT not in {term.name for term in found.terms}
    assert found.assessment.nights[0].blocks[0].site_low_c == pytest.approx(-3.0)


# --- minimums of forecasts that were replaced


def six_hours_run(first: datetime, air_c: float) -> ForecastRun:
    """A run that begins at its first hour, with a six-hour minimum at every step."""
    hours = run_of(air_c=[air_c] * 40, first=first, updated=first).hours
    base = run_of(air_c=[air_c] * 40, first=first, updated=first)
    steps = [first + n * HOUR for n in range(34)]
    return replace(
        base,
        hours=hours,
        night_minimums=tuple(
            Period(start_utc=step, end_utc=step + 6 * HOUR, value=air_c)
            for step in steps
        ),
    )


def test_minimums_of_replaced_forecasts_do_not_come_back_when_they_end() -> None:
    dusk = datetime(2026, 4, 13, 1, tzinfo=UTC)
    # Until 20:00 the forecast is -2 degC; from then on it is +5.6 in every run.
    runs = [
        six_hours_run(
            dusk + n * HOUR, -2.0 if dusk + n * HOUR < dusk + 3 * HOUR else 5.6
        )
        for n in range(13)
    ]
    for count in range(4, 13):
        newest, *earlier = reversed(runs[: count + 1])
        filled = fill_past_hours(newest, earlier)
        now = newest.hours.first_utc
        night = prepare_site_hours(filled, SITE, now).nights[0]
        assert night.source_low_c == pytest.approx(5.6), now
        kept = [item.value for item in filled.night_minimums]
        assert min(kept) == pytest.approx(5.6), now


def test_an_ended_minimum_is_kept_while_no_later_run_has_its_hours() -> None:
    first = datetime(2026, 4, 13, 1, tzinfo=UTC)
    old = six_hours_run(first, -2.0)
    # The service was silent for seven hours.
    late = six_hours_run(first + 7 * HOUR, 3.0)
    filled = fill_past_hours(late, [old])
    ended = [item for item in filled.night_minimums if item.value == -2.0]
    assert {item.end_utc for item in ended} == {first + 6 * HOUR, first + 7 * HOUR}
    night = prepare_site_hours(filled, SITE, first + 7 * HOUR).nights[0]
    assert night.source_low_c == pytest.approx(3.0)
    assert night.past_low_c == pytest.approx(-2.0)


# --- hours gone by are named apart


def cold_noon() -> list[float | None]:
    """A night of +5 degC after a noon of -4."""
    air: list[float | None] = [5.0] * 72
    air[6:9] = [-4.0] * 3  # 11 to 13, local
    return air


def test_a_cold_noon_that_has_gone_by_is_no_risk_of_the_night() -> None:
    night, block = night_and_block(nights(air_c=cold_noon()))
    assert night.tier is Tier.NONE
    assert block.probability is not None
    assert block.probability < 0.05
    assert block.site_low_c == pytest.approx(5.0)
    assert (night.low_c, night.past_low_c) == (5.0, None)
    assert block.past_low_c is None
    assert "not begun to cool" in block.why["past_low_c"]
    # An evening that follows a cold noon is called for by its own hours.
    late = cold_noon()
    late[25:27] = [-4.0, -4.0]
    night, block = night_and_block(nights(air_c=late))
    assert block.danger_start_utc is not None
    assert block.danger_start_utc > FIRST + 23 * HOUR
    assert night.tier is Tier.OUTLOOK


def test_harm_that_the_evening_has_done_is_named_and_counts_for_later_nights() -> None:
    air: list[float | None] = [6.0] * 96
    air[15:18] = [-6.0] * 3  # 20 to 22, local
    now = datetime(2026, 4, 13, 9, tzinfo=UTC)  # 02:00
    found = nights(air_c=air, minimum_c=None, now=now, **LOST)
    _, block = night_and_block(found)
    assert block.past_low_c == pytest.approx(-6.0)
    assert block.past_low_utc == FIRST + 15 * HOUR
    assert block.site_low_c is not None
    assert block.site_low_c > 4.0
    assert block.probability is not None
    assert block.probability < 0.1
    tomorrow = found.assessment.nights[1].blocks[0]
    assert tomorrow.left_before_pct is not None
    assert tomorrow.left_before_pct < 20.0


def test_the_start_of_harm_does_not_move_as_the_night_goes_on() -> None:
    starts = set()
    for hour in range(6, 14):
        now = datetime(2026, 4, 13, hour, 30, tzinfo=UTC)
        _, block = night_and_block(nights(now=now))
        assert block.bud is not None
        starts.add((block.danger_start_utc, block.bud.last_below_utc))
        assert block.bud.low_utc >= now.replace(minute=0)
    assert len(starts) == 1


def test_low_wet_bulb_and_dew_point_of_a_line_are_of_one_hour() -> None:
    # The driest hour is in the evening, the coldest in the morning, in moist air.
    air = frosty_hours(low_c=0.0)
    dew: list[float | None] = [*([-14.0] * 18), *([-0.5] * 54)]
    air[17] = 0.5
    now = FIRST + 12 * HOUR
    _, block = night_and_block(nights(air_c=air, dewpoint_c=dew, now=now))
    assert block.site_low_c is not None
    assert block.wet_bulb_at_low_c is not None
    assert block.dewpoint_at_low_c is not None
    assert block.wet_bulb_low_c is not None
    assert block.dewpoint_at_low_c <= block.wet_bulb_at_low_c <= block.site_low_c
    # The lowest wet bulb is another hour's, below the dew point of the low.
    assert block.wet_bulb_low_c < block.dewpoint_at_low_c


# --- a night that cannot be judged


def gap(values: list[float | None], hours: range) -> list[float | None]:
    return [None if n in hours else value for n, value in enumerate(values)]


@pytest.mark.parametrize(
    "changes",
    [
        {"air_c": gap(MILD, range(18, 32))},
        {"air_c": MILD, "updated": AFTERNOON - timedelta(hours=25)},
    ],
    ids=["hours are missing", "the forecast is too old"],
)
def test_a_night_that_cannot_be_judged_tells_no_low_of_its_warm_hours(
    changes: dict[str, Any],
) -> None:
    found = nights(**changes)
    night, block = night_and_block(found)
    assert night.tier is Tier.CANNOT_JUDGE
    assert night.low_c is None
    assert night.worst is None
    assert block.tier is Tier.CANNOT_JUDGE
    for name in (
        "site_low_c",
        "air_low_c",
        "dry",
        "wet",
        "probability",
        "expected_kill_pct",
        "dewpoint_at_low_c",
        "wet_bulb_low_c",
    ):
        assert getattr(block, name) is None, name
    assert night_chart(found, night) is None
    document = assessment_document(found.assessment, found.farm, [])
    told = json.loads(json.dumps(document, allow_nan=False))["nights"][0]
    for name in ("probability_at_risk", "expected_kill_pct", "site_low_c", "air_low_c"):
        assert told["blocks"][0][name] is None
        assert told["blocks"][0]["why"][name] == night.reason
    assert told["low_c"] is None
    assert told["why"]["low_c"] == night.reason


def test_a_gap_leaves_the_sources_own_minimum_to_be_told() -> None:
    night, block = night_and_block(
        nights(air_c=gap(MILD, range(18, 32)), minimum_c=7.0)
    )
    assert night.tier is Tier.CANNOT_JUDGE
    assert (night.low_c, block.air_low_c) == (7.0, 7.0)
    assert block.probability is None


def test_without_humidity_the_air_is_told_and_no_chance() -> None:
    night, block = night_and_block(nights(air_c=MILD, dewpoint_c=[None] * 72))
    assert night.tier is Tier.CANNOT_JUDGE
    assert block.site_low_c == pytest.approx(9.0)
    assert block.probability is None


def test_a_night_at_risk_by_its_minimum_alone_tells_no_chance_of_its_warm_hours() -> (
    None
):
    night, block = night_and_block(
        nights(air_c=gap(MILD, range(18, 72)), minimum_c=-4.0)
    )
    assert night.tier is Tier.OUTLOOK
    assert block.site_low_c == -4.0
    assert block.probability is None
    assert night.worst is block


# --- learning compares like with like


def test_a_noon_colder_than_the_night_teaches_nothing() -> None:
    air: list[float | None] = [5.0] * 72
    air[30] = air[31] = -2.0  # the next noon: 11 and 12, local
    post = Sensor(name="Post", kind=SensorKind.REFERENCE, block=None)
    farm = replace(make_holding(), sensors=(post,))
    dusk = datetime(2026, 4, 13, 3, tzinfo=UTC)
    readings = [
        Reading(sensor="Post", at_utc=dusk + n * timedelta(minutes=20), air_c=4.6)
        for n in range(33)
    ]
    pair = night_pair(run_of(air_c=air), farm, readings, FIRST + 11 * HOUR)
    assert pair is not None
    assert pair.forecast_low_c == pytest.approx(5.0)
    assert pair.error_c == pytest.approx(-0.4)


# --- cold that a thermometer has already shown


def test_an_unshielded_thermometers_cold_spot_holds_the_buds_deficit() -> None:
    shielded = make_block(cold_spot_delta_c=-2.0)
    open_ = replace(shielded, is_measured_unshielded=True)
    _, by_air = night_and_block(nights(shielded))
    _, by_bud = night_and_block(nights(open_))
    assert by_air.dry is not None
    assert by_bud.dry is not None
    assert by_bud.site_low_c == by_air.site_low_c
    # The deficit, about 1 degC less what hoar gives back, is not taken off again.
    assert by_air.dry.low_c < by_bud.dry.low_c - 0.4
    hours = nights(open_).block_hours
    assert hours is not None
    assert np.all(hours.deficit_c == 0.0)
    assert by_bud.wet is not None
    assert by_air.wet is not None
    assert by_bud.wet.low_c > by_air.wet.low_c


def test_a_leaf_is_colder_than_an_unshielded_thermometer() -> None:
    vine = make_block("Grapes", "concord-grape", "second leaf")
    whole = nights(vine).block_hours
    rest = nights(replace(vine, is_measured_unshielded=True)).block_hours
    assert whole is not None
    assert rest is not None
    night = slice(18, 26)
    # A leaf loses twice what a bud does: the other half is left.
    share = rest.deficit_c[0, night] / whole.deficit_c[0, night]
    assert np.all((share > 0.3) & (share < 0.7))


def test_the_bud_that_decides_stays_the_same_until_the_cold_is_over() -> None:
    # Hoar of the coldest hour is still on the buds when that hour has gone by.
    air = frosty_hours(low_c=-2.0)
    dew = [None if value is None else value - 0.4 for value in air]
    told = []
    for minute in range(0, 540, 30):
        now = datetime(2026, 4, 13, 9, tzinfo=UTC) + timedelta(minutes=minute)
        night, block = night_and_block(nights(air_c=air, dewpoint_c=dew, now=now))
        told.append((now < (block.danger_end_utc or now), night.tier, block.deciding))
    cold = [(tier, bud) for is_cold, tier, bud in told if is_cold]
    assert len(cold) > 8
    assert {tier for tier, _ in cold} == {Tier.PREPARE, Tier.ACT}
    assert [tier for tier, _ in cold] == sorted((t for t, _ in cold), reverse=True)
    assert len({bud for _, bud in cold}) == 1
    assert {tier for is_cold, tier, _ in told if not is_cold} == {Tier.NONE}
