"""Decisions that follow within seconds: people hear of a night once, and in full."""

import re
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from frostalert.agronomy.methods import METHODS
from frostalert.cycle.cycle import run_cycle
from frostalert.forecast.file_source import FileSource
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import NightHistory, Reason
from frostalert.ports import Fetched, ForecastSource, SourceMemory
from frostalert.store.open import open_store
from tests.adapters.test_nws import Office
from tests.scenario.test_service import WARM, Place
from tests.scenario.test_taken_back import AFTERNOON, BY_FIRES, FIRES, Night
from tests.support.holdings import INES
from tests.support.mails import everything
from tests.support.plans import (
    APRICOTS,
    HEATERS,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    planting,
)
from tests.support.servers import http_server

BY_HEATERS = replace(APRICOTS, methods=(METHODS["propane heaters"],))
TOBIAS = replace(INES, name="Tobias", phone="+15095550177", turn=2)
EVENING, START_HOUR = timedelta(hours=10), timedelta(hours=11, minutes=55)
MINUTE, SETTLED = timedelta(minutes=1), timedelta(minutes=5)
FIRES_AND_HEATERS = (
    r"Fires x 13 in .* by 3:0{}am, sooner at \d+ F\. Heaters .* by 3:0{}am, sooner at"
)
COLDER, MUCH_COLDER = {"low_c": -4.2}, {"low_c": -5.0}


def two_heats(folder: Path) -> Night:
    """A night with fires and heaters that must be lit at the same hour."""
    farm = planting(BY_FIRES, BY_HEATERS, equipment=(FIRES, HEATERS))
    night = Night(farm=farm, folder=folder, store=open_store(folder))
    night.look(AFTERNOON)
    return night


def called(folder: Path) -> Night:
    """The same, once people were called to both starts; the call waits to be sent."""
    night = two_heats(folder)
    night.look(EVENING)
    text = night.look(START_HOUR)[ChannelKind.SMS].text
    assert night.why[-1] is Reason.START_IS_DUE
    assert re.search(FIRES_AND_HEATERS.format(4, 4), text)
    return night


def history(night: Night) -> NightHistory:
    """What the state remembers of the night."""
    return min(
        night.store.night_histories(TWO_IN_THE_AFTERNOON).values(),
        key=lambda item: item.night,
    )


def waiting(night: Night, person: str) -> list[str]:
    """Texts to a person about the night that wait to be sent."""
    rows = night.store.unsent(TWO_IN_THE_AFTERNOON + START_HOUR, is_forced=True)
    return [
        row.message.text
        for row in rows
        if row.message.person == person
        and row.message.channel is ChannelKind.SMS
        and row.message.night == history(night).night
    ]


def test_a_forecast_that_follows_a_call_by_a_minute_is_told_when_that_has_settled(
    tmp_path: Path,
) -> None:
    night = called(tmp_path)
    before = history(night)
    for wait in (MINUTE, 3 * MINUTE):
        assert ChannelKind.SMS not in night.look(START_HOUR + wait, **MUCH_COLDER)
    assert night.why[-2:] == 2 * [Reason.JUST_CALLED]
    # What people were told is what it was, also for a program that died meanwhile.
    assert history(night).told_low_c == before.told_low_c
    told = night.look(START_HOUR + SETTLED, **MUCH_COLDER)
    assert night.why[-1] is Reason.GOT_WORSE
    assert "Worse than last told" in everything(told[ChannelKind.EMAIL])


@pytest.mark.parametrize("forecast", [COLDER, MUCH_COLDER], ids=["prepare", "act"])
def test_a_message_that_takes_an_unsent_calls_place_carries_its_starts(
    tmp_path: Path, forecast: dict[str, float]
) -> None:
    night = called(tmp_path)
    night.look(START_HOUR + SETTLED, **forecast)
    assert night.why[-1] is Reason.GOT_WORSE
    # The first call was never sent: this text is all that people get.
    [text] = waiting(night, "Ines")
    assert text.startswith("START NOW")
    assert "Fires x 12 in Cherries at once. Heaters x 12 in Apricots at once." in text


def test_what_got_worse_at_the_hour_of_a_start_is_one_message(tmp_path: Path) -> None:
    night = two_heats(tmp_path)
    text = night.look(START_HOUR, **COLDER)[ChannelKind.SMS].text
    assert night.why[-1] is Reason.GOT_WORSE
    assert text.startswith("START NOW")
    assert "Fires " in text
    assert "Heaters " in text
    for n in range(1, 11):
        assert ChannelKind.SMS not in night.look(START_HOUR + n * MINUTE, **COLDER)


def test_starts_that_are_minutes_apart_are_one_call(tmp_path: Path) -> None:
    # A tenth of a degree colder: their start is four minutes before the fires'.
    colder = replace(BY_HEATERS, cold_spot_delta_c=-0.1)
    farm = planting(BY_FIRES, colder, equipment=(FIRES, HEATERS))
    night = Night(farm=farm, folder=tmp_path, store=open_store(tmp_path))
    night.look(AFTERNOON)
    night.look(EVENING)
    texts = [
        message.text
        for n in range(40)
        for kind, message in night.look(START_HOUR + (n - 20) * MINUTE).items()
        if kind is ChannelKind.SMS
    ]
    assert [text[:9] for text in texts] == ["START NOW"]
    assert "Fires " in texts[0]
    assert "Heaters " in texts[0]


def test_what_a_starts_call_says_of_the_night_is_not_said_again_as_worse(
    tmp_path: Path,
) -> None:
    night = two_heats(tmp_path)
    # Told -3.0; at the start -3.9, which is no step; then -4.1, a step below the first.
    night.look(EVENING)
    night.look(START_HOUR, low_c=-3.9)
    again = night.look(START_HOUR + 2 * SETTLED, low_c=-4.1)
    assert ChannelKind.SMS not in again
    assert night.why[-2:] == [Reason.START_IS_DUE, Reason.ALREADY_TOLD]


def test_who_is_called_next_has_one_call_where_a_start_is_due_in_that_minute(
    tmp_path: Path,
) -> None:
    night = two_heats(tmp_path)
    night.farm = replace(night.farm, people=(INES, TOBIAS))
    # Nobody has answered since the afternoon, and the hour of the starts has come.
    night.look(START_HOUR)
    assert waiting(night, "Tobias") == []
    night.look(START_HOUR + MINUTE)
    assert night.why[-2:] == [Reason.START_IS_DUE, Reason.NOBODY_ANSWERED]
    # Each one's own job comes first.
    for person, first, second in (
        ("Ines", "Fires", "Heaters"),
        ("Tobias", "Heaters", "Fires"),
    ):
        # The afternoon's word tells Ines of later nights too, and waits still.
        [text] = [text for text in waiting(night, person) if "GET READY" not in text]
        assert text.startswith("START NOW")
        assert re.search(
            rf"{first} x \d+ in .* by 3:04am, .*{second} x \d+ in .* by 3:04am", text
        )


def test_the_next_ones_unsent_call_is_replaced_by_one_that_names_the_starts(
    tmp_path: Path,
) -> None:
    night = called(tmp_path)
    night.farm = replace(night.farm, people=(INES, TOBIAS))
    night.look(START_HOUR + SETTLED)
    night.look(START_HOUR + SETTLED + MINUTE, **MUCH_COLDER)
    assert night.why[-2:] == [Reason.NOBODY_ANSWERED, Reason.GOT_WORSE]
    [text] = waiting(night, "Tobias")
    assert "Fires " in text
    assert "Heaters " in text


def test_who_is_listed_in_the_minute_of_passing_on_hears_a_minute_later(
    tmp_path: Path,
) -> None:
    night = two_heats(tmp_path)
    mara = replace(INES, name="Mara", email="mara@heron-bench.example", phone=None)
    mara = replace(mara, channels=(ChannelKind.EMAIL,))
    night.farm = replace(night.farm, people=(INES, mara, TOBIAS))
    path = tmp_path / "grid.json"
    now = TWO_IN_THE_AFTERNOON + EVENING
    path.write_text(night_grid(updated=now))
    found = run_cycle(night.farm, [FileSource(path)], night.store, now).decision
    assert found.nights[0].why is Reason.NOBODY_ANSWERED
    assert found.next_look_utc <= now + MINUTE
    night.look(EVENING + MINUTE)
    assert night.why[-1] is Reason.NEWLY_LISTED


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    office = Office()
    with http_server(office) as server:
        made = Place(tmp_path, office, server)
        made.clock.step(hours=9)  # 15:00 local; the send-by time is 15:40
        made.forecast()
        made.service.fetch()
        made.clock.step(minutes=40, seconds=30)
        yield made
        made.store.database.close()


def test_an_edit_goes_into_the_look_of_its_moment(place: Place) -> None:
    # By the stage that stood there until now it would be "prepare".
    text = place.path.read_text()
    place.path.write_text(text.replace('"full bloom"', '"first white"'))
    place.service.look()
    [seen] = [block.stage for block in place.service.settings.farm.blocks]
    assert seen == "first white"
    told = place.kinds()
    place.service.reload()
    place.service.look()
    assert place.kinds() == told


def test_a_fetch_that_is_due_decides_instead_of_the_look(place: Place) -> None:
    place.clock.step(minutes=19, seconds=35)  # the hour of the next fetch, and 5 s
    place.forecast(air_c=WARM)
    before = place.kinds()
    place.service.look()
    assert place.kinds() == before
    place.service.fetch()
    place.service.look()
    assert "prepare" not in place.kinds()


@pytest.mark.parametrize("seconds", [15, -10], ids=["nobody fetches", "set back"])
def test_a_look_waits_for_a_fetch_that_does_not_come_for_seconds_only(
    place: Place, seconds: int
) -> None:
    place.clock.step(minutes=19, seconds=35)
    place.service.look()
    assert "prepare" not in place.kinds()
    place.clock.step(seconds=seconds)
    place.service.look()
    assert "prepare" in place.kinds()


class Slow:
    """The source, in the middle of an answer until it is let go on."""

    def __init__(self, source: ForecastSource) -> None:
        self.name = source.name
        self.source = source
        self.begun, self.may_end = threading.Event(), threading.Event()

    def fetch(self, memory: SourceMemory, now_utc: datetime) -> Fetched:
        self.begun.set()
        assert self.may_end.wait(20.0)
        return self.source.fetch(memory, now_utc)


def test_a_fetch_that_hangs_holds_a_look_up_for_seconds_only(place: Place) -> None:
    place.clock.step(minutes=25)
    [source] = place.service._parts.sources
    slow = Slow(source)
    place.service._parts.sources[0] = slow
    fetching = threading.Thread(target=place.service.fetch)
    fetching.start()
    try:
        assert slow.begun.wait(20.0)
        place.service.look()
        place.clock.step(seconds=10)
        place.service.look()
        assert "prepare" not in place.kinds()
        place.clock.step(seconds=5)
        place.service.look()
        assert "prepare" in place.kinds()
    finally:
        slow.may_end.set()
        fetching.join(20.0)
