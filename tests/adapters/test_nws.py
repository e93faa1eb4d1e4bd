"""The US National Weather Service grid: read, refused and fetched."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from frostalert.errors import (
    ForecastFormatError,
    ForecastRejectedError,
    ForecastUnavailableError,
)
from frostalert.forecast.intervals import parse_duration, parse_interval
from frostalert.forecast.nws import parse_grid
from frostalert.forecast.nws_source import NwsSource
from frostalert.model.forecast import ForecastRun
from frostalert.ports import SourceMemory
from frostalert.transport import HttpSession
from tests.support.grids import FIRST, frosty_hours, grid_document, grid_text
from tests.support.holdings import make_block, make_holding
from tests.support.judged import nights_of
from tests.support.servers import HttpServer, Reply, Seen, http_server

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)


def parsed(**changes: Any) -> ForecastRun:
    return parse_grid(grid_text(**changes), NOW)


def test_hours_place_height_and_age_are_read() -> None:
    run = parsed(minimum_c=-4.0)
    assert run.hours.first_utc == FIRST
    assert run.hours.count == 72
    assert run.hours.air_c.tolist() == frosty_hours()
    assert run.hours.wind_mps[0] == pytest.approx(3.7 / 3.6)
    assert (run.place, run.elevation_m) == ("TST 1,2", 125.0)
    assert run.updated_utc == FIRST + timedelta(hours=6)
    assert [period.value for period in run.night_minimums] == [-4.0, -4.0]


def test_merged_intervals_become_equal_hours() -> None:
    layer = {
        "uom": "wmoUnit:degC",
        "values": [
            {"validTime": "2026-04-12T12:00:00+00:00/PT3H", "value": 4},
            {"validTime": "2026-04-12T15:00:00Z/P1DT2H", "value": 1.5},
        ],
    }
    run = parsed(temperature=layer)
    assert run.hours.air_c.tolist() == [4.0] * 3 + [1.5] * 26


def test_gaps_and_nulls_stay_missing() -> None:
    air = frosty_hours()
    air[5] = None
    document = grid_document(air_c=air)
    values = document["properties"]["temperature"]["values"]
    values[10]["value"] = None
    run = parse_grid(json.dumps(document), NOW)
    assert np.flatnonzero(np.isnan(run.hours.air_c)).tolist() == [5, 11]


def test_shorter_layers_are_missing_where_they_end() -> None:
    run = parsed(dewpoint_c=[-8.0] * 40)
    assert np.isfinite(run.hours.dewpoint_c[:40]).all()
    assert np.isnan(run.hours.dewpoint_c[40:]).all()


def test_the_dew_point_is_taken_from_humidity_where_it_lacks() -> None:
    humidity = {
        "uom": "wmoUnit:percent",
        "values": [{"validTime": "2026-04-12T12:00:00+00:00/PT72H", "value": 60}],
    }
    run = parsed(air_c=[0.0] * 72, dewpoint_c=[None] * 72, relativeHumidity=humidity)
    # Magnus formula over water: 0 degC and 60 % give -6.85 degC.
    assert run.hours.dewpoint_c[0] == pytest.approx(-6.85, abs=0.05)
    assert any("relative humidity" in note for note in run.notes)


def test_a_dew_point_above_the_air_is_not_believed() -> None:
    run = parsed(air_c=[0.0] * 72, dewpoint_c=[0.3, 5.0] + [-1.0] * 70)
    assert run.hours.dewpoint_c[0] == 0.0
    assert np.isnan(run.hours.dewpoint_c[1])
    assert any("far above" in note for note in run.notes)


@pytest.mark.parametrize(
    "odd", ["12", True, float("nan"), float("inf"), [3], {"a": 1}, 300, -120]
)
def test_what_is_no_temperature_is_missing(odd: Any) -> None:
    document = grid_document()
    document["properties"]["temperature"]["values"][7]["value"] = odd
    run = parse_grid(json.dumps(document), NOW)
    assert np.isnan(run.hours.air_c[7])
    assert np.isfinite(run.hours.air_c[6])
    assert any("temperature" in note for note in run.notes)


def test_an_unknown_unit_drops_the_layer_and_says_so() -> None:
    run = parsed(
        windSpeed={
            "uom": "wmoUnit:furlong_h-1",
            "values": [{"validTime": "2026-04-12T12:00:00+00:00/PT1H", "value": 5}],
        }
    )
    assert np.isnan(run.hours.wind_mps).all()
    assert any("furlong" in note for note in run.notes)


@pytest.mark.parametrize(
    ("unit", "value"), [("unit:degC", -1.0), ("wmoUnit:degF", 30.2), ("K", 272.15)]
)
def test_old_and_other_units_are_converted(unit: str, value: float) -> None:
    layer = {
        "uom": unit,
        "values": [{"validTime": "2026-04-12T12:00:00+00:00/PT2H", "value": value}],
    }
    assert parsed(temperature=layer).hours.air_c == pytest.approx([-1.0, -1.0])


def test_overlaps_are_settled_by_the_later_entry() -> None:
    layer = {
        "uom": "wmoUnit:degC",
        "values": [
            {"validTime": "2026-04-12T12:00:00+00:00/PT4H", "value": 1},
            {"validTime": "2026-04-12T14:00:00+00:00/PT1H", "value": 9},
        ],
    }
    assert parsed(temperature=layer).hours.air_c.tolist() == [1.0, 1.0, 9.0, 1.0]


@pytest.mark.parametrize(
    ("body", "error", "words"),
    [
        ("<html>log in</html>", ForecastUnavailableError, "web page"),
        ('{"type": "Feature"', ForecastUnavailableError, "cut off"),
        ("[]", ForecastFormatError, "not a GeoJSON"),
        ('{"@graph": []}', ForecastFormatError, "JSON-LD"),
        (
            '{"type": "Feature", "properties": {"forecastGridData": "x"}}',
            ForecastFormatError,
            "/points answer",
        ),
        (
            '{"type": "FeatureCollection", "features": []}',
            ForecastFormatError,
            "list of features",
        ),
        (
            '{"type": "urn:noaa:nws:api:UnexpectedProblem", "status": 500}',
            ForecastUnavailableError,
            "UnexpectedProblem",
        ),
        (
            '{"type": "https://api.weather.gov/problems/InvalidPoint", "status": 404}',
            ForecastRejectedError,
            "latitude and longitude",
        ),
        ("[" * 100_000, ForecastFormatError, "nested"),
    ],
)
def test_what_is_no_grid_is_refused_with_its_name(
    body: str, error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        parse_grid(body, NOW)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"temperature": {"values": []}}, "no air temperature"),
        ({"updateTime": "yesterday"}, "no update time"),
        ({"updateTime": None}, "no update time"),
        ({"updateTime": "2026-04-12T18:00:00"}, "no update time"),
    ],
)
def test_a_grid_without_the_needful_is_refused(
    changes: dict[str, Any], words: str
) -> None:
    with pytest.raises(ForecastFormatError, match=words):
        parsed(**changes)


@pytest.mark.parametrize(
    "text", ["P1M", "P1Y", "PT", "P", "PT0H", "P90D", "1 hour", "PT1.5H", "P1DT"]
)
def test_durations_that_no_forecast_has_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="duration"):
        parse_duration(text)


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("2026-04-12T12:00:00+00:00/PT13H", 13),
        ("2026-04-12T12:00:00Z/P7DT14H", 7 * 24 + 14),
        ("2026-04-12T12:00:00Z/2026-04-12T15:30:00Z", 3.5),
        ("PT6H/2026-04-12T12:00:00-07:00", 6),
        ("2026-04-12T12:00:00Z/PT1H30M", 1.5),
    ],
)
def test_interval_forms(text: str, hours: float) -> None:
    start, end = parse_interval(text)
    assert (end - start) / timedelta(hours=1) == hours


@pytest.mark.parametrize(
    "text",
    ["", None, "NOW/PT1H", "2026-04-12T12:00:00/PT1H", "2026-04-12T12:00:00Z", "a/b"],
)
def test_broken_intervals_are_refused(text: object) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - any of several messages
        parse_interval(text)


@pytest.mark.parametrize(
    "entry",
    [
        {"validTime": "9999-12-31T23:00:00+00:00/PT6H", "value": 3},
        {"validTime": "0001-01-01T00:00:00+05:00/PT1H", "value": 3},
        {"validTime": "1970-01-01T00:00:00+00:00/PT1H", "value": 3},
        {"validTime": "2026-04-12T12:00:00+00:00/PT1H", "value": 10**400},
    ],
)
def test_entries_beyond_the_calendar_or_far_away_are_left_out(entry: Any) -> None:
    document = grid_document()
    document["properties"]["temperature"]["values"].append(entry)
    run = parse_grid(json.dumps(document), NOW)
    assert run.hours.first_utc == FIRST
    assert run.hours.count == 72


# --- fetching ---------------------------------------------------------------------


def points(url: str) -> str:
    return json.dumps({"properties": {"forecastGridData": f"{url}/gridpoints/TST/1,2"}})


class Office:
    """A server that answers as the service does."""

    def __init__(self) -> None:
        self.grid = Reply(200, grid_text(), {"Last-Modified": LAST_MODIFIED})
        self.points = Reply(200, points("https://api.weather.gov"))

    def __call__(self, seen: Seen) -> Reply:
        return self.points if seen.path.startswith("/points/") else self.grid


LAST_MODIFIED = "Sun, 12 Apr 2026 20:41:00 GMT"


def source(server: HttpServer) -> NwsSource:
    session = HttpSession("frostalert/test", deadline_s=5.0, sleep=lambda _: None)
    return NwsSource(session, server.url, 46.22051, -119.24120)


def test_points_then_grid_with_four_decimals_and_one_accept() -> None:
    with http_server(Office()) as server:
        fetched = source(server).fetch(SourceMemory(), NOW)
    assert fetched.run is not None
    assert fetched.memory.last_modified == LAST_MODIFIED
    assert [seen.path for seen in server.seen] == [
        "/points/46.2205,-119.2412",
        "/gridpoints/TST/1,2",
    ]
    assert {seen.headers["Accept"] for seen in server.seen} == {"application/geo+json"}


def test_the_next_request_is_conditional_and_skips_points() -> None:
    office = Office()
    with http_server(office) as server:
        first = source(server).fetch(SourceMemory(), NOW)
        office.grid = Reply(304)
        second = source(server).fetch(first.memory, NOW)
    assert second.run is None
    assert server.seen[-1].headers["If-Modified-Since"] == LAST_MODIFIED
    assert len(server.seen) == 3


def test_a_validator_from_the_future_is_not_used() -> None:
    office = Office()
    office.grid.headers["Last-Modified"] = "Mon, 13 Apr 2026 20:41:00 GMT"
    with http_server(office) as server:
        first = source(server).fetch(SourceMemory(), NOW)
        source(server).fetch(first.memory, NOW)
    assert "If-Modified-Since" not in server.seen[-1].headers


def test_the_place_is_looked_up_again_weekly_and_on_404() -> None:
    office = Office()
    with http_server(office) as server:
        first = source(server).fetch(SourceMemory(), NOW)
        source(server).fetch(first.memory, NOW + timedelta(days=8))
        assert server.seen[2].path.startswith("/points/")
        gone = SourceMemory(
            grid_url=f"{server.url}/gridpoints/OLD/9,9",
            resolved_utc=NOW,
            latitude=46.22051,
            longitude=-119.24120,
        )
        office_reply = office.grid

        def moved(seen: Seen) -> Reply:
            if "OLD" in seen.path:
                return Reply(404, "{}")
            return office.points if "/points/" in seen.path else office_reply

        server.answering = moved
        again = source(server).fetch(gone, NOW)
    assert again.run is not None
    assert again.memory.grid_url == f"{server.url}/gridpoints/TST/1,2"


def test_a_forecast_from_the_future_is_refused() -> None:
    office = Office()
    office.grid = Reply(200, grid_text(updated=NOW + timedelta(days=3)))
    with (
        http_server(office) as server,
        pytest.raises(ForecastFormatError, match="clock"),
    ):
        source(server).fetch(SourceMemory(), NOW)


def test_a_moved_site_is_looked_up_at_once() -> None:
    office = Office()
    with http_server(office) as server:
        first = source(server).fetch(SourceMemory(), NOW)
        session = HttpSession("frostalert/test", deadline_s=5.0, sleep=lambda _: None)
        moved = NwsSource(session, server.url, 46.25, -119.25)
        moved.fetch(first.memory, NOW)
    assert server.seen[2].path == "/points/46.25,-119.25"
    assert "If-Modified-Since" not in server.seen[3].headers


def test_a_failing_look_up_does_not_keep_the_grid_away() -> None:
    office = Office()
    with http_server(office) as server:
        first = source(server).fetch(SourceMemory(), NOW)
        office.points = Reply(500)
        later = NOW + timedelta(days=8)
        again = source(server).fetch(first.memory, later)
    assert again.run is not None


def test_an_answer_for_another_place_is_refused() -> None:
    office = Office()
    office.grid = Reply(200, grid_text(latitude=40.0))
    with http_server(office) as server, pytest.raises(ForecastFormatError, match="km"):
        source(server).fetch(SourceMemory(), NOW)


@pytest.mark.parametrize(
    ("reply", "error"),
    [
        (Reply(403, "<HTML>Access Denied</HTML>"), ForecastUnavailableError),
        (Reply(429, "slow down"), ForecastUnavailableError),
        (Reply(500, '{"type": "x/UnexpectedProblem"}'), ForecastUnavailableError),
        (Reply(400, '{"type": "x/InvalidParameter"}'), ForecastRejectedError),
        (Reply(200, "<html>hotel wifi</html>"), ForecastUnavailableError),
    ],
)
def test_errors_are_classified(reply: Reply, error: type[Exception]) -> None:
    office = Office()
    office.grid = reply
    with http_server(office) as server, pytest.raises(error):
        source(server).fetch(SourceMemory(), NOW)


def test_a_server_that_is_away_is_unavailable() -> None:
    with http_server(Office()) as server:
        pass
    with pytest.raises(ForecastUnavailableError):
        source(server).fetch(SourceMemory(), NOW)


def test_an_odd_grid_address_is_refused() -> None:
    office = Office()
    odd = {"properties": {"forecastGridData": "https://evil.example/etc/passwd"}}
    office.points = Reply(200, json.dumps(odd))
    with http_server(office) as server, pytest.raises(ForecastFormatError, match="odd"):
        source(server).fetch(SourceMemory(), NOW)


def test_sky_cover_is_opaque_cloud_and_shuts_the_sky() -> None:
    # NWS Meteorological Development Laboratory, sky cover notes of 2007: sky cover is
    # opaque cloud. An overcast hollow is no colder than the air, and its buds are not.
    run = parse_grid(grid_text(cloud_pct=100.0), NOW)
    assert run.hours.shutting_cloud_pct[0] == 100.0
    farm = make_holding(make_block(cold_spot_delta_c=-3.0))
    nights = nights_of(farm, run, NOW)
    assert nights.site_hours is not None
    assert nights.block_hours is not None
    assert not nights.site_hours.weight.any()
    assert not nights.block_hours.deficit_c.any()
    overcast = nights.assessment.nights[0].blocks[0]
    assert overcast.site_low_c == overcast.air_low_c
    half = nights_of(farm, parse_grid(grid_text(cloud_pct=50.0), NOW), NOW)
    assert half.site_hours is not None
    assert half.site_hours.weight.max() == pytest.approx(0.5)
