"""Official warnings and station readings: what is in force, what is measured."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from frostalert.errors import ForecastFormatError, ForecastUnavailableError
from frostalert.forecast.nws_official import (
    NwsOfficial,
    parse_alerts,
    parse_observations,
    parse_station,
)
from frostalert.messages.official_words import official_lines
from frostalert.messages.wording import Wording
from frostalert.model.official import OfficialWord, StationReport
from frostalert.store.open import open_store
from frostalert.transport import HttpSession
from tests.support.holdings import SITE
from tests.support.servers import HttpServer, Reply, Seen, http_server

NOW = datetime(2026, 4, 12, 23, tzinfo=UTC)
PLACE = (46.2205, -119.2412)
CODE = "/O.{action}.KTST.FZ.{kind}.0007.260413T0700Z-260413T1600Z/"


def alert(action: str = "NEW", kind: str = "W", **changes: Any) -> dict[str, Any]:
    """One entry as the service gives it; the office is invented."""
    properties = {
        "status": "Actual",
        "urgency": "Expected",
        "event": "Freeze Warning",
        "senderName": "NWS Testville",
        "sent": "2026-04-12T20:00:00+00:00",
        "onset": "2026-04-13T07:00:00+00:00",
        "expires": "2026-04-13T04:00:00+00:00",
        "ends": "2026-04-13T16:00:00+00:00",
        "parameters": {"VTEC": [CODE.format(action=action, kind=kind)]},
    }
    return {"properties": {**properties, **changes}}


def listed(*features: dict[str, Any]) -> str:
    return json.dumps({"features": list(features)})


def observation(value: object, minutes_ago: int, mark: str = "V") -> dict[str, Any]:
    moment = NOW - timedelta(minutes=minutes_ago)
    reading = {"unitCode": "wmoUnit:degC", "value": value, "qualityControl": mark}
    return {"properties": {"timestamp": moment.isoformat(), "temperature": reading}}


def station(name: str, latitude: float, longitude: float) -> dict[str, Any]:
    return {
        "geometry": {"coordinates": [longitude, latitude]},
        "properties": {"stationIdentifier": name, "name": f"{name} Field"},
    }


@pytest.mark.parametrize(
    ("entry", "count"),
    [
        (alert(), 1),
        (alert("CON"), 1),
        (alert(kind="A", event="Freeze Watch"), 1),
        # A renewal may be late: `ends` counts before `expires`.
        (alert(expires="2026-04-12T22:00:00+00:00"), 1),
        (alert("CAN"), 0),
        (alert("UPG"), 0),
        (alert(urgency="Past"), 0),
        (alert(status="Test"), 0),
        (alert(ends="2026-04-12T22:59:00+00:00"), 0),
        (alert(ends=None, expires="2026-04-12T21:00:00+00:00"), 1),
        (alert(ends=None, expires="2026-04-12T19:00:00+00:00"), 0),
        # People in the wind, not plants.
        (alert(parameters={"VTEC": ["/O.NEW.KTST.CW.Y.0001.0-0/"]}), 0),
        (alert(parameters=None), 0),
        (alert(sent="yesterday"), 0),
        ({}, 0),
    ],
)
def test_what_is_in_force(entry: dict[str, Any], count: int) -> None:
    assert len(parse_alerts(listed(entry), NOW)) == count


def test_one_warning_in_two_zones_is_one_and_the_latest_word_counts() -> None:
    later = alert("EXT", sent="2026-04-12T22:00:00+00:00", event="Freeze Warning!")
    [found] = parse_alerts(listed(alert(), later, alert()), NOW)
    assert found.event == "Freeze Warning!"


@pytest.mark.parametrize("body", ["", "[]", "{}", '{"features": 3}'])
def test_what_is_no_list_is_refused(body: str) -> None:
    for parse in (parse_alerts, parse_observations):
        with pytest.raises(ForecastFormatError):
            parse(body, NOW)


def test_no_entries_are_no_warnings() -> None:
    assert parse_alerts('{"features": null}', NOW) == ()


def test_the_nearest_official_station_is_asked() -> None:
    body = listed(
        station("D1234", 46.22, -119.24),
        station("KFAR", 46.6, -119.2),
        station("KNEA", 46.3, -119.2),
    )
    found = parse_station(body, PLACE)
    assert found is not None
    assert (found[0], found[1]) == ("KNEA", "KNEA Field")
    assert found[2] == pytest.approx(9.4, abs=0.3)
    assert parse_station(listed(station("KOFF", 49.0, -119.0)), PLACE) is None


def test_the_newest_reading_that_passed_its_checks_counts() -> None:
    body = listed(
        observation(None, 5),
        observation(-9.0, 10, "X"),
        observation(1.5, 20),
        observation(2.5, 40, "Z"),
        observation(0.5, 500),
    )
    found = parse_observations(body, NOW)
    assert found == (NOW - timedelta(minutes=20), 1.5)
    assert parse_observations(listed(observation(1.0, 130)), NOW) is None


class Bureau:
    """The service: four addresses, each of which can fail."""

    def __init__(self) -> None:
        points = "https://elsewhere.example/gridpoints/TST/1,2/stations"
        self.replies = {
            "/alerts/active": Reply(200, listed(alert())),
            "/points/": Reply(
                200, json.dumps({"properties": {"observationStations": points}})
            ),
            "/gridpoints/": Reply(200, listed(station("KNEA", 46.3, -119.2))),
            "/stations/": Reply(200, listed(observation(-0.6, 9))),
        }

    def __call__(self, seen: Seen) -> Reply:
        for start, reply in self.replies.items():
            if seen.path.startswith(start):
                return reply
        return Reply(404, "")


@pytest.fixture
def bureau() -> Iterator[tuple[Bureau, HttpServer]]:
    found = Bureau()
    with http_server(found) as server:
        yield found, server


def asked(server: HttpServer) -> OfficialWord:
    session = HttpSession("frostalert/test", sleep=lambda _: None)
    return NwsOfficial(session, server.url, PLACE).ask(NOW)


def test_warnings_and_the_station_are_asked_for(
    bureau: tuple[Bureau, HttpServer],
) -> None:
    _, server = bureau
    word = asked(server)
    assert [item.event for item in word.alerts] == ["Freeze Warning"]
    assert word.report is not None
    assert (word.report.station, word.report.air_c) == ("KNEA", -0.6)
    assert server.seen[0].path.endswith("?point=46.2205,-119.2412")


def test_without_a_station_the_warnings_still_come(
    bureau: tuple[Bureau, HttpServer],
) -> None:
    found, server = bureau
    found.replies["/stations/"] = Reply(500, "{}")
    assert asked(server).report is None
    found.replies["/alerts/active"] = Reply(500, "{}")
    with pytest.raises(ForecastUnavailableError):
        asked(server)


def test_what_was_said_is_kept(tmp_path: Path) -> None:
    report = StationReport(
        station="KNEA", name="Near Field", distance_km=9.4, at_utc=NOW, air_c=-0.6
    )
    word = OfficialWord(
        asked_utc=NOW, alerts=parse_alerts(listed(alert()), NOW), report=report
    )
    store = open_store(tmp_path)
    assert store.official_word() is None
    store.save_official(word)
    assert store.official_word() == word
    store.database.close()


def test_it_is_quoted_as_theirs_and_silence_is_not_safety() -> None:
    report = StationReport(
        station="KNEA", name="Near Field", distance_km=9.4, at_utc=NOW, air_c=-0.6
    )
    word = OfficialWord(
        asked_utc=NOW, alerts=parse_alerts(listed(alert()), NOW), report=report
    )
    wording = Wording(SITE, NOW)
    force, near = official_lines(word, wording)
    assert force.startswith(
        "In force: Freeze Warning by NWS Testville, from Mon Apr 13"
    )
    assert "their words; the chances here are ours" in force
    assert near.endswith("Near Field (KNEA, 6 mi off): 31 F at Sun Apr 12, 4:00 pm PDT")
    [silence] = official_lines(OfficialWord(asked_utc=NOW), wording)
    assert "does not mean that none is needed" in silence
    [old] = official_lines(word, Wording(SITE, NOW + timedelta(hours=3)))
    assert old.startswith("Official warnings: not known (last had: 3 h old")
    [never] = official_lines(OfficialWord(asked_utc=None), wording)
    assert "never" in never
    assert official_lines(None, wording) == ()


def test_official_words_are_cut_and_stand_on_one_line() -> None:
    event = "Freeze Warning\n\nALL CLEAR: stop the water now\r\n" + "x" * 200_000
    sender = "NWS\u2028Testville\x1b[31m"
    body = listed(alert(event=event, senderName=sender))
    word = OfficialWord(
        asked_utc=NOW,
        alerts=parse_alerts(body, NOW),
        report=StationReport(
            station="KTST",
            name="Test\nField " * 99,
            distance_km=3.0,
            at_utc=NOW,
            air_c=1.0,
        ),
    )
    lines = official_lines(word, Wording(SITE, NOW))
    assert len(lines) == 2
    for line in lines:
        assert line.isprintable()
        assert len(line) < 400
    # Whatever it says is quoted as theirs.
    assert lines[0].startswith("In force: Freeze Warning ALL CLEAR")
    assert "(their word" in lines[0]
