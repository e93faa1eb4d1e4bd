"""Archives of forecasts and stations, asked over real HTTP: read, kept, refused."""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from frostalert.archives.asking import Asking
from frostalert.archives.gather import Archives, archives_of, gather
from frostalert.archives.stage_file import parse_stages
from frostalert.archives.stations import parse_days, parse_near
from frostalert.archives.thermometer import Columns, own_file, parse_old
from frostalert.config.load import parse_settings
from frostalert.errors import (
    ForecastFormatError,
    ForecastRejectedError,
    ForecastUnavailableError,
    UsageError,
)
from frostalert.forecast.previous_runs import (
    parse_previous_runs,
    parse_reanalysis,
)
from frostalert.model.past import PastFacts, SpringSpan, TruthKind
from frostalert.model.secret import Secret
from frostalert.model.settings import Settings
from frostalert.past.spans import nights_of
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from frostalert.transport import HttpSession
from tests.support.archives import Played, archive_server, past_section
from tests.support.configs import config_text
from tests.support.holdings import make_block, make_holding
from tests.support.servers import HttpServer, Reply, Seen
from tests.support.springs import (
    Springs,
    file_of,
    invented_springs,
    station_of,
)

NOW = datetime(2025, 9, 1, 12, tzinfo=UTC)
SPAN = SpringSpan(date(2025, 3, 1), date(2025, 4, 29))
PLACE = (46.2205, -119.2412)


@pytest.fixture
def springs() -> Springs:
    return invented_springs([2025])


class Look:
    """One look at archives, with a state of its own."""

    def __init__(self, folder: Path, server: HttpServer, more: str = "") -> None:
        self.folder = folder
        text = config_text(more=past_section(server.url, more))
        text = text.replace("[forecast]", '[forecast]\nsources = ["open-meteo"]')
        self.settings: Settings = parse_settings(
            text, folder / "frostalert.toml", needs_secrets=False
        )
        self.store: StateStore = open_store(folder)
        self.slept: list[float] = []
        self.shares: list[float] = []

    def archives(self, *spans: SpringSpan, now: datetime = NOW) -> Archives:
        session = HttpSession("test", sleep=lambda _: None)
        return archives_of(self.settings, session, spans or (SPAN,), now)

    def gather(self, *spans: SpringSpan, now: datetime = NOW) -> PastFacts:
        archives = self.archives(*spans, now=now)
        asking = Asking(
            shelf=self.store,
            now_utc=now,
            total=archives.total,
            needs=archives.needs,
            on_progress=self.shares.append,
            sleep=self.slept.append,
        )
        return gather(archives, asking, ())


@pytest.fixture
def open_look(tmp_path: Path, request: pytest.FixtureRequest) -> Callable[..., Look]:
    def made(played: Played, more: str = "") -> Look:
        context = archive_server(played)
        server = context.__enter__()
        look = Look(tmp_path, server, more)

        def close() -> None:
            look.store.database.close()
            context.__exit__(None, None, None)

        request.addfinalizer(close)
        return look

    return made


def forecast_requests(seen: list[Seen]) -> int:
    return sum("/v1/forecast" in item.path for item in seen)


def test_each_lead_is_read_as_the_archive_has_it(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    springs.played.stations = [station_of(springs)]
    look = open_look(springs.played)
    [archive] = look.gather().archives[SPAN]
    assert set(archive) == {0, 1, 2, 3}
    for lead, run in archive.items():
        known = springs.played.leads[lead]["temperature_2m"]
        offset = (run.hours.first_utc - springs.played.first) // timedelta(hours=1)
        wanted = [v for v in known[offset : offset + run.hours.count] if v is not None]
        assert run.hours.air_c[: len(wanted)] == pytest.approx(wanted)
        assert "previous runs" in run.source_title
    assert np.isfinite(archive[1].hours.dewpoint_c).all()
    assert not np.isfinite(archive[0].hours.wind_mps).any()


def test_it_is_asked_in_pieces_of_two_weeks_and_only_once(
    springs: Springs, tmp_path: Path
) -> None:
    springs.played.stations = [station_of(springs)]
    with archive_server(springs.played) as server:
        look = Look(tmp_path, server)
        first = look.gather()
        asked = len(server.seen)
        # 31 December to 1 May in pieces of 14 days, the stations, one station's days.
        assert forecast_requests(server.seen) == 9
        assert asked == 11
        assert look.shares[-1] == 1.0
        assert len(look.slept) == asked
        again = look.gather()
        assert len(server.seen) == asked
        assert again.truth == first.truth
        look.store.database.close()


def test_nothing_is_asked_beyond_what_archives_hold_yet(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    look = open_look(springs.played)
    now = datetime(2025, 3, 20, 12, tzinfo=UTC)
    span = SpringSpan(date(2025, 2, 1), date(2025, 3, 19))
    days = look.archives(span, now=now).days[span]
    assert days[-1][1] == date(2025, 3, 19)
    assert all(first <= last for first, last in days)


def test_what_broke_off_goes_on_where_it_was(springs: Springs, tmp_path: Path) -> None:
    springs.played.stations = [station_of(springs)]
    with archive_server(springs.played) as server:
        look = Look(tmp_path, server)
        third = look.archives().days[SPAN][3][0]
        springs.played.replies = [(f"start_date={third}", Reply(503))] * 3
        with pytest.raises(ForecastUnavailableError) as caught:
            look.gather()
        words = str(caught.value)
        assert "9 answers" in words
        assert "127.0.0.1" in words
        assert "goes on from there" in words
        before = forecast_requests(server.seen)
        look.gather()
        # Three were there; the fourth was tried three times.
        assert forecast_requests(server.seen) - before == 9 - 3
        look.store.database.close()


def test_what_may_still_grow_is_asked_for_again(
    springs: Springs, tmp_path: Path
) -> None:
    springs.played.stations = [station_of(springs)]
    now = datetime(2025, 5, 2, 12, tzinfo=UTC)
    with archive_server(springs.played) as server:
        look = Look(tmp_path, server)
        look.gather(now=now)
        before = len(server.seen)
        look.gather(now=now)
        # The newest piece, and what the stations have of the last days.
        assert forecast_requests(server.seen[before:]) == 1
        assert len(server.seen) - before == 3
        look.store.database.close()


def limit(words: str) -> Reply:
    return Reply(429, json.dumps({"error": True, "reason": words}))


def test_a_limit_of_a_minute_is_waited_out(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    springs.played.stations = [station_of(springs)]
    words = "Minutely API request limit exceeded. Please try again in one minute."
    springs.played.replies = [("/v1/forecast", limit(words))] * 4
    look = open_look(springs.played)
    facts = look.gather()
    assert len(facts.truth.lows_c) > 40
    assert [wait for wait in look.slept if wait > 60.0] == [61.0]


def test_a_limit_of_a_day_ends_it_with_what_is_needed(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    words = "Daily API request limit exceeded. Please try again tomorrow."
    springs.played.replies = [("/v1/forecast", limit(words))] * 3
    look = open_look(springs.played)
    with pytest.raises(ForecastUnavailableError, match="Daily API request limit"):
        look.gather()
    assert not [wait for wait in look.slept if wait > 60.0]


def test_an_error_that_says_200_is_not_kept(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    body = json.dumps({"error": True, "reason": "Cannot initialize Variable"})
    springs.played.replies = [("/v1/forecast", Reply(200, body))]
    look = open_look(springs.played)
    with pytest.raises(ForecastRejectedError, match="Cannot initialize"):
        look.gather()
    springs.played.stations = [station_of(springs)]
    assert look.gather().archives[SPAN]


def test_days_from_before_the_archive_are_a_gap(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    for lead, columns in springs.played.leads.items():
        if lead:
            for values in columns.values():
                until = (datetime(2025, 3, 20, tzinfo=UTC) - springs.played.first).days
                values[: until * 24] = [None] * (until * 24)
    springs.played.stations = [station_of(springs)]
    [archive] = open_look(springs.played).gather().archives[SPAN]
    first = archive[1].hours.first_utc + timedelta(
        hours=int(np.flatnonzero(np.isfinite(archive[1].hours.air_c))[0])
    )
    assert first == datetime(2025, 3, 20, tzinfo=UTC)


def test_an_answer_for_another_place_is_refused(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    springs.played.latitude = 51.0
    with pytest.raises(ForecastFormatError, match="km away"):
        open_look(springs.played).gather()


def test_the_key_of_a_subscription_is_sent_and_shown_to_nobody(
    springs: Springs, tmp_path: Path
) -> None:
    springs.played.replies = [
        ("/v1/forecast", Reply(400, '{"error": true, "reason": "bad k3y-abc"}'))
    ]
    with archive_server(springs.played) as server:
        look = Look(tmp_path, server)
        sources = replace(look.settings.sources, open_meteo_key=Secret("k3y-abc"))
        look.settings = replace(look.settings, sources=sources)
        with pytest.raises(ForecastRejectedError) as caught:
            look.gather()
        assert "apikey=k3y-abc" in server.seen[0].path
        assert "k3y" not in str(caught.value)
        look.store.database.close()


@pytest.mark.parametrize(
    "hours",
    [None, {}, {"time": ["soon"], "temperature_2m": [1.0]}, {"time": []}],
    ids=["none", "empty", "no time", "no hours"],
)
def test_what_is_no_archive_is_refused(hours: object) -> None:
    body = json.dumps({"latitude": 46.2, "longitude": -119.2, "hourly": hours})
    try:
        found = parse_previous_runs(body)
    except ForecastFormatError:
        return
    assert found == {}


@pytest.mark.parametrize("body", ["", "<html>", "[]", '"x"', "{}", "null", "[[[[["])
def test_what_is_no_answer_of_a_station_is_refused(body: str) -> None:
    with pytest.raises(ForecastFormatError):
        parse_near(body, PLACE)
    if body not in ("", "[]"):
        with pytest.raises(ForecastFormatError):
            parse_days(body, "USC00450001")
    with pytest.raises(ForecastFormatError):
        parse_reanalysis(body)


def test_the_nearest_station_counts_and_is_told(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    far = station_of(springs, identifier="USC00459999", north_deg=0.4)
    near = station_of(springs, north_deg=0.1, elevation_m=325.0)
    springs.played.stations = [far, near]
    truth = open_look(springs.played).gather().truth
    assert truth.kind is TruthKind.STATION
    assert "USC00450001" in truth.name
    assert truth.distance_km == pytest.approx(11.1, abs=0.1)
    assert truth.above_m == pytest.approx(200.0, abs=0.5)
    nights = set(nights_of(SPAN))
    assert set(truth.lows_c) <= nights
    assert len(truth.lows_c) > 50
    for night, low in truth.lows_c.items():
        assert low == pytest.approx(springs.came_c[night], abs=0.06)


def test_a_station_whose_day_ends_in_the_morning_belongs_to_the_night_before(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    springs.played.stations = [station_of(springs, morning=True)]
    truth = open_look(springs.played).gather().truth
    assert any("7 in the morning" in note for note in truth.notes)
    # A morning that stayed cold in its book for two days counts once.
    assert truth.left_out > 3
    off = [abs(low - springs.came_c[night]) for night, low in truth.lows_c.items()]
    assert len(off) > 35
    assert np.median(off) < 0.06
    assert max(off) < 1.6


def test_a_station_with_other_weather_is_left_out_with_its_reason(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    stranger = station_of(springs, identifier="USC00450002", north_deg=0.05)
    random = np.random.default_rng(9)
    stranger.minimums_c = {
        day: round(float(random.normal(0.0, 6.0)), 1) for day in stranger.minimums_c
    }
    springs.played.stations = [stranger, station_of(springs)]
    truth = open_look(springs.played).gather().truth
    assert "USC00450001" in truth.name
    assert any("USC00450002" in n and "apart" in n for n in truth.notes)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda s: setattr(s, "answers_as", "USC00456666"), "not of USC00450002"),
        (lambda s: setattr(s, "minimums_c", {}), "minimums of 0 days"),
        (
            lambda s: setattr(s, "flags", dict.fromkeys(s.minimums_c, "I")),
            "minimums of 0 days",
        ),
        (lambda s: setattr(s, "latitude", s.latitude + 3.0), ""),
    ],
    ids=["another's days", "no days", "all doubted", "far away"],
)
def test_a_wrong_station_is_left_out(
    springs: Springs,
    open_look: Callable[..., Look],
    spoil: Callable[[object], None],
    words: str,
) -> None:
    wrong = station_of(springs, identifier="USC00450002", north_deg=0.02)
    spoil(wrong)
    springs.played.stations = [wrong, station_of(springs)]
    truth = open_look(springs.played).gather().truth
    assert "USC00450001" in truth.name
    if words:
        assert any("USC00450002" in n and words in n for n in truth.notes)


def test_a_station_that_is_named_is_taken(springs: Springs, tmp_path: Path) -> None:
    springs.played.stations = [
        station_of(springs),
        station_of(springs, identifier="USC00459999", north_deg=0.4),
    ]
    with archive_server(springs.played) as server:
        look = Look(tmp_path, server, 'station = "USC00459999"')
        truth = look.gather().truth
        assert "USC00459999" in truth.name
        assert not any("search" in item.path for item in server.seen)
        look.store.database.close()


def test_without_any_station_a_reanalysis_is_the_last_resort(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    springs.played.reanalysis = springs.played.leads[0]["temperature_2m"]
    truth = open_look(springs.played).gather().truth
    assert truth.kind is TruthKind.REANALYSIS
    assert any("no station within 60 km" in note for note in truth.notes)
    assert len(truth.lows_c) > 50


def test_a_spring_that_no_archive_holds_has_no_low_and_no_forecast(
    open_look: Callable[..., Look],
) -> None:
    empty = Played(first=datetime(2025, 1, 1, tzinfo=UTC), leads={})
    facts = open_look(empty).gather()
    assert facts.truth.lows_c == {}
    assert facts.archives[SPAN] == ({},)


def test_a_search_that_answers_otherwise_than_thought_is_said(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    springs.played.reanalysis = springs.played.leads[0]["temperature_2m"]
    springs.played.replies = [("search", Reply(404))]
    truth = open_look(springs.played).gather().truth
    assert any("no station could be looked up" in note for note in truth.notes)


def test_stations_that_cannot_be_asked_end_it_for_now(
    springs: Springs, open_look: Callable[..., Look]
) -> None:
    springs.played.replies = [("search", Reply(503))] * 3
    with pytest.raises(ForecastUnavailableError, match="503"):
        open_look(springs.played).gather()


def test_one_s_own_file_comes_before_any_station(
    springs: Springs, tmp_path: Path
) -> None:
    springs.played.stations = [station_of(springs)]
    (tmp_path / "old.csv").write_text(file_of(springs.came_c))
    more = 'csv = "old.csv"\nunit = "degC"\ntime_column = "date"\nvalue_column = "Low"'
    with archive_server(springs.played) as server:
        look = Look(tmp_path, server, more)
        facts = look.gather()
        assert facts.truth.kind is TruthKind.OWN
        assert not any("services" in item.path for item in server.seen)
        assert "NOAA" not in look.archives().needs
        look.store.database.close()
    night = date(2025, 3, 9)
    assert facts.truth.lows_c[night] == pytest.approx(springs.came_c[night], abs=0.06)
    assert facts.without_archive == ()


def test_a_file_of_few_nights_gives_way_to_a_station_and_it_is_said(
    springs: Springs, tmp_path: Path
) -> None:
    springs.played.stations = [station_of(springs)]
    (tmp_path / "old.csv").write_text(file_of(springs.came_c, nights_of(SPAN)[:9]))
    more = 'csv = "old.csv"\nunit = "degC"\ntime_column = "date"\nvalue_column = "Low"'
    with archive_server(springs.played) as server:
        look = Look(tmp_path, server, more)
        truth = look.gather().truth
        look.store.database.close()
    assert truth.kind is TruthKind.STATION
    assert "9 nights: too few" in truth.notes[0]


COLUMNS = Columns(
    time="time",
    value="value",
    sensor="sensor",
    unit="degF",
    zone=ZoneInfo("America/Los_Angeles"),
)


@pytest.mark.parametrize(
    ("text", "columns"),
    [
        ("time,sensor,value\n2025-04-12T06:10-07:00,Post,28.4\n", COLUMNS),
        ("sensor,value,time\nPost,28.4,2025-04-12 06:10\n", COLUMNS),
        (
            "Date;Low\r\n04/12/2025 06:10 AM;28.4\r\n",
            replace(COLUMNS, time="date", value="low", time_format="%m/%d/%Y %I:%M %p"),
        ),
        ("TIME\tValue\n2025-04-12T13:10Z\t28.4\n", COLUMNS),
        (
            "time,sensor,value\n2025-04-12T06:10-07:00,Post,28.4\n"
            "2025-04-12T06:10-07:00,Cellar,50\n",
            replace(COLUMNS, sensors=frozenset({"Post"})),
        ),
    ],
    ids=["as readings", "local time", "own columns", "tabs", "one of two"],
)
def test_a_file_of_any_columns_is_read(text: str, columns: Columns) -> None:
    found = parse_old(text, columns, "old.csv")
    assert found.readings == ((datetime(2025, 4, 12, 13, 10, tzinfo=UTC), -2.0),)
    assert not found.problems


def test_a_line_a_day_is_read_by_its_morning() -> None:
    text = "time,value\n2025-04-12,28.4\n2025-04-13,\n2025-04-14,frost\n"
    found = parse_old(text, COLUMNS, "old.csv")
    assert found.mornings == {date(2025, 4, 12): -2.0}
    [problem] = found.problems
    assert problem.startswith("line 4")
    form = replace(COLUMNS, time_format="%d.%m.%Y")
    text = "time,value\n12.04.2025,28.4\n"
    assert parse_old(text, form, "x").mornings == {date(2025, 4, 12): -2.0}


def test_a_column_that_is_not_there_is_told_with_those_that_are() -> None:
    with pytest.raises(UsageError, match=r"no column time.*Date, Low.*time_column"):
        parse_old("Date,Low\n2025-04-12,28.4\n", COLUMNS, "old.csv")


def test_the_reference_s_own_readings_are_the_file_unless_another_is_named(
    tmp_path: Path,
) -> None:
    more = (
        '\n[[sensors]]\nname = "Post"\nkind = "reference"\n\n[readings]\n'
        'csv = "now.csv"\nunit = "degC"\n'
    )
    settings = parse_settings(
        config_text(more=more), tmp_path / "f.toml", needs_secrets=False
    )
    found = own_file(settings)
    assert found is not None
    assert found[0].name == "now.csv"
    assert (found[1].sensors, found[1].unit) == (frozenset({"Post"}), "degC")


FARM = make_holding(make_block("Lane", "apple"), make_block("Wall", "apple"))


def test_a_crop_s_stage_stands_for_all_its_blocks() -> None:
    text = "block,stage,seen\nLane,Full Bloom,2025-04-18\napple,post bloom,2025-04-27\n"
    found = parse_stages(text, FARM, "f")
    assert [(s.block, s.stage, s.seen.day) for s in found] == [
        ("Lane", "full bloom", 18),
        ("Lane", "post bloom", 27),
        ("Wall", "post bloom", 27),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a,b\n1,2\n", "first line must be block,stage,seen"),
        ("block,stage,seen\nHill,full bloom,2025-04-18\n", 'no block or crop "Hill"'),
        ("block,stage,seen\nLane,full blom,2025-04-18\n", 'write "full bloom"'),
        ("block,stage,seen\nLane,full bloom,18 April\n", "line 2"),
    ],
)
def test_a_file_of_stages_that_is_wrong_is_told_line_by_line(
    text: str, words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        parse_stages(text, FARM, "--crop-stages f")
