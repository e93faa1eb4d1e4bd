"""Past springs against the hindcast on the same nights, and on real ones."""

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache

import numpy as np
import pytest

from frostalert.forecast.open_meteo import parse_forecast
from frostalert.model.forecast import ForecastRun
from frostalert.model.learned import PairOrigin
from frostalert.model.past import PastNight
from frostalert.past.answer import brier_score, tally
from frostalert.past.walk import afternoons_of, pairs_to_keep, walk
from tests.evaluation.hindcast.documents import LIMITS_C, ZONE, Told, play
from tests.evaluation.past_springs.__main__ import run_past
from tests.evaluation.past_springs.carried import FIRST, LAST, read_lows, read_played
from tests.evaluation.past_springs.fortnight import fortnight_lines, in_bloom
from tests.evaluation.past_springs.layout import played_from
from tests.evaluation.past_springs.site import archive_of, bloom_farm

DAYS = 28
BEGIN = date(2025, 3, 3)
HOURS = 14 * 24
_DAY = timedelta(days=1)


def afternoon_document(day: date, random: np.random.Generator) -> ForecastRun:
    """An answer of 15:00 local: two weeks of hours that err by their own weather."""
    made = datetime(day.year, day.month, day.day, 15, tzinfo=ZONE).astimezone(UTC)
    first = made.replace(hour=0)
    lows = random.normal(1.0, 4.0, HOURS // 24 + 1)
    hours = np.arange(HOURS)
    share = ((hours - 11) % 24) / 24.0
    dawn = np.clip((hours - 11) // 24 + 1, 0, lows.size - 1)
    air = lows[dawn] + 9.0 * np.sin(np.pi * share)
    wind = np.abs(random.normal(2.5, 1.5, HOURS))
    cloud = np.clip(np.repeat(random.normal(40.0, 40.0, HOURS // 12), 12), 0, 100)
    document = {
        "latitude": 40.71,
        "longitude": -73.99,
        "elevation": 7.0,
        "hourly_units": {
            "time": "unixtime",
            "temperature_2m": "°C",
            "dew_point_2m": "°C",
            "wind_speed_10m": "m/s",
            "cloud_cover": "%",
        },
        "hourly": {
            "time": [
                int((first + int(n) * timedelta(hours=1)).timestamp()) for n in hours
            ],
            "temperature_2m": [round(float(v), 1) for v in air],
            "dew_point_2m": [round(float(v) - 3.0, 1) for v in air],
            "wind_speed_10m": [round(float(v), 1) for v in wind],
            "cloud_cover": [round(float(v)) for v in cloud],
        },
    }
    return parse_forecast(json.dumps(document), made)


@cache
def documents() -> tuple[ForecastRun, ...]:
    random = np.random.default_rng(11)
    return tuple(afternoon_document(BEGIN + n * _DAY, random) for n in range(DAYS))


def past_nights(
    runs: Sequence[ForecastRun], came: dict[date, float], origin: PairOrigin | None
) -> list[PastNight]:
    """The walk over the same documents, laid out as previous runs."""
    nights = [BEGIN + (n + 1) * _DAY for n in range(DAYS - 1)]
    farm = bloom_farm(runs[0])
    archive = archive_of(played_from(runs))
    afternoons, _ = afternoons_of(farm, [archive], nights, came, origin=origin)
    return list(walk(farm, afternoons, in_bloom(nights)))


def invented_lows() -> dict[date, float]:
    """Something came on every night, and it teaches nothing yet."""
    return {BEGIN + n * _DAY: 1.0 for n in range(DAYS + 4)}


@pytest.fixture(scope="module")
def hindcast() -> dict[date, Told]:
    """Each night as the hindcast judged it in the afternoon before, unlearned."""
    told = []
    for run in documents():
        told += play([run], invented_lows())
    return {item.night: item for item in told if item.ahead == 1}


def test_a_night_of_a_day_before_is_the_hindcast_s_of_tomorrow(
    hindcast: dict[date, Told],
) -> None:
    nights = past_nights(documents(), invented_lows(), None)
    assert len(nights) >= DAYS - 2
    for night in nights:
        other = hindcast[night.night]
        assert night.is_judged
        assert night.source_c == pytest.approx(other.source_c, abs=0.02)
        assert night.low_c == pytest.approx(other.low_c, abs=0.02)
        assert night.sigma_c == pytest.approx(other.sigma_c, abs=0.01)


def test_both_call_on_the_same_nights(hindcast: dict[date, Told]) -> None:
    nights = past_nights(documents(), invented_lows(), None)
    ready = {n.night for n in nights if n.is_ready}
    called = {n.night for n in nights if n.is_called}
    of = {n.night for n in nights}
    assert ready == {t.night for t in hindcast.values() if t.tier.rank} & of
    assert (
        called
        == {t.night for t in hindcast.values() if t.calls_hands and t.tier.rank} & of
    )
    assert 3 < len(called) <= len(ready) < len(nights)


def test_both_learn_alike_of_nights_that_count_in_full() -> None:
    came = invented_lows()
    lows = {n.night: n.source_c for n in past_nights(documents(), came, None)}
    # A site that is 2 degC colder than each forecast of it.
    came = {night: low - 2.0 for night, low in lows.items() if low is not None}
    past = {n.night: n for n in past_nights(documents(), came, PairOrigin.OWN)}
    other = {t.night: t for t in play(documents(), came) if t.ahead == 1}
    both = sorted(set(past) & set(other))[10:]
    for night in both:
        mine, theirs = past[night].low_c, other[night].low_c
        # The hindcast's afternoon is a day earlier: one night less is known to it.
        assert mine == pytest.approx(theirs, abs=0.35)
    off = [(past[n].low_c or 0.0) - came[n] for n in both]
    assert 0.0 < np.mean(off) < 1.3


def test_pairs_are_kept_by_the_lead_that_their_hours_have() -> None:
    runs, came = documents(), invented_lows()
    nights = [BEGIN + (n + 1) * _DAY for n in range(10)]
    _, lows = afternoons_of(
        bloom_farm(runs[0]),
        [archive_of(played_from(runs))],
        nights,
        came,
        origin=PairOrigin.ARCHIVE,
    )
    kept = pairs_to_keep(lows, PairOrigin.ARCHIVE)
    assert {str(pair.lead) for pair in kept} == {"tomorrow", "later"}
    assert len({(p.night, p.source, p.lead) for p in kept}) == len(kept)
    by_night = {p.night: p for p in kept if str(p.lead) == "tomorrow"}
    told = {t.night: t for run in runs for t in play([run], came) if t.ahead == 1}
    for night in nights[1:]:
        assert by_night[night].forecast_low_c == pytest.approx(
            told[night].source_c, abs=0.3
        )


def test_forty_real_days_of_new_york_are_answered() -> None:
    said = run_past(
        read_played(),
        read_lows(),
        ["--from", str(FIRST), "--to", str(LAST), "--json"],
    )
    document = json.loads(said.rpartition("\nexit")[0])
    [spring] = document["springs"]
    nights = {n["night"]: n for n in spring["nights"]}
    assert spring["nights_known"] == sum(FIRST <= n <= LAST for n in read_lows())
    # The two mornings of that March that were hard: 19 and 23 F.
    for night in ("2025-03-01", "2025-03-02"):
        assert nights[night]["called"]
        assert nights[night]["came_c"] < -4.9
    assert spring["called_missed"] == 0
    # Central Park is warmer than its cell, so it calls too often at first.
    known = [n for n in nights.values() if n["came_c"] is not None]
    bias = np.mean([n["forecast_low_c"] - n["came_c"] for n in known])
    assert -4.0 < bias < -1.0


def test_pairs_of_a_station_never_warm_what_the_site_is_told() -> None:
    archive, came = archive_of(read_played()), read_lows()
    farm = bloom_farm(documents()[0])
    nights = [FIRST + n * _DAY for n in range((LAST - FIRST).days)]
    walked = {}
    for origin in (None, PairOrigin.ARCHIVE_STATION, PairOrigin.OWN):
        afternoons, _ = afternoons_of(farm, [archive], nights, came, origin=origin)
        walked[origin] = walk(farm, afternoons, in_bloom(nights))
    for plain, station in zip(
        walked[None], walked[PairOrigin.ARCHIVE_STATION], strict=True
    ):
        assert (station.low_c or 0.0) <= (plain.low_c or 0.0) + 1e-9
    # A thermometer of one's own may: these nights all came warmer than forecast.
    own = np.mean([n.low_c for n in walked[PairOrigin.OWN][-8:] if n.low_c is not None])
    bare = np.mean([n.low_c for n in walked[None][-8:] if n.low_c is not None])
    assert own >= bare


def test_the_fortnight_is_told_with_and_without_the_year_before() -> None:
    runs = [
        *documents(),
        *(
            replace(
                run,
                updated_utc=run.updated_utc + timedelta(days=365),
                fetched_utc=run.fetched_utc + timedelta(days=365),
                hours=replace(
                    run.hours, first_utc=run.hours.first_utc + timedelta(days=365)
                ),
                precipitation_mm=(),
            )
            for run in documents()
        ),
    ]
    lows = {
        n.night: n.source_c for n in past_nights(documents(), invented_lows(), None)
    }
    came = {night: low - 2.0 for night, low in lows.items() if low is not None}
    came |= {night + timedelta(days=365): low for night, low in came.items()}
    head, without, taught = fortnight_lines(runs, came)
    assert "the first 14 nights of 2026" in head
    bias = [float(line.partition("bias ")[2].split()[0]) for line in (without, taught)]
    assert 0.0 < bias[1] < bias[0]


def test_scores_count_nights_whose_outcome_is_known() -> None:
    night = PastNight(night=BEGIN, is_judged=True, low_c=0.0, sigma_c=1.0, came_c=-5.0)
    assert brier_score([night, replace(night, came_c=None)], 0.0) == 0.25
    assert np.isnan(brier_score([], LIMITS_C[0]))
    assert tally([night, replace(night, is_judged=False)]).nights == 1
