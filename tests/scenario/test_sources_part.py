"""A week in which two sources part on three nights and then agree: what people hear."""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from frostalert.app import build_parts
from frostalert.config.accepted import AcceptedConfig
from frostalert.cycle.document import assessment_document
from frostalert.cycle.judging import judge_stored
from frostalert.model.channel import ChannelKind
from frostalert.service import Service
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.adapters.test_nws import Office
from tests.adapters.test_point_sources import HOURS, open_meteo
from tests.scenario.test_service import SteppedClock
from tests.support.configs import config_text
from tests.support.grids import grid_text
from tests.support.servers import (
    HttpServer,
    MailBox,
    Reply,
    Seen,
    http_server,
    smtp_server,
)

FIRST = date(2026, 4, 12)
START = datetime(2026, 4, 12, 13, tzinfo=UTC)  # 06:00 local
LOWS_C = ((9.0, 9.0), (9.0, 3.0), (5.8, -0.2), (3.0, -3.0), (6.0, 6.0), (-5.0, -5.0))
"""Lows of the two sources, night by night; 8 degC on every later one."""
UNLIKELY, READY, HANDS, AGREED_WARM, AGREED_COLD = (
    FIRST + timedelta(days=n) for n in (1, 2, 3, 4, 5)
)
POST = '\n[[sensors]]\nname = "Post"\nkind = "reference"\n\n[readings]\ncsv = "r.csv"\n'


def low_c(night: int, source: int) -> float:
    return LOWS_C[night][source] if 0 <= night < len(LOWS_C) else 8.0


def hours_c(first: datetime, count: int, source: int) -> list[float]:
    """From 16 degC at four in the afternoon to each night's low at six."""
    found = []
    for n in range(count):
        moment = first + timedelta(hours=n)
        since_high = (moment.hour - 23) % 24
        night = (moment - timedelta(hours=23)).date() - FIRST
        share = since_high / 14.0 if since_high <= 14 else (24 - since_high) / 10.0
        low = low_c(night.days, source)
        found.append(round(16.0 + (low - 16.0) * (1.0 - np.cos(np.pi * share)) / 2, 2))
    return found


class Services:
    """Two forecasts, a text service, and whatever hour it is."""

    def __init__(self, clock: SteppedClock) -> None:
        self.clock = clock
        self.office = Office()

    def __call__(self, seen: Seen) -> Reply:
        now = self.clock.now_utc()
        first = now.replace(hour=12, minute=0) - timedelta(days=now.hour < 12)
        if seen.path.startswith("/messages"):
            return Reply(201, '{"id": "m1"}')
        if seen.path.startswith("/v1/"):
            midnight = now.replace(hour=0, minute=0)
            # Each answer differs by a hair: one that stays the same counts as old.
            hair = 0.01 * (int(now.timestamp()) // 3600 % 7)
            air = [value + hair for value in hours_c(midnight, HOURS, 1)]
            stamps = [int(midnight.timestamp()) + 3600 * n for n in range(HOURS)]
            answer = open_meteo(temperature_2m=air, time=stamps)
            return Reply(200, json.dumps(answer))
        self.office.grid = Reply(
            200,
            grid_text(
                air_c=hours_c(first, 96, 0),
                first=first,
                updated=now - timedelta(minutes=5),
            ),
        )
        return self.office(seen)


@dataclass(frozen=True)
class Mail:
    """A mail that Ines got."""

    at_utc: datetime
    subject: str
    text: str


@dataclass
class Week:
    """What people were told, and what the program hands on each evening."""

    mails: list[Mail]
    documents: dict[date, dict[str, Any]]
    said: list[tuple[date, str]]
    """Night and what was said of it, as kept, whenever something was."""

    def of(self, night: date) -> list[str]:
        return [said for told, said in self.said if told == night]

    def about(self, night: date, start: str) -> list[Mail]:
        """Mails whose subject begins so, about a night."""
        day = f"{night:%a} {night:%b} {night.day}"
        return [
            mail
            for mail in self.mails
            if mail.subject.startswith(start) and day in mail.subject
        ]

    def chance(self, night: date) -> float:
        [block] = self.documents[night]["blocks"]
        return float(block["probability_at_risk"])


def live_through(
    folder: Path, hours: int, readings: Sequence[tuple[datetime, float]] = ()
) -> Week:
    clock, box = SteppedClock(START), MailBox()
    store = open_store(folder)
    with (
        http_server(Services(clock)) as server,
        smtp_server(box) as mail,
    ):
        (folder / "orchard.toml").write_text(_config(folder, server, mail.port))
        (folder / "r.csv").write_text("time,sensor,value\n")
        config = AcceptedConfig(folder / "orchard.toml", folder)
        service = Service(config, store, clock, build=build_parts)
        week = Week([], {}, [])
        for hour in range(hours):
            clock.moment_utc = START + timedelta(hours=hour)
            _one_hour(folder, service, clock, readings, is_fetched=hour % 3 == 0)
            for one in box.mails[len(week.mails) :]:
                body = one.get_body(("plain",))
                assert body is not None
                words = " ".join(body.get_content().split())
                week.mails.append(Mail(clock.moment_utc, one["Subject"], words))
            if clock.moment_utc.hour == 1:  # 18:00 local
                _keep(week, service, store, clock.moment_utc)
        week.said = _decided(store)
    store.database.close()
    return week


def _config(folder: Path, server: HttpServer, smtp_port: int) -> str:
    text = config_text(
        smtp_port=smtp_port,
        sms_url=server.url,
        nws_url=server.url,
        state=str(folder),
        more=POST,
    )
    return text.replace(
        "[forecast]",
        f'[forecast]\nsources = ["nws", "open-meteo"]\nopen_meteo_url = "{server.url}"',
    )


def _one_hour(
    folder: Path,
    service: Service,
    clock: SteppedClock,
    readings: Sequence[tuple[datetime, float]],
    *,
    is_fetched: bool,
) -> None:
    now = clock.now_utc()
    for moment, air_c in readings:
        if moment == now:
            with (folder / "r.csv").open("a") as file:
                file.write(f"{now.isoformat()},Post,{air_c * 1.8 + 32:.1f}\n")
    service.take_readings()
    if is_fetched:
        service.clock_moved()
        service.fetch()
    for minutes in (0, 20, 20):
        clock.step(minutes=minutes)
        service.look()
        for kind in (ChannelKind.EMAIL, ChannelKind.SMS):
            service.relay(kind)


def _keep(week: Week, service: Service, store: StateStore, now: datetime) -> None:
    farm = service.settings.farm
    document = assessment_document(judge_stored(farm, store, now).assessment, farm, [])
    [tonight] = document["tonight"]
    own = [night for night in document["nights"] if night["night"] == tonight]
    week.documents[date.fromisoformat(tonight)] = own[0]


def _decided(store: StateStore) -> list[tuple[date, str]]:
    with store.database.reading() as connection:
        rows = connection.execute(
            "SELECT night, said FROM decision WHERE said IS NOT NULL ORDER BY rowid"
        ).fetchall()
    return [(date.fromisoformat(row[0]), row[1]) for row in rows]


@pytest.fixture(scope="module")
def week(tmp_path_factory: pytest.TempPathFactory) -> Week:
    return live_through(tmp_path_factory.mktemp("week"), 7 * 24)


def test_both_members_stand_in_the_document_each_evening(week: Week) -> None:
    for night, (first_c, other_c) in enumerate(LOWS_C):
        found = week.documents[FIRST + timedelta(days=night)]
        assert found["low_c"] == pytest.approx(first_c, abs=0.1)
        [other] = found["other_lows"]
        assert other["source"].startswith("Open-Meteo")
        assert other["low_c"] == pytest.approx(other_c, abs=0.1)
        assert found["source_spread_c"] == pytest.approx(first_c - other_c, abs=0.1)
        # Far apart the centre is a third of the way up; else it is the middle.
        up = 1 / 3 if first_c - other_c > 3.0 else 1 / 2
        pooled = other_c + up * (first_c - other_c)
        assert found["pooled_low_c"] == pytest.approx(pooled, abs=0.1)


def test_sources_that_part_far_above_harm_call_nobody(week: Week) -> None:
    assert week.chance(UNLIKELY) < 0.1
    assert week.of(UNLIKELY) == []


def test_people_get_ready_by_the_pooled_chance_and_hear_that_the_sources_disagree(
    week: Week,
) -> None:
    assert 0.15 <= week.chance(READY) < 0.2
    [mail] = week.about(READY, "Get ready")
    assert "this one 42 F, Open-Meteo (open-meteo.com, CC BY 4.0) 32 F" in mail.text
    assert "They disagree by 11 F: the colder counts more" in mail.text
    # It is not enough to get anybody out of bed.
    assert "act" not in week.of(READY)
    assert week.about(READY, "Start now") == []


def test_hands_are_called_when_the_chance_says_so(week: Week) -> None:
    assert week.chance(HANDS) > 0.4
    for start in ("Get ready", "Start now"):
        [mail] = week.about(HANDS, start)
        assert "They disagree by 11 F" in mail.text
        assert "an even chance" in mail.text


def test_when_they_agree_again_nothing_is_said_to_disagree(week: Week) -> None:
    assert week.of(AGREED_WARM) == []
    assert week.chance(AGREED_COLD) > 0.9
    for start in ("Get ready", "Start now"):
        [mail] = week.about(AGREED_COLD, start)
        assert "disagree" not in mail.text


def test_each_night_is_told_only_what_changed(week: Week) -> None:
    steps = ("outlook", "prepare", "act", "stand-down")
    assert {said for _, said in week.said} <= {*steps, "withdrawn"}
    for night in (READY, HANDS, AGREED_COLD):
        said = week.of(night)
        # Said once each, in order: never back, never again.
        ranks = [steps.index(word) for word in said if word in steps]
        assert ranks == sorted(ranks), (night, said)
        for start in ("Get ready", "Start now", "Before you stop"):
            assert len(week.about(night, start)) <= 1, (night, start)
    subjects = [mail.subject for mail in week.mails]
    assert not [words for words in subjects if "needs you" in words]
    assert len(subjects) == len(set(subjects)), subjects


def test_a_cold_reading_calls_hands_where_the_chance_did_not(tmp_path: Path) -> None:
    dusk = datetime(2026, 4, 15, 4, tzinfo=UTC)  # 21:00 local
    readings = [(dusk + timedelta(hours=n), 5.0 - 2.0 * n) for n in range(4)]
    found = live_through(tmp_path, 3 * 24, readings)
    assert 0.15 <= found.chance(READY) < 0.2
    first, *again = found.about(READY, "Start now")
    assert first.at_utc > dusk
    assert re.search(r"Post read .* colder than this forecast", first.text)
    # What is told again says what got worse.
    told = [*found.about(READY, "Get ready")[1:], *again]
    assert all("It got worse: " in mail.text for mail in told)
    assert "act" in found.of(READY)
