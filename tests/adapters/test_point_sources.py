"""Open-Meteo and MET Norway: read, refused and fetched."""

import json
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest

from frostalert.errors import (
    ForecastFormatError,
    ForecastRejectedError,
    ForecastUnavailableError,
)
from frostalert.forecast.file_source import load_run
from frostalert.forecast.met_norway import parse_timeseries
from frostalert.forecast.nws import parse_grid
from frostalert.forecast.open_meteo import VARIABLE_MAP, parse_forecast, parse_spread
from frostalert.forecast.point_sources import MetNorwaySource, OpenMeteoSource
from frostalert.model.forecast import ForecastRun
from frostalert.model.secret import Secret
from frostalert.ports import SourceMemory
from frostalert.store.open import open_store
from frostalert.transport import HttpSession
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import make_block, make_holding
from tests.support.judged import nights_of
from tests.support.servers import Reply, Seen, http_server

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
FIRST = datetime(2026, 4, 12, tzinfo=UTC)
PLACE = (46.22054, -119.24121, 125.0)
HOURS = 72


def open_meteo(**changes: Any) -> dict[str, Any]:
    """An answer in the documented form; `changes` replace variables.

    As the service's own do, dew point and air aloft go with the air.
    """
    air = [value for value in frosty_hours(hours=HOURS) if value is not None]
    given = changes.get("temperature_2m", [])
    if len(given) == HOURS and all(isinstance(value, float) for value in given):
        air = given
    hourly: dict[str, Any] = {
        "time": [int(FIRST.timestamp()) + 3600 * n for n in range(HOURS)],
        "temperature_2m": air,
        "dew_point_2m": [value - 3.0 for value in air],
        "relative_humidity_2m": [80] * HOURS,
        "wind_speed_10m": [1.5] * HOURS,
        "wind_direction_10m": [310] * HOURS,
        "cloud_cover": [40] * HOURS,
        "cloud_cover_low": [10] * HOURS,
        "cloud_cover_mid": [20] * HOURS,
        "precipitation_probability": [5] * HOURS,
        "precipitation": [0.0] * HOURS,
        "temperature_80m": [value + 2.5 for value in air],
        "weather_code": [0] * HOURS,
    }
    hourly.update(changes)
    units = {name: unit for name, (_, unit) in VARIABLE_MAP.items()}
    return {
        "latitude": 46.22,
        "longitude": -119.24,
        "elevation": 125.0,
        "utc_offset_seconds": 0,
        "hourly_units": {"time": "unixtime", **units},
        "hourly": hourly,
    }


def met(steps: list[dict[str, Any]], **units: str) -> str:
    """An answer of MET Norway in the documented form."""
    return json.dumps(
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [-119.2412, 46.2205, 125]},
            "properties": {
                "meta": {"updated_at": "2026-04-12T19:30:00Z", "units": units},
                "timeseries": steps,
            },
        }
    )


def step(hour: int, air: float, *, ahead_h: int = 1, **more: Any) -> dict[str, Any]:
    details = {
        "air_temperature": air,
        "dew_point_temperature": air - 2.0,
        "wind_speed": 1.0,
        "wind_from_direction": 300.0,
        "cloud_area_fraction": 10.0,
        **more,
    }
    ahead = {
        "summary": {"symbol_code": "clearsky_night"},
        "details": {"precipitation_amount": 0.0, "air_temperature_min": air - 0.5},
    }
    moment = FIRST + timedelta(hours=hour)
    return {
        "time": f"{moment:%Y-%m-%dT%H:%M:%SZ}",
        "data": {"instant": {"details": details}, f"next_{ahead_h}_hours": ahead},
    }


def test_open_meteo_is_read_in_our_names_and_units() -> None:
    run = parse_forecast(json.dumps(open_meteo()), NOW)
    assert run.hours.first_utc == FIRST
    assert run.hours.count == HOURS
    assert run.hours.wind_mps[0] == 1.5
    assert run.hours.wind_from_deg[0] == 310.0
    assert run.hours.aloft_delta_c[5] == pytest.approx(2.5)
    # 90 % of the sky is free of low cloud, and 80 % of that of middle cloud.
    assert run.hours.shutting_cloud_pct[0] == pytest.approx(28.0)
    assert (run.elevation_m, run.latitude) == (125.0, 46.22)
    assert run.updated_utc == NOW
    # The mean of a cell shows no calm, whoever forecasts it.
    assert run.hides_calm
    assert "does not say when its models ran" in run.notes[0]


def test_open_meteo_local_times_and_kilometres_an_hour_are_converted() -> None:
    document = open_meteo(
        time=[f"2026-04-12T{n:02d}:00" for n in range(24)],
        temperature_2m=[1.0] * 24,
        wind_speed_10m=[36.0] * 24,
    )
    document["utc_offset_seconds"] = -7 * 3600
    document["hourly_units"]["wind_speed_10m"] = "km/h"
    run = parse_forecast(json.dumps(document), NOW)
    assert run.hours.first_utc == FIRST + timedelta(hours=7)
    assert run.hours.wind_mps[0] == pytest.approx(10.0)
    # Lists of another length than the hours are left out, and said so.
    assert np.isnan(run.hours.dewpoint_c).all()
    assert any("dew_point_2m: left out, 72 values" in note for note in run.notes)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"temperature_2m": [None] * HOURS}, "no air temperature"),
        ({"time": []}, "no hourly times"),
        ({"time": ["yesterday"] * HOURS}, "a time cannot be read"),
    ],
)
def test_open_meteo_without_what_is_needed_is_refused(
    change: dict[str, Any], words: str
) -> None:
    with pytest.raises(ForecastFormatError, match=words):
        parse_forecast(json.dumps(open_meteo(**change)), NOW)


def test_open_meteo_nulls_and_odd_values_stay_missing() -> None:
    air = [value for value in frosty_hours(hours=HOURS) if value is not None]
    odd: list[Any] = [*air]
    odd[3], odd[4], odd[5] = None, 900.0, "cold"
    run = parse_forecast(json.dumps(open_meteo(temperature_2m=odd)), NOW)
    assert np.flatnonzero(np.isnan(run.hours.air_c)).tolist() == [3, 4, 5]
    assert "temperature_2m: 2 values left out, unreadable or out of range" in run.notes


@pytest.mark.parametrize("body", ["<html>", "[]", "3", '{"hourly": 3}'])
def test_what_is_no_answer_is_refused(body: str) -> None:
    for parse in (parse_forecast, parse_timeseries):
        with pytest.raises(ForecastFormatError):
            parse(body, NOW)


def test_open_meteo_error_answers_are_told_apart() -> None:
    wrong = json.dumps({"error": True, "reason": "Cannot initialize variable"})
    busy = json.dumps({"error": True, "reason": "Hourly API request limit exceeded."})
    with pytest.raises(ForecastRejectedError, match="Cannot initialize"):
        parse_forecast(wrong, NOW)
    with pytest.raises(ForecastUnavailableError, match="limit exceeded"):
        parse_forecast(busy, NOW)


def test_the_spread_of_members_is_laid_beside_the_hours() -> None:
    run = parse_forecast(json.dumps(open_meteo()), NOW)
    values = [-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0]
    hourly: dict[str, Any] = {"time": [int(FIRST.timestamp()) + 7200]}
    hourly["temperature_2m"] = [values[0]]
    hourly |= {
        f"temperature_2m_member{n:02d}": [value]
        for n, value in enumerate(values[1:], 1)
    }
    spread = parse_spread(json.dumps({"hourly": hourly}), run).hours.spread_c
    assert spread[2] == pytest.approx(np.std(values, ddof=1))
    assert np.isfinite(spread).sum() == 1
    few = {"time": hourly["time"], "temperature_2m": [1.0]}
    same = parse_spread(json.dumps({"hourly": few}), run)
    assert np.isnan(same.hours.spread_c).all()


def test_met_norway_is_read_and_six_hour_steps_are_bridged_with_their_minimum() -> None:
    steps = [step(0, 4.0), step(1, 3.0), step(2, 2.0, ahead_h=6), step(8, -4.0)]
    run = parse_timeseries(met(steps), NOW)
    assert run.hours.count == 9
    assert run.hours.air_c[:3].tolist() == [4.0, 3.0, 2.0]
    assert run.hours.air_c[5] == pytest.approx(-1.0)
    assert run.hours.dewpoint_c[5] == pytest.approx(-3.0)
    assert [period.value for period in run.night_minimums] == [1.5]
    assert run.updated_utc == datetime(2026, 4, 12, 19, 30, tzinfo=UTC)
    assert any("every sixth hour" in note for note in run.notes)


def test_met_norway_does_not_bridge_longer_gaps() -> None:
    run = parse_timeseries(met([step(0, 4.0), step(12, -4.0)]), NOW)
    assert np.isnan(run.hours.air_c[1:12]).all()


def test_met_norway_percentiles_become_a_standard_error() -> None:
    one = step(
        0, 1.0, air_temperature_percentile_10=-1.0, air_temperature_percentile_90=3.0
    )
    run = parse_timeseries(met([one, step(1, 1.0)]), NOW)
    # 80 % of a normal lie within 1.2816 standard errors.
    assert run.hours.spread_c[0] == pytest.approx(4.0 / (2 * 1.2816), abs=1e-3)
    assert np.isnan(run.hours.spread_c[1])


def test_met_norway_wet_symbols_and_chances_count_for_their_hours() -> None:
    wet = step(0, 3.0)
    wet["data"]["next_1_hours"]["summary"]["symbol_code"] = "lightsleet"
    wet["data"]["next_1_hours"]["details"]["probability_of_precipitation"] = 70.0
    run = parse_timeseries(met([wet, step(1, 2.0)]), NOW)
    assert run.hours.is_wet_weather.tolist() == [True, False]
    assert run.hours.precipitation_probability_pct[0] == 70.0


def test_an_unknown_unit_leaves_the_quantity_out_and_says_so() -> None:
    run = parse_timeseries(met([step(0, 3.0)], wind_speed="knots"), NOW)
    assert np.isnan(run.hours.wind_mps).all()
    assert 'wind_speed: left out, unknown unit "knots"' in run.notes


def session() -> HttpSession:
    return HttpSession(
        "frostalert/test (us@heron-bench.example)",
        deadline_s=5.0,
        sleep=lambda _: None,
    )


def test_open_meteo_is_asked_for_the_place_in_our_units_with_the_key() -> None:
    with http_server(lambda _: Reply(200, json.dumps(open_meteo()))) as server:
        source = OpenMeteoSource(session(), server.url, PLACE, key=Secret("k1"))
        fetched = source.fetch(SourceMemory(), NOW)
    assert fetched.run is not None
    query = parse_qs(urlsplit(server.seen[0].path).query)
    assert query["latitude"] == ["46.2205"]
    assert query["wind_speed_unit"] == ["ms"]
    assert query["timeformat"] == ["unixtime"]
    assert query["apikey"] == ["k1"]
    assert set(query["hourly"][0].split(",")) == set(VARIABLE_MAP)


def test_a_spread_that_cannot_be_had_is_noted_and_the_forecast_counts() -> None:
    def answer(seen: Seen) -> Reply:
        if "ensemble" in seen.path:
            return Reply(400, json.dumps({"error": True, "reason": "no such model"}))
        return Reply(200, json.dumps(open_meteo()))

    with http_server(answer) as server:
        source = OpenMeteoSource(session(), server.url, PLACE, ensemble_url=server.url)
        run = source.fetch(SourceMemory(), NOW).run
    assert run is not None
    assert "no ensemble spread: no such model" in run.notes


def met_reply(**headers: str) -> Reply:
    return Reply(200, met([step(0, 1.0), step(1, 0.0)]), headers)


def test_met_norway_is_not_asked_before_its_answer_expires_then_conditionally(
    tmp_path: Path,
) -> None:
    expires = NOW + timedelta(minutes=31)
    modified = format_datetime(NOW - timedelta(minutes=5), usegmt=True)
    reply = met_reply(
        **{"Expires": format_datetime(expires, usegmt=True), "Last-Modified": modified}
    )
    store = open_store(tmp_path)
    with http_server(lambda seen: reply if len(asked(server)) == 1 else Reply(304)) as (
        server
    ):
        source = MetNorwaySource(session(), server.url, PLACE)
        fetched = source.fetch(SourceMemory(), NOW)
        assert fetched.run is not None
        # What it asks to be reminded of survives a restart.
        store.save_run(fetched, source.name, NOW)
        memory = store.source_memory(source.name)
        soon = source.fetch(memory, NOW + timedelta(minutes=30))
        assert soon.run is None
        assert len(asked(server)) == 1
        later = source.fetch(memory, NOW + timedelta(minutes=32))
        assert later.run is None
        assert asked(server)[1].headers["If-Modified-Since"] == modified
    store.database.close()
    seen = asked(server)[0]
    assert "us@heron-bench.example" in seen.headers["User-Agent"]
    query = parse_qs(urlsplit(seen.path).query)
    assert (query["lat"], query["altitude"]) == (["46.2205"], ["125"])


def asked(server: Any) -> list[Seen]:
    return list(server.seen)


@pytest.mark.parametrize(
    ("status", "error", "words"),
    [
        (403, ForecastRejectedError, "is contact under .forecast. set"),
        (422, ForecastRejectedError, "outside the area"),
        (429, ForecastUnavailableError, "answered 429"),
        (503, ForecastUnavailableError, "answered 503"),
    ],
)
def test_met_norway_errors_are_told_apart(
    status: int, error: type[Exception], words: str
) -> None:
    with http_server(lambda _: Reply(status, "<html>no</html>")) as server:
        source = MetNorwaySource(session(), server.url, PLACE)
        with pytest.raises(error, match=words):
            source.fetch(SourceMemory(), NOW)


def test_a_version_that_is_going_away_works_and_is_noted() -> None:
    body = met([step(0, 1.0), step(1, 0.0)])
    with http_server(lambda _: Reply(203, body)) as server:
        run = (
            MetNorwaySource(session(), server.url, PLACE).fetch(SourceMemory(), NOW).run
        )
    assert run is not None
    assert any("going away (203)" in note for note in run.notes)


@pytest.mark.parametrize(
    ("body", "source"),
    [
        (grid_text(), "nws"),
        (json.dumps(open_meteo()), "open-meteo"),
        (met([step(0, 1.0)]), "met-norway"),
    ],
)
def test_a_recorded_answer_of_any_source_is_read_from_a_file(
    tmp_path: Path, body: str, source: str
) -> None:
    path = tmp_path / "answer.json"
    path.write_text(body)
    assert load_run(path, NOW).source == source


def _buds(run: ForecastRun) -> tuple[list[float], list[float], str]:
    """A hollow's buds, dry and wet, through the night, and the kind of it."""
    farm = make_holding(make_block(cold_spot_delta_c=-3.0))
    now = FIRST + timedelta(hours=22)
    nights = nights_of(farm, run, now)
    hours, shared = nights.block_hours, nights.site_hours
    assert hours is not None
    assert shared is not None
    start = (now - run.hours.first_utc) // timedelta(hours=1)
    part = slice(start, start + 18)
    kind = nights.assessment.nights[0].kind
    assert kind is not None
    return (
        hours.dry_c[0, part].round(6).tolist(),
        hours.wet_c[0, part].round(6).tolist(),
        kind.value,
    )


# An adviser's case: 3.1 m/s at 10 m is a calm to every grid.
@pytest.mark.parametrize("wind_mps", [0.5, 3.1, 4.5, 9.0])
@pytest.mark.parametrize("opaque_pct", [0.0, 40.0, 100.0])
def test_the_same_hours_give_the_same_buds_whoever_forecast_them(
    wind_mps: float, opaque_pct: float
) -> None:
    air = np.roll([v for v in frosty_hours(low_c=1.1) if v is not None], 12).tolist()
    dew = [min(value, -3.0) for value in air]
    by_nws = parse_grid(
        grid_text(
            air_c=air,
            dewpoint_c=dew,
            wind_kmh=wind_mps * 3.6,
            cloud_pct=opaque_pct,
            first=FIRST,
        ),
        NOW,
    )
    model = open_meteo(
        temperature_2m=air,
        dew_point_2m=dew,
        wind_speed_10m=[wind_mps] * HOURS,
        cloud_cover=[opaque_pct] * HOURS,
        cloud_cover_low=[opaque_pct] * HOURS,
        cloud_cover_mid=[0.0] * HOURS,
        precipitation_probability=[0.0] * HOURS,
    )
    steps = [
        step(
            hour,
            value,
            ahead_h=6,
            dew_point_temperature=dew[hour],
            wind_speed=wind_mps,
            cloud_area_fraction=opaque_pct,
            cloud_area_fraction_low=opaque_pct,
            cloud_area_fraction_medium=0.0,
        )
        for hour, value in enumerate(air)
    ]
    for item in steps:
        # Its minimum of six hours is warmer than its hours: it changes nothing.
        item["data"]["next_6_hours"]["details"]["air_temperature_min"] = 50.0
    by_model = parse_forecast(json.dumps(model), NOW)
    by_met = parse_timeseries(met(steps), NOW)
    dry, wet, kind = _buds(by_nws)
    for other in (by_model, by_met):
        other_dry, other_wet, other_kind = _buds(other)
        assert other_dry == pytest.approx(dry, abs=0.01)
        assert other_wet == pytest.approx(wet, abs=0.01)
        assert other_kind == kind
