"""A week on a site that runs colder than its forecast: learned, said, counted."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.app import build_parts
from frostalert.config.accepted import AcceptedConfig
from frostalert.cycle.cycle import redecide
from frostalert.cycle.judging import facts_known_at, judge_stored, known_facts
from frostalert.cycle.replay import replay
from frostalert.model.channel import ChannelKind
from frostalert.model.learned import LeadClass
from frostalert.model.notice import Subject
from frostalert.ports import Fetched, SourceMemory
from frostalert.service import Service
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.adapters.test_nws import Office
from tests.scenario.test_service import SteppedClock
from tests.support.configs import config_text
from tests.support.grids import frosty_hours, grid_text
from tests.support.mails import everything
from tests.support.servers import Reply, http_server

START = datetime(2026, 4, 5, 19, tzinfo=UTC)  # noon, local
SENSORS = (
    '\n[[sensors]]\nname = "Post"\nkind = "reference"\n\n[readings]\ncsv = "r.csv"\n'
)
NIGHTS = 7
COLDER_C = 2.0
HANDS = (Subject.PREPARE, Subject.ACT)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    folder = tmp_path_factory.mktemp("week")
    office = Office()
    with http_server(office) as server:
        text = config_text(nws_url=server.url, state=str(folder), more=SENSORS)
        (folder / "orchard.toml").write_text(text.replace("2026-04-10", "2026-04-04"))
        clock = SteppedClock(START)
        store = open_store(folder)
        config = AcceptedConfig(folder / "orchard.toml", folder)
        service = Service(config, store, clock, build=build_parts)
        live_through(folder, office, clock, service)
        yield service, store, clock
        store.database.close()


def live_through(
    folder: Path, office: Office, clock: SteppedClock, service: Service
) -> None:
    """A week of clear nights, each 2 degC colder at the post than forecast."""
    low_c = 5.0
    for hour in range(24 * NIGHTS + 20):
        now = START + timedelta(hours=hour)
        clock.moment_utc = now
        if hour % 3 == 0:
            first = now.replace(minute=0) - timedelta(hours=(now.hour - 12) % 24)
            body = grid_text(
                air_c=frosty_hours(low_c=low_c, hours=96),
                first=first,
                updated=now - timedelta(minutes=5),
                wind_kmh=1.8,
            )
            office.grid = Reply(200, body)
            service.clock_moved()
            service.fetch()
        phase = (now.hour - 13) % 24
        swing = frosty_hours(low_c=low_c, hours=24)[(phase + 1) % 24] or 0.0
        is_night = now.hour >= 3 and now.hour <= 15
        celsius = swing - (COLDER_C if is_night else 0.0)
        with (folder / "r.csv").open("a") as file:
            if hour == 0:
                file.write("time,sensor,value\n")
            file.write(f"{now.isoformat()},Post,{celsius * 1.8 + 32:.1f}\n")
        service.take_readings()
        service.learn()


def test_the_error_is_learned_night_by_night(place) -> None:  # type: ignore[no-untyped-def]
    _, store, _ = place
    every = store.night_pairs()
    pairs = [pair for pair in every if pair.lead is LeadClass.TONIGHT]
    assert len(pairs) == NIGHTS
    # What was forecast the evening before, and two before, is learned by itself.
    later = [pair for pair in every if pair.lead is not LeadClass.TONIGHT]
    assert {pair.lead for pair in later} == {LeadClass.TOMORROW, LeadClass.LATER}
    errors = [pair.error_c for pair in pairs]
    assert errors == pytest.approx([-COLDER_C] * NIGHTS, abs=0.5)


def test_the_next_night_counts_it_and_says_so(place) -> None:  # type: ignore[no-untyped-def]
    service, store, clock = place
    judged = judge_stored(service.settings.farm, store, clock.now_utc())
    facts = judged.assessment.forecast
    assert facts is not None
    notes = facts.notes
    assert any(
        "below this forecast on nights of this kind (radiation frost; 7 nights)" in note
        for note in notes
    )
    tonight = judged.assessment.nights[0]
    # The source's own low stays what it was.
    assert tonight.low_c == pytest.approx(5.0, abs=0.5)
    assert judged.site_hours is not None
    # Seven nights of 2 degC, shrunk by three without any.
    learned = judged.site_hours.nights[0].low_c
    assert learned == pytest.approx(5.0 - COLDER_C * 7 / 10, abs=0.5)


def test_the_nowcast_is_paired_night_by_night_and_handed_on(place) -> None:  # type: ignore[no-untyped-def]
    service, store, clock = place
    pairs = store.nowcasts()
    assert [pair.night for pair in pairs] == [
        START.date() + timedelta(days=n) for n in range(NIGHTS)
    ]
    lows = [pair.low_c for pair in pairs]
    assert lows == pytest.approx([5.0 - COLDER_C] * NIGHTS, abs=0.3)
    judged = judge_stored(service.settings.farm, store, clock.now_utc())
    assert judged.facts.nowcasts == pairs
    # As the first evening knew it: nothing.
    first = facts_known_at(judged.facts, START, START.date())
    assert first.nowcasts == ()


def test_the_message_says_what_the_site_taught(place) -> None:  # type: ignore[no-untyped-def]
    service, store, clock = place
    farm = service.settings.farm
    # Two degrees colder than all of the week: whoever is called reads what was learned.
    cold = store.recent_runs(clock.now_utc(), clock.now_utc())[0]
    air = cold.hours.air_c - 6.0
    run = replace(
        cold,
        updated_utc=clock.now_utc(),
        fetched_utc=clock.now_utc(),
        hours=replace(cold.hours, air_c=air, dewpoint_c=air - 4.0),
    )
    store.save_run(Fetched(run=run, memory=SourceMemory()), "nws", clock.now_utc())
    redecide(farm, store, clock.now_utc())
    mails = [
        everything(row.message)
        for row in store.unsent(clock.now_utc(), is_forced=True)
        if row.message.channel is ChannelKind.EMAIL
        and row.message.subject_kind in (*HANDS, Subject.OUTLOOK)
    ]
    assert mails
    words = " ".join(mails[0].split())
    assert "below this forecast on nights of this kind (radiation frost; 7 nights)" in (
        words
    )


def test_a_replay_of_the_week_shows_what_another_threshold_would_have_said(
    place: tuple[Service, StateStore, SteppedClock],
) -> None:
    service, store, _ = place
    farm = service.settings.farm
    end = START + timedelta(days=NIGHTS)
    facts = known_facts(store, START, store.runs_between(START, end))
    calm = replay(farm, facts, START, end)
    assert [item for item in calm if item.item.say in HANDS] == []
    bold = replace(
        farm,
        rules=replace(farm.rules, near_probability=0.001),
    )
    said = replay(bold, facts, START, end)
    called = [item for item in said if item.item.say in HANDS]
    assert len({item.item.night for item in called}) >= NIGHTS - 2
