"""Documents that contradict themselves, or that no reader must break on."""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from frostalert.errors import ForecastError, ForecastFormatError
from frostalert.forecast.file_source import load_run
from frostalert.forecast.met_norway import parse_timeseries
from frostalert.forecast.nws import parse_grid
from frostalert.forecast.nws_source import NwsSource
from frostalert.forecast.open_meteo import parse_forecast
from frostalert.forecast.point_sources import MetNorwaySource, OpenMeteoSource
from frostalert.model.forecast import ForecastRun
from frostalert.ports import Fetched, SourceMemory
from frostalert.store.open import open_store
from tests.adapters.test_nws import Office, source
from tests.adapters.test_point_sources import (
    HOURS,
    PLACE,
    met,
    open_meteo,
    session,
    step,
)
from tests.support.grids import FIRST, frosty_hours, grid_document, grid_text, layer
from tests.support.servers import Reply, http_server

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
MIDNIGHT = datetime(2026, 4, 12, tzinfo=UTC)
AIR = [value for value in frosty_hours(hours=HOURS) if value is not None]
DEEP = "[" * 100_000 + "]" * 100_000


def humidity_pct(air_c: float, dewpoint_c: float) -> float:
    """Magnus formula over water, as the services give it."""
    water, air = (17.62 * c / (243.12 + c) for c in (dewpoint_c, air_c))
    return float(round(100.0 * np.exp(water - air), 1))


def degf(celsius: float) -> float:
    return round(celsius * 1.8 + 32.0, 1)


def by_nws(air: list[float], dew: list[float], humidity: list[float]) -> ForecastRun:
    given = layer("wmoUnit:percent", list(humidity))
    text = grid_text(air_c=list(air), dewpoint_c=list(dew), relativeHumidity=given)
    return parse_grid(text, NOW)


def by_open_meteo(
    air: list[float], dew: list[float], humidity: list[float]
) -> ForecastRun:
    document = open_meteo(
        temperature_2m=air, dew_point_2m=dew, relative_humidity_2m=humidity
    )
    return parse_forecast(json.dumps(document), NOW)


def by_met_norway(
    air: list[float], dew: list[float], humidity: list[float]
) -> ForecastRun:
    steps = [
        step(n, a, dew_point_temperature=d, relative_humidity=h)
        for n, (a, d, h) in enumerate(zip(air, dew, humidity, strict=True))
    ]
    return parse_timeseries(met(steps), NOW)


Reading = Callable[[list[float], list[float], list[float]], ForecastRun]
every_service = pytest.mark.parametrize("read", [by_nws, by_open_meteo, by_met_norway])


def moist(dry_by_c: float = 4.0) -> tuple[list[float], list[float]]:
    """Dew points, and the humidity that goes with them."""
    dew = [round(value - dry_by_c, 2) for value in AIR]
    return dew, [humidity_pct(a, d) for a, d in zip(AIR, dew, strict=True)]


@every_service
def test_a_document_that_fits_itself_is_believed_without_a_word(read: Reading) -> None:
    run = read(AIR, *moist())
    assert run.doubts == ()
    assert run.hours.air_c.tolist() == AIR


# --- an hour that is no air --------------------------------------------------------


@every_service
@pytest.mark.parametrize("odd", [-40.0, 35.0])
def test_one_hour_far_from_both_neighbours_is_left_out_and_said(
    read: Reading, odd: float
) -> None:
    dew, humidity = moist()
    air = [*AIR[:30], odd, *AIR[31:]]
    run = read(air, dew, humidity)
    assert np.flatnonzero(np.isnan(run.hours.air_c)).tolist() == [30]
    assert any("1 hour left out, more than 12 C" in line for line in run.doubts)
    assert set(run.doubts) <= set(run.notes)


def test_an_hour_that_air_can_make_stays() -> None:
    air = [*AIR[:30], AIR[29] + 11.0, *AIR[31:]]
    run = by_open_meteo(air, *moist())
    assert np.isfinite(run.hours.air_c).all()


def test_an_interval_of_hours_that_jumps_is_left_out_whole() -> None:
    run = by_nws([*AIR[:30], -40.0, -40.0, -40.0, *AIR[33:]], *moist())
    assert np.flatnonzero(np.isnan(run.hours.air_c)).tolist() == [30, 31, 32]


@every_service
def test_air_of_which_much_is_none_is_refused_not_judged_by_the_rest(
    read: Reading,
) -> None:
    odd = [900.0 if n % 3 == 0 else value for n, value in enumerate(AIR)]
    with pytest.raises(ForecastFormatError, match="24 of its 72 air temperatures"):
        read(odd, *moist())


@every_service
def test_air_that_does_not_move_for_a_day_is_said(read: Reading) -> None:
    run = read([*AIR[:20], *[AIR[20]] * 26, *AIR[46:]], *moist())
    assert any("the same for 26 hours" in line for line in run.doubts)


def test_a_night_minimum_far_below_every_hour_is_left_out_and_said() -> None:
    run = parse_grid(grid_text(minimum_c=-40.0), NOW)
    assert run.night_minimums == ()
    assert any("2 values left out, more than 12 C" in line for line in run.doubts)
    steps = [step(n, value, ahead_h=6) for n, value in enumerate(AIR)]
    steps[20]["data"]["next_6_hours"]["details"]["air_temperature_min"] = -40.0
    by_met = parse_timeseries(met(steps), NOW)
    assert min(item.value for item in by_met.night_minimums) > -10.0
    assert any("1 value left out" in line for line in by_met.doubts)


def test_a_night_minimum_above_its_own_hours_is_said() -> None:
    run = parse_grid(grid_text(minimum_c=27.0), NOW)
    assert any("warmer than hours of the same time" in line for line in run.doubts)


# --- units -------------------------------------------------------------------------


@every_service
def test_degf_said_to_be_degc_is_refused_by_its_own_humidity(read: Reading) -> None:
    # A mean of 40 "degC" is none that a place could not have by the year alone.
    cold = [value - 9.0 for value in AIR]
    dew = [value - 4.0 for value in cold]
    humidity = [humidity_pct(a, d) for a, d in zip(cold, dew, strict=True)]
    hot, moist_hot = [degf(v) for v in cold], [degf(v) for v in dew]
    assert np.mean(hot) < 30.0
    with pytest.raises(ForecastFormatError, match="read as degF"):
        read(hot, moist_hot, humidity)
    with pytest.raises(ForecastFormatError, match="read as degF"):
        read(hot, dew, humidity)


@every_service
def test_degf_said_to_be_degc_is_refused_by_the_season(read: Reading) -> None:
    # In fog humidity tells nothing: 100 % in either unit.
    fog = [degf(value) for value in AIR]
    with pytest.raises(ForecastFormatError, match="hotter than any place there"):
        read(fog, fog, [100.0] * HOURS)


@every_service
def test_dew_points_alone_in_degf_are_taken_from_humidity(read: Reading) -> None:
    dew, humidity = moist(dry_by_c=25.0)
    run = read(AIR, [degf(value) for value in dew], humidity)
    assert run.hours.dewpoint_c == pytest.approx(dew, abs=0.3)
    assert any("only when read as degF" in line for line in run.doubts)


def test_hours_in_which_humidity_contradicts_the_rest_are_counted() -> None:
    dew, humidity = moist()
    run = by_open_meteo(AIR, dew, [100.0] * 3 + humidity[3:])
    assert any("3 hours in which air temperature" in line for line in run.notes)
    # Where a service passes from one model to another some hours may not fit.
    assert run.doubts == ()
    run = by_open_meteo(AIR[::-1], dew, humidity)
    assert any("hours in which air temperature" in line for line in run.doubts)


@pytest.mark.parametrize("units", [None, [], "C", {"temperature_2m": None}])
def test_units_that_are_not_stated_are_taken_as_usual_and_said(units: Any) -> None:
    document = open_meteo()
    document["hourly_units"] = units
    run = parse_forecast(json.dumps(document), NOW)
    assert run.hours.air_c.tolist() == AIR
    assert any("temperature_2m, dew_point_2m" in line for line in run.doubts)


@pytest.mark.parametrize("unit", [{}, [], 3, "fahrenheit"])
def test_a_unit_that_is_none_leaves_open_meteo_without_air(unit: Any) -> None:
    document = open_meteo()
    document["hourly_units"]["temperature_2m"] = unit
    with pytest.raises(ForecastFormatError, match="no air temperature"):
        parse_forecast(json.dumps(document), NOW)


@pytest.mark.parametrize("units", [None, [], "C", 3])
def test_met_norway_without_units_is_believed_and_said(units: Any) -> None:
    document = json.loads(met([step(n, value) for n, value in enumerate(AIR)]))
    document["properties"]["meta"]["units"] = units
    run = parse_timeseries(json.dumps(document), NOW)
    assert run.hours.air_c.tolist() == AIR
    assert any("states no units" in line for line in run.doubts)


@pytest.mark.parametrize("unit", [None, "", 3, {}])
def test_a_grid_without_a_unit_for_its_air_is_refused(unit: Any) -> None:
    document = grid_document()
    document["properties"]["temperature"]["uom"] = unit
    with pytest.raises(ForecastFormatError, match="no air temperature layer"):
        parse_grid(json.dumps(document), NOW)


def test_a_unit_that_the_service_never_uses_is_converted_and_said() -> None:
    document = grid_document()
    document["properties"]["windSpeed"]["uom"] = "wmoUnit:m_s-1"
    run = parse_grid(json.dumps(document), NOW)
    assert run.hours.wind_mps[0] == 3.7
    assert "windSpeed: in m_s-1, and km_h-1 is usual" in run.doubts


# --- times -------------------------------------------------------------------------


def test_one_wrong_year_costs_one_step_of_met_norway_and_is_said() -> None:
    steps = [step(n, value) for n, value in enumerate(AIR)]
    steps[40]["time"] = "2019" + steps[40]["time"][4:]
    run = parse_timeseries(met(steps), NOW)
    assert run.hours.first_utc == MIDNIGHT
    assert np.flatnonzero(np.isnan(run.hours.air_c)).tolist() == [40]
    assert any("1 times left out" in line for line in run.doubts)


@pytest.mark.parametrize("odd", [-7 * 365 * 86400, 7 * 365 * 86400])
def test_one_wrong_year_costs_one_hour_of_open_meteo_and_is_said(odd: int) -> None:
    document = open_meteo()
    document["hourly"]["time"][40] += odd
    run = parse_forecast(json.dumps(document), NOW)
    assert run.hours.first_utc == MIDNIGHT
    assert run.hours.count == HOURS
    assert np.flatnonzero(np.isnan(run.hours.air_c)).tolist() == [40]
    assert any("1 times left out" in line for line in run.doubts)


def test_hours_that_are_given_twice_are_refused_or_said() -> None:
    document = open_meteo()
    document["hourly"]["time"][40] = document["hourly"]["time"][41]
    with pytest.raises(ForecastFormatError, match="not in order"):
        parse_forecast(json.dumps(document), NOW)
    steps = [step(n, value) for n, value in enumerate(AIR)]
    run = parse_timeseries(met([*steps, step(30, 20.0)]), NOW)
    assert run.hours.air_c.tolist() == AIR
    assert any("twice" in line for line in run.doubts)
    grid = grid_document()
    entries = grid["properties"]["temperature"]["values"]
    entries.append({**entries[30], "value": 20.0})
    assert any("overlap" in line for line in parse_grid(json.dumps(grid), NOW).doubts)


def test_values_of_a_grid_far_from_its_update_are_said() -> None:
    document = grid_document()
    entry = document["properties"]["minTemperature"]["values"][0]
    entry["validTime"] = "2019" + entry["validTime"][4:]
    run = parse_grid(json.dumps(document), NOW)
    assert "minTemperature: 1 values left out, far from the time of its update" in (
        run.doubts
    )


@pytest.mark.parametrize(
    ("name", "hours", "words"),
    [
        ("temperature", -24, "temperature: does not begin when the whole"),
        ("windSpeed", 1, "windSpeed: does not begin when the whole"),
        ("minTemperature", -24, "does not begin with the first night"),
        ("minTemperature", -12, "values are of days, not of nights"),
    ],
)
def test_a_layer_that_lies_elsewhere_in_time_is_said(
    name: str, hours: int, words: str
) -> None:
    document = grid_document()
    for entry in document["properties"][name]["values"]:
        start, _, length = entry["validTime"].partition("/")
        moment = datetime.fromisoformat(start) + timedelta(hours=hours)
        entry["validTime"] = f"{moment.isoformat()}/{length}"
    run = parse_grid(json.dumps(document), NOW)
    assert any(words in line for line in run.doubts)


def test_a_grid_that_does_not_say_for_when_it_holds_is_doubted() -> None:
    run = parse_grid(grid_text(validTimes="soon"), NOW)
    assert "it does not say for what times it holds" in run.doubts


def test_an_hour_that_met_norway_leaves_out_is_not_drawn_between_others() -> None:
    steps = [step(n, value) for n, value in enumerate(AIR[:40])]
    steps[20]["data"]["instant"]["details"]["air_temperature"] = None
    del steps[30]
    steps += [step(45, 3.0, ahead_h=6), step(51, 5.0)]
    run = parse_timeseries(met(steps), NOW)
    missing = np.flatnonzero(np.isnan(run.hours.air_c)).tolist()
    assert missing == [20, 30]


def test_a_lost_minimum_of_six_hours_is_said() -> None:
    steps = [step(0, 4.0), step(1, 3.0, ahead_h=6), step(7, 2.0, ahead_h=6)]
    steps.append(step(13, 1.0, ahead_h=6))
    steps[2]["data"]["next_6_hours"]["details"]["air_temperature_min"] = None
    run = parse_timeseries(met(steps), NOW)
    assert any("air_temperature_min: 1 missing" in line for line in run.doubts)


# --- the place ---------------------------------------------------------------------


@pytest.mark.parametrize("times", [1, 2])
def test_a_cell_of_several_polygons_has_a_middle(times: int) -> None:
    document = grid_document()
    rings = document["geometry"]["coordinates"]
    document["geometry"] = {"type": "MultiPolygon", "coordinates": [rings] * times}
    run = parse_grid(json.dumps(document), NOW)
    assert run.latitude == pytest.approx(46.2205)
    assert run.longitude == pytest.approx(-119.2412)
    assert run.doubts == ()


@pytest.mark.parametrize("odd", [float("inf"), float("-inf"), float("nan"), 1e308, 100])
def test_a_cell_that_is_nowhere_on_earth_has_no_place(odd: float) -> None:
    grid = grid_document()
    grid["geometry"]["coordinates"][0][0][1] = odd
    grid["geometry"]["coordinates"][0][1][1] = odd * 4
    world = open_meteo()
    world["latitude"] = odd
    point = json.loads(met([step(n, value) for n, value in enumerate(AIR)]))
    point["geometry"]["coordinates"][1] = odd
    for run in (
        parse_grid(json.dumps(grid), NOW),
        parse_forecast(json.dumps(world), NOW),
        parse_timeseries(json.dumps(point), NOW),
    ):
        assert (run.latitude, run.longitude) == (None, None)
        assert "where its cell lies cannot be read" in run.doubts


@pytest.mark.parametrize("odd", [1e300, float("inf"), None, "high", -9000, True])
def test_a_height_that_is_none_is_not_reckoned_with(odd: Any) -> None:
    grid = grid_document(elevation={"unitCode": "wmoUnit:m", "value": odd})
    world = open_meteo()
    world["elevation"] = odd
    point = json.loads(met([step(n, value) for n, value in enumerate(AIR)]))
    point["geometry"]["coordinates"][2] = odd
    for run in (
        parse_grid(json.dumps(grid), NOW),
        parse_forecast(json.dumps(world), NOW),
        parse_timeseries(json.dumps(point), NOW),
    ):
        assert run.elevation_m is None
        assert any("the height of its cell" in line for line in run.doubts)


def test_another_cell_than_was_asked_for_is_refused_by_every_source() -> None:
    far = open_meteo()
    far["latitude"] = 48.5
    point = json.loads(met([step(0, 1.0), step(1, 0.0)]))
    point["geometry"]["coordinates"][0] = -110.0
    with http_server(lambda _: Reply(200, json.dumps(far))) as server:
        world = OpenMeteoSource(session(), server.url, PLACE)
        with pytest.raises(ForecastFormatError, match="a cell 253 km away"):
            world.fetch(SourceMemory(), NOW)
    with http_server(lambda _: Reply(200, json.dumps(point))) as server:
        norway = MetNorwaySource(session(), server.url, PLACE)
        with pytest.raises(ForecastFormatError, match=r"a cell 7\d\d km away"):
            norway.fetch(SourceMemory(), NOW)


def test_a_grid_that_names_another_cell_is_refused_though_its_place_is_not_known() -> (
    None
):
    office = Office()
    document = grid_document(gridX=7)
    document["geometry"] = None
    office.grid = Reply(200, json.dumps(document))
    with http_server(office) as server:
        grid: NwsSource = source(server)
        with pytest.raises(ForecastFormatError, match="TST 7,2, and TST 1,2 was asked"):
            grid.fetch(SourceMemory(), NOW)


def test_an_open_meteo_answer_of_a_day_before_is_refused() -> None:
    with http_server(lambda _: Reply(200, json.dumps(open_meteo()))) as server:
        world = OpenMeteoSource(session(), server.url, PLACE)
        assert world.fetch(SourceMemory(), MIDNIGHT + timedelta(hours=47)).run
        with pytest.raises(ForecastFormatError, match="begins at 2026-04-12 00:00"):
            world.fetch(SourceMemory(), MIDNIGHT + timedelta(hours=50))


# --- what no reader must break on --------------------------------------------------


def changed(document: dict[str, Any], path: tuple[Any, ...], value: Any) -> str:
    """The document with something else in one place."""
    node: Any = document
    for key in path[:-1]:
        node = node[key]
    node[path[-1]] = value
    return json.dumps(document)


def point() -> dict[str, Any]:
    document: dict[str, Any] = json.loads(met([step(0, 4.0), step(1, 3.0)]))
    return document


UNREADABLE = {
    "open-meteo, deep": json.dumps(open_meteo())[:-1] + f', "x": {DEEP}' + "}",
    "met-norway, deep": met([step(0, 1.0)])[:-1] + f', "x": {DEEP}' + "}",
    "open-meteo, offset": changed(open_meteo(), ("utc_offset_seconds",), 1e300),
    "met-norway, meta": changed(point(), ("properties", "meta"), None),
    "open-meteo, first year": changed(
        open_meteo(), ("hourly", "time"), ["0001-01-01T00:00"] * HOURS
    ),
    "open-meteo, last year": changed(
        open_meteo(), ("hourly", "time"), ["9999-12-31T23:00"] * HOURS
    ),
    "met-norway, last year": changed(
        point(), ("properties", "meta", "updated_at"), "9999-12-31T23:00:00Z"
    ),
    "nws, last year": grid_text(updateTime="9999-12-31T23:00:00Z"),
    "nws, first year": grid_text(updateTime="0001-01-01T00:00:00Z"),
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_no_document_breaks_its_reader(tmp_path: Path, name: str) -> None:
    path = tmp_path / "answer.json"
    path.write_text(UNREADABLE[name])
    with pytest.raises(ForecastError):
        load_run(path, NOW)


def test_a_step_at_the_end_of_the_calendar_is_left_out() -> None:
    last = {**step(0, 1.0, ahead_h=6), "time": "9999-12-31T23:00:00Z"}
    run = parse_timeseries(met([step(0, 4.0), step(1, 3.0), last]), NOW)
    assert run.hours.count == 2
    assert run.doubts


def test_what_a_document_names_is_shown_in_one_short_line(tmp_path: Path) -> None:
    odd = "\ud800" + "STOP THE WATER\r\n" * 9000
    run = parse_grid(grid_text(gridId=odd), FIRST + timedelta(hours=10))
    assert len(run.place) < 80
    assert run.place.isprintable()
    store = open_store(tmp_path)
    assert store.save_run(Fetched(run=run, memory=SourceMemory()), "nws", NOW)
    store.database.close()


def test_doubts_are_kept_with_the_run(tmp_path: Path) -> None:
    run = parse_grid(grid_text(validTimes="soon"), FIRST + timedelta(hours=10))
    store = open_store(tmp_path)
    store.save_run(Fetched(run=run, memory=SourceMemory()), "nws", NOW)
    [kept] = store.recent_runs(NOW, NOW)
    assert kept.doubts == run.doubts != ()
    store.database.close()
